"""First aid: what it rests on, what it asks, what it says."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import statistics

import numpy as np
import pytest

from bedlore.decide.aid import causes, findings
from bedlore.decide.aid.help import MOST_ASKED, first_aid, next_question, symptoms
from bedlore.decide.aid.reason import CAUSES, judge
from bedlore.decide.aid.signs import NO_SIGNS, Now, Signs, above, signs_of, twin_shares
from bedlore.errors import KeeperError
from bedlore.facts.symptoms import CHANCE, USUAL, chance_of, kind_of, links, sources
from bedlore.farm.bed import Limits
from bedlore.farm.log import Feed, Look, Part, Sighting
from tests.unit.decide.aid_cases import TROUBLES, Trouble
from tests.unit.decide.conftest import bed_of

NOW = dt.datetime(2026, 5, 1, 8, tzinfo=dt.UTC)


def test_table_and_words_name_the_same_things() -> None:
    known = {finding for kind in CHANCE.values() for finding in kind}
    assert set(findings.FINDINGS) == known
    assert set(causes.CAUSES) == set(USUAL)
    for (finding, cause), p in links().items():
        assert finding in known
        assert cause in USUAL
        assert chance_of(finding) < p < 1.0, (finding, cause)
        assert sources()[finding, cause]
    for cause in USUAL:  # each can be told by something that is asked, or stands in the log
        assert any(c == cause and p >= 0.7 for (_, c), p in links().items()), cause


def test_one_finding_by_hand() -> None:
    """Bayes by hand for two causes left in the prior: odds of dry after ants."""
    prior = dict.fromkeys(CAUSES, 0.0) | {"dry": 0.2, "nest": 0.1}
    with np.errstate(divide="ignore"):
        judged = judge(prior, {"ants": True})
    chance, dry, nest = chance_of("ants"), links()["ants", "dry"], links()["ants", "nest"]
    neither = 0.8 * 0.9 * chance
    only_dry = 0.2 * 0.9 * (1 - (1 - chance) * (1 - dry))
    only_nest = 0.8 * 0.1 * (1 - (1 - chance) * (1 - nest))
    both = 0.2 * 0.1 * (1 - (1 - chance) * (1 - dry) * (1 - nest))
    whole = neither + only_dry + only_nest + both
    assert judged.odds("dry") == pytest.approx((only_dry + both) / whole)
    assert judged.nothing == pytest.approx(neither / whole)


def test_the_check_asked_is_the_one_with_the_greatest_expected_drop_of_doubt() -> None:
    """Against a plain loop over both answers of every check."""
    judged = judge(USUAL, {"rotten": True})

    def doubt(found: dict[str, bool]) -> float:
        weight = judge(USUAL, found).weight
        return -sum(w * math.log2(w) for w in weight if w > 0)

    def drop(finding: str) -> float:
        shown = {c: links().get((finding, c), 0.0) for c in CAUSES}
        sets = [(), *itertools.combinations(CAUSES, 1), *itertools.combinations(CAUSES, 2)]
        yes = sum(w * (1 - (1 - chance_of(finding)) * math.prod(1 - shown[c] for c in one))
                  for w, one in zip(judged.weight, sets, strict=True))  # fmt: skip
        return (doubt({"rotten": True}) - yes * doubt({"rotten": True, finding: True})
                - (1 - yes) * doubt({"rotten": True, finding: False}))  # fmt: skip

    best = max(judged.open_findings(), key=drop)
    asked = next_question(judged)
    assert asked is not None
    assert asked.finding == best
    assert asked.gain_bits == pytest.approx(drop(best), abs=1e-9)
    assert all(judged.gain_bits(f) >= -1e-12 for f in judged.open_findings())


def test_odds_are_right_on_beds_drawn_from_the_table() -> None:
    """Of beds where a cause was said to be likely by about p, a share of about p has it."""
    rng = np.random.default_rng(8)
    said, was = [], []
    while len(said) < 800:
        there = [c for c in CAUSES if rng.random() < USUAL[c]]
        if len(there) > 2:
            continue
        spared = {f: math.prod(1 - links().get((f, c), 0.0) for c in there)
                  for f in findings.FINDINGS}  # fmt: skip
        shown = {f: bool(rng.random() < 1 - (1 - chance_of(f)) * s) for f, s in spared.items()}
        asked = rng.choice(list(shown), 6, replace=False)
        top, odds = judge(USUAL, {f: shown[f] for f in asked}).ranked()[0]
        said.append(odds)
        was.append(top in there)
    expected, error = sum(said), math.sqrt(sum(p * (1 - p) for p in said))
    assert abs(sum(was) - expected) < 3 * error
    sure = [w for p, w in zip(said, was, strict=True) if p > 0.6]
    assert len(sure) > 30
    assert sum(sure) / len(sure) > 0.6


def _asked_through(trouble: Trouble) -> tuple[list[str], int]:
    """Causes ranked at the end, and how many questions it took."""
    log = {f: f in trouble.log for f in CHANCE["log"]}
    signs, answered, asked = Signs(USUAL, log), {trouble.first: True}, 0
    while (told := first_aid("sluice", signs, answered)).ask is not None:
        asked += 1
        answered[told.ask.finding] = told.ask.finding in trouble.there
    return [one.cause for one in told.suspects], asked


def test_sixty_written_cases() -> None:
    assert len(TROUBLES) == 60
    ends = [_asked_through(trouble) for trouble in TROUBLES]
    first = [t for t, (found, _) in zip(TROUBLES, ends, strict=True) if found[:1] == [t.cause]]
    three = [t for t, (found, _) in zip(TROUBLES, ends, strict=True) if t.cause in found[:3]]
    assert len(first) >= 48, [t for t in TROUBLES if t not in first]
    assert len(three) >= 57, [t for t in TROUBLES if t not in three]
    assert statistics.median(asked for _, asked in ends) <= 5
    assert max(asked for _, asked in ends) <= MOST_ASKED


def test_twin_and_log_weigh_in() -> None:
    bed = bed_of(started=dt.date(2024, 3, 1))
    even = {"temp_coldest_c": (8, 9, 10, 11, 12), "temp_warmest_c": (12, 13, 14, 15, 16),
            "moisture_frac": (0.86, 0.88, 0.9, 0.91, 0.92), "food_left_kg": (1, 2, 3, 4, 5),
            "ammonia_mg_g": (0.1,) * 5, "sour_index": (0.0,) * 5, "worms_kg": (1.0,) * 5}
    now = Now(**even)
    shares = twin_shares(now, bed, Limits())
    assert shares["wet"] > 0.9
    assert shares["cold"] < 0.05
    bread = Feed(id="f1", at=NOW - dt.timedelta(days=3), bed="sluice",
                 parts=(Part(material="food_bread", mass_kg=1.0),))  # fmt: skip
    seen = Sighting(id="s1", at=NOW - dt.timedelta(days=1), bed="sluice", what="worms_on_lid")
    old = Look(id="l1", at=NOW - dt.timedelta(days=20), bed="sluice", smell="sharp")
    other = Look(id="l2", at=NOW, bed="ladder", smell="sharp")
    signs = signs_of(bed, Limits(), now, [old, bread, seen, other], NOW)
    assert signs.found["fed_starch"]
    assert not signs.found["fed_manure"]
    assert signs.found["climbing"]
    assert "sharp" not in signs.found
    with_twin = judge(signs.prior, {"climbing": True}).odds("wet")
    assert with_twin > 2 * judge(USUAL, {"climbing": True}).odds("wet")
    assert signs_of(bed, Limits(), None, [], NOW).found == {"young_bed": False}


def test_a_share_between_quantiles() -> None:
    assert above((1, 2, 3, 4, 5), 3) == pytest.approx(0.5, abs=1e-6)
    assert above((1, 2, 3, 4, 5), 9) == pytest.approx(0.02)
    assert above((0.0,) * 5, 3.0) == pytest.approx(0.02)
    assert above((5, 5, 5, 5, 5), 3.0) == pytest.approx(0.98)


def test_every_symptom_gets_an_answer_with_act_check_and_cautions() -> None:
    for symptom in symptoms():
        told = first_aid("sluice", NO_SIGNS, {symptom: True})
        assert told.suspects, symptom
        assert all(one.act and one.later and one.sources for one in told.suspects)
        assert told.ask is not None or max(one.odds for one in told.suspects) >= 0.8, symptom
        assert told.careful
        assert told.cautions
    with pytest.raises(KeeperError, match="not on the list"):
        first_aid("sluice", NO_SIGNS, {"haunted": True})
    with pytest.raises(KeeperError, match="not on the list"):
        first_aid("sluice", NO_SIGNS, {"young_bed": True})  # what the log says is not answered


def test_people_are_warned_where_a_cause_can_hurt() -> None:
    sharp = first_aid("sluice", NO_SIGNS, {"sharp": True})
    assert any("eyes and lungs" in line for line in sharp.cautions)
    hot = first_aid("sluice", NO_SIGNS, {"heat": True})
    assert any("residual-current" in line for line in hot.cautions)
    assert all(kind_of(one) == "symptom" for one in symptoms())


def test_no_promise_is_made() -> None:
    said = [str(t) for c in causes.CAUSES.values() for t in (c.name, c.act, c.later)]
    said += [str(t) for f in findings.FINDINGS.values() for t in (f.name, f.question, f.how)]
    for text in [*said, *map(str, causes.CAREFUL)]:
        lowered = f" {text.lower()} "
        for word in (" safe", "guarantee", " cure", " kill", "!"):
            assert word not in lowered, text
