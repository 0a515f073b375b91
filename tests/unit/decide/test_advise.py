"""What is advised in the situations that a keeper meets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from bedlore.bed.history import start_of
from bedlore.decide.advise import _could_rival, advise
from bedlore.decide.candidates import covers, dry_beddings, waters
from bedlore.decide.case import Case
from bedlore.decide.explain import expect
from bedlore.decide.lifeboat import lifeboat_of
from bedlore.decide.meals import tables
from bedlore.decide.records import Action, Advice
from bedlore.decide.score import Score
from bedlore.farm.bed import Bed
from bedlore.farm.log import AnyEntry, Feed, Look, Squeeze, Water
from bedlore.farm.model import StoreItem
from bedlore.outlook.ahead import Odds

from .conftest import STORE, bed_of, case_of, feed

Make = Callable[..., Case]
BARE, FOAMED = bed_of(), bed_of(foam=True)
NOW = start_of(BARE, dt.UTC) + dt.timedelta(days=30)
SNAP = [8, 7, 5, 2, -2, -5, -6, -5, -2, 1, 3, 5, 6, 7]


@cache
def fed(bed: Bed, kg: float = 1.0) -> tuple[Feed, ...]:
    return tuple(feed(2 + 4 * i, bed, kg) for i in range(7))


def looked(bed: Bed, left: str) -> Look:
    """A look at the fed side three hours ago."""
    return Look.model_validate({"id": f"look-{left}", "at": NOW - dt.timedelta(hours=3),
                                "bed": bed.id, "zone": "race", "food_left": left})  # fmt: skip


def hungry(make_case: Make, **more: Any) -> Case:
    """A small meal three weeks ago, of which the keeper found nothing left."""
    given = (feed(2, BARE, 0.5), feed(9, BARE, 2.0))
    return make_case(BARE, feeds=given, logged=[looked(BARE, "none")], **more)


def every_word(advice: Advice) -> str:
    return repr(asdict(advice)).lower()


def test_a_hungry_bed_in_mild_weather_is_fed(make_case: Make) -> None:
    advice = advise(hungry(make_case, ahead_c=18.0, past_c=18.0))
    assert advice.action.kind == "feed"
    assert "scraps" in advice.headline
    assert advice.effect.food_left_kg[1] > advice.without.food_left_kg[1]
    assert any("1.5 times" in reason.text for reason in advice.reasons)
    assert advice.would_change
    assert advice.cautions


def test_feed_cannot_hold_a_bare_bed_through_a_cold_snap(make_case: Make) -> None:
    advice = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=SNAP))
    assert "Feed alone cannot hold" in advice.headline
    assert advice.action.kind in ("insulate", "cover")
    assert advice.effect.coldest_c[1] > advice.without.coldest_c[1] + 0.5
    assert any("ration" in text for text in advice.would_help)
    assert any("foam" in text.lower() for text in advice.would_help)
    assert any("carbon monoxide" in text for text in advice.cautions)


def test_where_nothing_on_hand_helps_against_heat_shelter_is_pointed_to(make_case: Make) -> None:
    advice = advise(make_case(BARE, feeds=fed(BARE), past_c=24, ahead_c=36.0, store=()))
    assert advice.action.kind == "nothing"
    assert "changes this. Shade, ice or a cooler room may help: see shelter." in (
        advice.cost_of_ignoring
    )


def test_foam_holds_more_than_bare_walls(make_case: Make) -> None:
    bare = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=2))
    foamed = advise(make_case(FOAMED, feeds=fed(FOAMED), past_c=8, ahead_c=2))
    assert foamed.without.coldest_c[1] > bare.without.coldest_c[1] + 0.5
    assert foamed.without.odds.cold <= bare.without.odds.cold


def test_in_heat_more_feed_is_warned_of_and_the_cover_comes_off(make_case: Make) -> None:
    bed = bed_of(foam=True, cover=True)
    advice = advise(make_case(bed, feeds=fed(bed), past_c=16, ahead_c=25))
    assert "heat the bed further" in advice.headline
    assert advice.action.kind in ("uncover", "water")
    assert any("make it worse" in text for text in advice.would_help)


def test_lots_left_means_no_food(make_case: Make) -> None:
    look = Look.model_validate({"id": "l", "at": NOW - dt.timedelta(hours=3), "bed": BARE.id,
                                "zone": "race", "food_left": "lots"})  # fmt: skip
    advice = advise(make_case(BARE, feeds=fed(BARE), logged=[look]))
    assert advice.action.kind != "feed"
    assert all(action.kind != "feed" for action, _ in advice.rivals)
    assert any("lots" in r.text and r.basis == "measured" for r in advice.reasons)


def test_mash_is_laid_thin_or_left(make_case: Make) -> None:
    mash = [
        StoreItem(material="food_brewery_grain", name="brew mash", mass_kg=30.0),
        StoreItem(material="bed_corrugated", name="dry card", mass_kg=8.0, use="bedding"),
    ]
    advice = advise(make_case(FOAMED, feeds=fed(FOAMED), past_c=20, ahead_c=22, store=mash))
    if advice.action.kind == "feed":
        assert advice.action.place == "spread"
        assert advice.action.mass_kg <= 1.0
    assert advice.effect.odds.hot <= advice.without.odds.hot + 0.05


def test_a_dry_bed_gets_water(make_case: Make) -> None:
    bed = bed_of(moisture=0.52)
    advice = advise(make_case(bed, feeds=fed(bed, 0.2), ahead_c=16, past_c=16))
    assert advice.action.kind == "water"
    assert advice.effect.moisture_frac[1] > advice.without.moisture_frac[1]


def test_a_wet_bed_gets_dry_bedding(make_case: Make) -> None:
    bed = bed_of(moisture=0.88, drainage={"kind": "liner"}, foam=True)
    drowned = [
        Water.model_validate({"id": f"w{day}", "at": NOW - dt.timedelta(days=day), "bed": bed.id,
                              "zone": zone, "mass_kg": 8.0})
        for day in (2, 6) for zone in ("race", "bank")
    ]  # fmt: skip
    lots = Look.model_validate({"id": "l", "at": NOW - dt.timedelta(hours=3), "bed": bed.id,
                                "food_left": "lots"})  # fmt: skip
    advice = advise(make_case(bed, feeds=[*fed(bed), *drowned], logged=[lots], ahead_c=12))
    assert advice.action.kind == "bedding"
    assert any("Legionella" in text for text in advice.cautions)


def test_nothing_on_hand_means_no_feed(make_case: Make) -> None:
    held = [STORE[0].model_copy(update={"hold": True})]
    advice = advise(make_case(BARE, feeds=fed(BARE), store=held))
    assert advice.action.kind != "feed"


def test_the_same_inputs_give_the_same_advice_the_next_morning(make_case: Make) -> None:
    case = make_case(BARE, feeds=fed(BARE))
    first = advise(case)
    again = advise(case, first)
    assert again.action == first.action
    assert again.cause_of_change == ""


def test_a_change_names_the_weather(make_case: Make) -> None:
    mild = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=8))
    snap = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=SNAP), mild)
    assert snap.action.key != mild.action.key
    assert "weather" in snap.cause_of_change


def test_a_change_names_what_was_logged(make_case: Make) -> None:
    look = Look.model_validate({"id": "l", "at": NOW - dt.timedelta(hours=3), "bed": BARE.id,
                                "zone": "race", "food_left": "lots"})  # fmt: skip
    before = advise(hungry(make_case, ahead_c=18.0, past_c=18.0))
    case = hungry(make_case, ahead_c=18.0, past_c=18.0)
    after = advise(replace(case, entries=(*case.entries, look)), before)
    assert after.action.key != before.action.key
    assert "you logged" in after.cause_of_change
    assert "lots" in after.cause_of_change


def test_no_hungry_days_are_told_where_lots_was_found(make_case: Make) -> None:
    """The model of a bed that was not learnt may have it eaten: the keeper saw it lying there."""
    case = hungry(make_case, ahead_c=18.0, past_c=18.0)
    assert "short of food" in advise(case).cost_of_ignoring
    lots = looked(BARE, "lots")
    found = replace(case, entries=(*case.entries, lots))
    assert "short of food" not in advise(found).cost_of_ignoring


def test_what_gains_only_noise_is_never_advised(make_case: Make) -> None:
    """A full bed in mild weather: nothing needs doing, so nothing is advised."""
    look = Look.model_validate({"id": "l", "at": NOW - dt.timedelta(hours=3), "bed": BARE.id,
                                "zone": "race", "food_left": "lots"})  # fmt: skip
    advice = advise(make_case(BARE, feeds=fed(BARE), logged=[look], store=STORE[:1]))
    assert advice.action.kind == "nothing"
    assert "beats waiting" in " ".join(reason.text for reason in advice.reasons)


def test_what_heats_the_bed_later_is_not_advised(make_case: Make) -> None:
    """Foam or cover through the cold snap would stay on in the heat that follows."""
    cold = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=SNAP))
    then_hot = advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=SNAP, late_c=27.0))
    assert cold.action.kind in ("insulate", "cover")
    assert then_hot.action.kind == "nothing"


def test_only_what_could_still_win_is_run_to_day_90(
    make_case: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    late: list[str] = []
    monkeypatch.setattr(Case, "run_on", lambda *_: late.append("run"))
    hungry_bed = advise(hungry(make_case, ahead_c=18.0, past_c=18.0))
    assert hungry_bed.action.kind == "feed"
    assert len(late) >= 2  # the meal and doing nothing
    late.clear()
    full = make_case(BARE, feeds=fed(BARE), logged=[looked(BARE, "lots")], store=STORE[:1])
    assert advise(full).action.kind == "nothing"
    assert not late


def test_one_meal_is_not_its_own_rival(make_case: Make) -> None:
    """Spread or in a heap, a small meal in the cold comes to the same: it is tried once."""
    advice = advise(hungry(make_case, ahead_c=6.0, past_c=8.0))
    fed_as = [a.parts for a in (advice.action, *(a for a, _ in advice.rivals)) if a.kind == "feed"]
    assert len(fed_as) == len(set(fed_as))


def test_a_second_that_can_hardly_win_is_given_up() -> None:
    bare, best, near, same, worse = (_scored(points) for points in (10.0, 8.0, 9.0, 8.02, 10.1))
    assert _could_rival(worse, [], bare)  # the best one is always tried whole
    assert _could_rival(near, [best], bare)
    assert not _could_rival(same, [best], bare)
    assert not _could_rival(worse, [best], bare)
    # 0.1 points worse on the mean, with 0.12 for the standard error, may yet gain 0.2.
    assert _could_rival(_scored(10.1, sd=0.48), [best], bare)


def _scored(points: float, sd: float = 0.0) -> Score:
    """A score of 16 members that lose ``points`` on the mean, apart by ``sd``."""
    none = dict.fromkeys(("cold_risk", "heat_risk", "sour_risk"), 0.0)
    crossed = {key: np.zeros(16, bool) for key in ("cold", "hot", "sour")}
    return Score(Action("look"), {"hunger": points + sd * np.tile([-1.0, 1.0], 8)}, none, crossed,
                 Odds(0.0, 0.0, 0.0, 0.0, 0.0, 16))  # fmt: skip


@pytest.mark.parametrize("ahead_c", [12.0, SNAP], ids=["mild", "snap"])
def test_words_never_promise(make_case: Make, ahead_c: Sequence[float] | float) -> None:
    said = every_word(advise(make_case(BARE, feeds=fed(BARE), past_c=8, ahead_c=ahead_c)))
    for word in ("safe", "guarantee", "cures", "kills"):
        assert word not in said


def test_a_frozen_bed_is_not_watered_nor_squeezed() -> None:
    case = case_of(BARE, past_c=-8.0, ahead_c=-6.0, members=12)
    assert case.frozen
    assert waters(case) == []
    assert "frozen hard" in expect(case, tables(case))
    mild = case_of(BARE, past_c=12.0, members=12)
    assert not mild.frozen
    assert "when squeezed" in expect(mild, tables(mild))


def test_food_is_only_spoken_of_where_the_log_knows_of_some() -> None:
    case = case_of(BARE, past_c=12.0, members=12)
    assert "food" not in expect(case, tables(case))
    case = case_of(BARE, feeds=(feed(20, BARE, 1.0),), past_c=12.0, members=12)
    assert "the last food left" in expect(case, tables(case))


def test_what_is_on_hand_must_lie_on_the_whole_bed_to_be_a_cover() -> None:
    # 5 cm of shredded card at 100 kg/m3 on 0.72 m2 are 3.6 kg.
    def laid(kg: float) -> list[str]:
        card = StoreItem(material="bed_corrugated", mass_kg=kg, use="bedding")
        return [action.material for action in covers(case_of(BARE, store=(card,), members=12))]

    assert laid(3.5) == []
    assert laid(3.7) == ["bed_corrugated"]


def test_where_by_the_log_no_worm_is_left_they_are_to_be_looked_for_first() -> None:
    case = case_of(BARE, past_c=-8.0, ahead_c=-6.0, days=60, members=12)
    assert case.lost_share > 0.5
    advice = advise(case)
    assert "look for worms before anything else" in advice.headline
    assert "no worms are left, or next to none" in advice.reasons[0].text
    boat = lifeboat_of(case)
    assert (boat.worms_kg, boat.words) == (0.0, "Hardly a worm is left to take indoors.")
    assert "look for worms" not in advise(case_of(BARE, members=12)).headline


def test_a_squeeze_goes_before_the_model_for_a_week() -> None:
    dry = bed_of(moisture=0.55)

    def case(word: str, days_ago: float, *more: AnyEntry) -> Case:
        at = NOW - dt.timedelta(days=days_ago)
        squeeze = Squeeze.model_validate({"id": "s", "at": at, "bed": dry.id, "word": word})
        return case_of(dry, logged=(squeeze, *more), members=12)

    assert waters(case("damp", 1))
    assert waters(case("drops", 1)) == waters(case("runs", 6)) == []
    assert waters(case("runs", 8))
    poured = Water.model_validate({"id": "w", "at": NOW - dt.timedelta(hours=2), "bed": dry.id,
                                   "mass_kg": 1.0})  # fmt: skip
    assert waters(case("runs", 1, poured))
    none = Odds(0.0, 0.0, 0.0, 0.0, 0.0, 12)
    assert dry_beddings(case("runs", 1), none)
    assert dry_beddings(case("damp", 1), none) == []
    wet = replace(none, wet=0.5)
    assert dry_beddings(case("damp", 1), wet)
    assert dry_beddings(case("crumbly", 1), wet) == []
