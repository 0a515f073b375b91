"""Causes of trouble and what to do about each.

Acts are those of the diagnosis table whose sources stand in facts/symptoms.csv; amounts and waits
without a source there are common practice. Never a promise; people come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bedlore.decide.cautions import DUST, ELECTRIC, HANDS, MANURE, NO_BURNING
from bedlore.say import say


@dataclass(frozen=True)
class CauseWords:
    """``name`` in a sentence, ``act`` what to do now, ``later`` when to look again."""

    name: str
    act: str
    later: str
    cautions: tuple[str, ...] = (HANDS,)


AMMONIA_AIR = say(
    "Sharp air stings eyes and lungs: open the door, stand back until it has cleared, and do not"
    " bend over the bed. A closed room that stings is left alone until it is aired."
)
CAUSES: Mapping[str, CauseWords] = {
    "overfed": CauseWords(
        say("too much food"),
        say("No food for a week or more. Break lumps, loosen, lay dry card over it."),
        say("Look in four days; feed half a meal when most of it is gone."),
    ),
    "wet": CauseWords(
        say("too wet, too little air"),
        say(
            "Loosen it gently, lay torn dry card over and between, lift the"
            " cover, clear air holes. No wet food."
        ),
        say("Squeeze a handful again in three days."),
        (HANDS, DUST),
    ),
    "dry": CauseWords(
        say("too dry"),
        say("Sprinkle water a little at a time, add soaked and wrung bedding, cover it."),
        say("Squeeze a handful tomorrow: it should hold together and shine."),
    ),
    "sour": CauseWords(
        say("soured by bread, meal or sugar"),
        say(
            "Take the food out. Fresh damp bedding under and beside"
            " it, so that worms can leave. Dust very lightly with chalk (calcium carbonate); never"
            " hydrated lime."
        ),
        say("Resume with a quarter of a meal when it smells of earth."),
        (HANDS, DUST),
    ),
    "ammonia": CauseWords(
        say("too much nitrogen: fresh manure or a rich lump"),
        say(
            "Take the source out, mix dry card into"
            " what is left, open it to the air, sprinkle lightly."
        ),
        say("No food for a week or two; smell again in three days."),
        (AMMONIA_AIR, MANURE, HANDS),
    ),
    "hot": CauseWords(
        say("heating up"),
        say(
            "Open the hot spot and spread it no deeper than 10 cm; shade, lid up, a"
            " wrapped ice pack on the cover; leave a cool corner to flee to. No food. Heat mat off."
        ),
        say("Thermometer again in two hours, then tonight."),
        (HANDS, ELECTRIC),
    ),
    "cold": CauseWords(
        say("too cold"),
        say(
            "Do not dig. Cover thickly, insulate from outside, feed nothing until it is"
            " above 8 degC inside."
        ),
        say(
            "Cocoons often outlast a frost: count again four weeks after it"
            " has warmed before you give it up."
        ),
        (NO_BURNING, ELECTRIC),
    ),
    "bare_food": CauseWords(
        say("food lying open"),
        say(
            "Bury or cover the food, 5 cm of damp card on top; freeze scraps before"
            " feeding; a jar of vinegar with a drop of soap beside the bed."
        ),
        say("Flies thin out in about two weeks."),
    ),
    "wet_top": CauseWords(
        say("a wet top"),
        say(
            "Let the top dry: cover off by day, a thin layer of dry card or coarse sand,"
            " water only from below."
        ),
        say("Look in a week."),
        (HANDS, DUST),
    ),
    "new_bed": CauseWords(
        say("worms settling into a new bed"),
        say(
            "A lamp outside over the open lid for two nights; leave the bed alone, no more food."
        ),
        say(
            "If they still leave on the third night, look for a fault: squeeze, smell, thermometer."
        ),
        (ELECTRIC,),
    ),
    "nest": CauseWords(
        say("ants after the food"),
        say(
            "Stand the legs in water, damp the bed, move sweet food. No ant"
            " bait or poison in or near the bed."
        ),
        say("Look in three days."),
    ),
    "meat": CauseWords(
        say("meat, dairy or fat in the food"),
        say(
            "Take it out with a trowel, bury it elsewhere or bin it, fill the hole with dry card."
        ),
        say("Look in three days."),
    ),
    "acid": CauseWords(
        say("acid: citrus or fruit"),
        say(
            "Take citrus and fruit out, add damp card, dust lightly with"
            " chalk (calcium carbonate) or ground shell; never hydrated lime."
        ),
        say("Test strip again in a week."),
        (HANDS, DUST),
    ),
    "drain": CauseWords(
        say("blocked drain"),
        say(
            "Open the drain, tilt the bed a little, lift the wet base to let air in,"
            " dry card on top. Keep what runs out off anything eaten raw."
        ),
        say("Look at the pail in two days."),
    ),
    "raided": CauseWords(
        say("something eats the worms or the food"),
        say(
            "Close gaps with mesh, latch the lid, look under boards for flatworms and"
            " centipedes. No poison near the bed. Bodies rot within days, so finding none proves"
            " little."
        ),
        say("Look in a week."),
        (HANDS, MANURE),
    ),
    "worked_out": CauseWords(
        say("worked out: hungry or crowded"),
        say(
            "Take castings, give fresh bedding and a meal; split the"
            " bed when a handful holds more worms than bedding."
        ),
        say("Look for cocoons in four weeks."),
    ),
    "salt": CauseWords(
        say("salt"),
        say(
            "Take the salty food out, fresh damp bedding beside it, rinse with a little water"
            " where the drain is open."
        ),
        say("Look tomorrow."),
    ),
    "soldier": CauseWords(
        say("larvae of soldier flies"),
        say(
            "They do worms no harm but warm the bed and eat the food. Pick"
            " them out, feed less, cover the food."
        ),
        say("Thermometer in two days."),
    ),
    "residue": CauseWords(
        say("wormer or spray in the manure"),
        say(
            "Take the manure out, move worms that are left to fresh"
            " bedding, keep the manure apart. Ask the farmer what was given and when; ask a vet."
        ),
        say("Try a new load on 20 worms in a jar for two days first."),
        (MANURE, HANDS),
    ),
    "thermometer": CauseWords(
        say("the thermometer"),
        say(
            "Set it in ice water (0 degC) for five minutes, change the battery,"
            " put it back at the same depth. Go by your hand until then."
        ),
        say("Compare once more tomorrow."),
        (),
    ),
}

USUAL = CauseWords(
    say("nothing amiss: what lives in every bed"),
    say("Leave it. Feed a little less and look again."),
    say("Look in a week."),
)
# Right for almost any bed before anything is known; nothing here is hard to undo.
CAREFUL = (
    say("Stop feeding for a week. A hungry bed waits; an overfed one does not."),
    say("Open the lid and let air in. Loosen only the top, gently."),
    say(
        "Squeeze a handful from hand's depth. If it runs: dry torn card on top. If it falls apart:"
        " sprinkle water, a cup at a time."
    ),
    say(
        "If it is hot to the hand: open the hot spot, spread it thin, shade the bed, lift the lid."
    ),
    say("If it is frozen: do not dig; cover it and wait."),
    say("If worms leave: a lamp outside, over the open lid, for two nights."),
    say("No lime, no poison, no ant bait, no bleach."),
    say("Write down what you saw. Look again in three days."),
)
PEOPLE = (HANDS, DUST, AMMONIA_AIR, ELECTRIC)
