"""What is seen in a bed, as a keeper calls it, asks for it and finds it out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bedlore.say import say


@dataclass(frozen=True)
class FindingWords:
    """``name`` on the list, ``question`` when it is asked for, ``how`` to find out."""

    name: str
    question: str
    how: str = ""


STRIPS = say("Wet the strip with water squeezed from a handful; wear gloves.")

FINDINGS: Mapping[str, FindingWords] = {
    "rotten": FindingWords(
        say("Smells rotten"), say("Does it smell rotten, like a ditch or old eggs?")
    ),
    "sharp": FindingWords(
        say("Smells sharp, stings"),
        say("Does it smell sharp, like ammonia?"),
        say("Wave the air towards you from arm's length; never bend over it."),
    ),
    "sour_smell": FindingWords(
        say("Smells sour"), say("Does it smell sour, like vinegar or beer?")
    ),
    "climbing": FindingWords(
        say("Worms climb or leave"),
        say("Do worms climb the walls or leave?"),
        say("Look at lid, walls and floor, best after dark."),
    ),
    "dying": FindingWords(
        say("Worms limp or dead"), say("Are there limp, thin or dead worms?")
    ),
    "pale": FindingWords(
        say("Small, pale worms"), say("Are the worms small and pale, with few cocoons?")
    ),
    "fewer": FindingWords(
        say("Fewer worms, no bodies"), say("Are there far fewer worms, but no bodies?")
    ),
    "fruit_flies": FindingWords(
        say("Fruit flies"), say("Do small tan flies rise from the food?")
    ),
    "gnats": FindingWords(
        say("Small black flies"), say("Do small black flies run over the surface?")
    ),
    "maggots": FindingWords(
        say("Maggots"), say("Are there maggots or other larvae in the food?")
    ),
    "red_mites": FindingWords(
        say("Red or brown mites"),
        say("Are there crowds of red or brown mites?"),
        say("Lay a melon rind or a slice of bread for a night and count on it."),
    ),
    "pale_mites": FindingWords(
        say("White mites"), say("Are there crowds of slow white mites?")
    ),
    "springtails": FindingWords(
        say("White specks that jump"), say("Are there white specks that jump?")
    ),
    "potworms": FindingWords(
        say("Thin white worms"), say("Are there tangles of thin white worms?")
    ),
    "ants": FindingWords(say("Ants"), say("Are there ants in the bed?")),
    "water": FindingWords(
        say("Standing water"), say("Does water stand in the bed or run from it?")
    ),
    "crumbly": FindingWords(
        say("Dry, crumbly"),
        say("Does a squeezed handful fall apart?"),
        say("Take it from hand's depth, not from the top."),
    ),
    "heat": FindingWords(
        say("Hot or steaming"),
        say("Is it hot to the hand, or above 30 degC inside?"),
        say("Hold a thermometer in the middle of the last feed for two minutes."),
    ),
    "frozen": FindingWords(say("Frozen"), say("Is there ice or a frozen crust?")),
    "mould": FindingWords(
        say("Mould"),
        say("Does mould cover the food or the bedding?"),
        say("Look without stirring: the dust of mould is bad for lungs."),
    ),
    "food_stays": FindingWords(
        say("Food is not eaten"), say("Does the food lie as it was laid?")
    ),
    "odd_reading": FindingWords(
        say("Odd reading"), say("Does a thermometer show what cannot be?")
    ),
    "runs": FindingWords(
        say("Handful drips or runs"),
        say("Does a squeezed handful drip or run?"),
        say("Take it from hand's depth and squeeze once; more than two drops is yes."),
    ),
    "uneaten": FindingWords(
        say("Much old food inside"),
        say("Dig once: is there much old food?"),
        say("More than half of the last meal counts as much."),
    ),
    "slime": FindingWords(
        say("Grey or black slime"), say("Dig once: is there a grey or black, slimy lump?")
    ),
    "acid_strip": FindingWords(
        say("Test strip below 5.5"), say("Does a test strip show less than pH 5.5?"), STRIPS
    ),
    "beads": FindingWords(
        say("Worms like strings of beads"),
        say("Are worms swollen in rings, like a string of beads?"),
    ),
    "base": FindingWords(
        say("Water at the base"),
        say("Is it swampy at the base, or the drain blocked?"),
        say("Feel at the lowest corner; push a stick through the drain."),
    ),
    "open_food": FindingWords(
        say("Food lies open"), say("Does food lie open, without cover over it?")
    ),
    "meat_found": FindingWords(
        say("Meat, dairy or fat in it"), say("Is there meat, dairy or fat in it?")
    ),
    "tunnels": FindingWords(
        say("Holes, tunnels, droppings"),
        say("Are there holes, tunnels, droppings or gnawed edges?"),
    ),
    "all_castings": FindingWords(
        say("All fine and dark"),
        say("Is it fine and dark all through, with hardly any bedding left?"),
    ),
    "trail": FindingWords(
        say("A trail of ants"), say("Does a trail of ants lead to the food or a nest?")
    ),
    "big_larvae": FindingWords(
        say("Big, flat, ringed larvae"),
        say("Are the larvae flat, brown, ringed, as long as a thumb nail?"),
    ),
    "second_probe": FindingWords(
        say("Two thermometers differ"),
        say("Do two thermometers side by side differ by more than 2 K?"),
        say("Five minutes in the same hole; or ice water, which is 0 degC."),
    ),
    "wet_skin": FindingWords(
        say("Wet skin on top"), say("Is the top wet and the inside better?")
    ),
    "wormed": FindingWords(
        say("Manure of wormed animals"),
        say("Were the animals of the last manure wormed, or the hay sprayed?"),
    ),
    "fed_starch": FindingWords(say("bread, meal or mash was fed in the last fortnight"), ""),
    "fed_manure": FindingWords(say("manure was fed in the last fortnight"), ""),
    "fed_salty": FindingWords(say("something salty was fed in the last fortnight"), ""),
    "fed_citrus": FindingWords(say("citrus was fed in the last fortnight"), ""),
    "fed_meat": FindingWords(say("meat, fish or dairy was fed in the last fortnight"), ""),
    "young_bed": FindingWords(say("the bed is less than four weeks old"), ""),
    "long_unfed": FindingWords(say("the bed was not fed for three weeks"), ""),
}

