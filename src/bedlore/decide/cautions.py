"""The usual cautions that go with an action; they do not replace local codes or trades.

In the order in which they count: people, animals, herd, plants, product, money.
"""

from __future__ import annotations

from collections.abc import Sequence

from bedlore.decide.action_words import own_word
from bedlore.decide.records import Action
from bedlore.facts.feedstocks import Feedstock, load
from bedlore.farm.model import StoreItem
from bedlore.say import capital, clause, say

# Customary cautions of the trade. Dust and hands: an Australian work-health authority on potting
# mix (read). Electricity: residual-current device 30 mA (from memory). Lifting: common practice,
# no source.
ELECTRIC = say(
    "Electric heat in a wet place: use a residual-current device, sealed fittings, a drip loop and"
    " a cut-out apart from the thermostat, and have the wiring done by a qualified person under the"
    " local code. Never a bare heater or lamp near straw."
)
NO_BURNING = say(
    "Never burn fuel or charcoal to warm a closed shed: carbon monoxide is not noticed. Heaters"
    " are for a licensed trade under the local code."
)
LIFTING = say("Wet material is heavy: fill containers half, lift with two, bend the knees.")
DUST = say(
    "Dry stuff makes dust that can carry moulds and Legionella: damp it, work in open air, wear"
    " gloves and a mask, wash your hands. With cough or fever afterwards tell the doctor."
)
MANURE = say(
    "Manure carries germs: gloves, wash before you eat, keep it off salads, and keep to your local"
    " rule on the days between manure and harvest. Ask when the animals were last wormed."
)
HANDS = say("Gloves for cuts, and wash your hands after work in the bed.")
PETS = say("Mouldy food, cocoa and onion harm dogs and cats: close the lid, pick up what falls.")
FOAM_CHEWED = say(
    "Keep air holes open under insulation, and keep foam board where no animal gnaws it; foam"
    " burns, so keep it away from heaters and lamps."
)
HEAVY_KG = 12.0


def cautions_for(action: Action, store: Sequence[StoreItem], *, cold: bool,
                 hot: bool) -> tuple[str, ...]:  # fmt: skip
    """Cautions for an action, people first; ``cold`` and ``hot`` when that limit is near.

    Materials are called as in ``store``.
    """
    found: list[str] = []
    stocks = [load()[m] for m, _ in action.parts if m in load()]
    if action.kind == "mat":
        found.append(ELECTRIC)
    if cold and action.kind != "mat":
        found.append(NO_BURNING)
    if any(stock.group == "manure" for stock in stocks):
        found.append(MANURE)
    if any(_dusty(stock) for stock in stocks) or _dusty_cover(action):
        found.append(DUST)
    if action.mass_kg >= HEAVY_KG or action.kind == "insulate":
        found.append(LIFTING)
    if action.kind in ("feed", "bedding", "uncover", "water"):
        found.append(HANDS)
    if action.kind == "insulate":
        found.append(FOAM_CHEWED)
    if action.kind == "feed":
        found.append(PETS)
        found += _herd(stocks, store)
    if hot:
        found.append(say("In the heat work early, drink, and never reach into a bed that steams."))
    return tuple(dict.fromkeys(found))


def _dusty(stock: Feedstock) -> bool:
    return stock.moisture_frac < 0.25


def _dusty_cover(action: Action) -> bool:
    return action.kind == "cover"


def _herd(stocks: Sequence[Feedstock], store: Sequence[StoreItem]) -> list[str]:
    return [say("{material}: {caution}.", caution=clause(say(s.caution)),
                material=capital(own_word(store, s.id) or say(s.name)))
            for s in stocks if s.advice and s.caution]  # fmt: skip
