"""The dated story of the farm as inputs: what was done, and when something was read.

What came of it is whatever the true model gives. Times are local.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

READ = ("probe", "squeeze", "look", "core")


@dataclass(frozen=True)
class Beat:
    """One line of the story. Readings have no cells: they are read off the true bed."""

    at: dt.datetime
    kind: str
    bed: str
    zone: str = ""
    cells: dict[str, Any] = field(default_factory=dict)
    late_d: int = 0
    when: str = ""


def _b(text: str, kind: str, bed: str, zone: str = "", late_d: int = 0, when: str = "",
       **cells: Any) -> Beat:  # fmt: skip
    return Beat(dt.datetime.fromisoformat(text), kind, bed, zone, cells, late_d, when)


def _parts(*pairs: tuple[str, str]) -> list[dict[str, str]]:
    return [{"material": material, "amount": amount} for material, amount in pairs]


def _cores(day: str, bed: str, *zones: str) -> list[Beat]:
    return [_b(f"{day} 10:{10 * i:02d}", "core", bed, zone) for i, zone in enumerate(zones)]


def _rebed(hour: str, side: str) -> list[Beat]:
    """New bedding in both quarters of a side after its harvest."""
    laid = _parts(("shredded card", "1.5 kg"), ("leaf mould", "12 kg"),
                  ("aged goat stall bedding", "half a blue bucket"))
    return [
        beat for i in (1, 2) for beat in (
            _b(f"{hour}:{20 + 4 * i}", "bedding", "sluice", f"{side}-{i}", parts=laid),
            _b(f"{hour}:{22 + 4 * i}", "water", "sluice", f"{side}-{i}", mass_kg="4"),
        )
    ]  # fmt: skip


def _layers(day: str, *zones: str, amount: str = "1.5 blue buckets") -> list[Beat]:
    """Goat bedding as food and warmth for the winter, in each of the quarters."""
    return [
        _b(f"{day} 15:{10 + 4 * i}", "feed", "sluice", zone, parts=_parts(
            ("aged goat stall bedding", amount)))
        for i, zone in enumerate(zones)
    ]  # fmt: skip


def _warming(*days: str) -> list[Beat]:
    """A bucket of goat bedding for the fed side, to keep the cold out."""
    laid = _parts(("aged goat stall bedding", "1 blue bucket"))
    return [_b(f"{day} 15:40", "feed", "sluice", parts=laid) for day in days]


STORY: tuple[Beat, ...] = (
    _b("2024-09-01 12:00", "mat", "sluice", state="off", note="No mat yet."),
    # Ladder's worms came six weeks late, at its start in the middle of November.
    _b("2024-11-16 12:00", "mat", "ladder", state="off", note="Not plugged in yet."),
    _b("2024-11-16 15:30", "note", "ladder", note="Worms came today, six weeks late. Cold hands."),
    *_layers("2024-10-19", "race-1", "race-2", "bank-1", "bank-2", amount="half a blue bucket"),
    *_layers("2024-11-09", "race-1", "race-2", "bank-1", "bank-2", amount="half a blue bucket"),
    *_layers("2024-12-14", "race-1", "race-2", "bank-1", "bank-2", amount="1 blue bucket"),
    _b("2024-11-23 16:10", "cover", "sluice", state="on", material="expanded_polystyrene",
       thickness_m=0.03, note="A thin foam board under the lid for the winter."),
    _b("2024-11-23 17:00", "mat", "ladder", state="on", setpoint_c="4"),
    _b("2024-11-30 10:30", "cover", "weir", state="on", material="straw_loose", thickness_m=0.18,
       note="Extra straw for the winter."),
    *_cores("2024-11-23", "sluice", "race-1", "bank-1"),
    *_warming("2025-01-18", "2025-02-08"),
    # January 2025: -19 degC; foam under the lid of Sluice and the feed moved to the wall side.
    _b("2025-01-08 17:10", "note", "sluice", note="Radio: -18 in the valley from Friday on."),
    _b("2025-01-08 17:20", "cover", "sluice", state="on", material="expanded_polystyrene",
       thickness_m=0.09, note="Two more foam boards under the lid."),
    _b("2025-01-09 09:10", "switch", "sluice", side="bank", note="Feed at the wall, no heat used."),
    _b("2025-01-09 09:15", "feed", "sluice", "bank", parts=_parts(
        ("aged goat stall bedding", "2 blue buckets"), ("cafe peelings", "2 kg"),
        ("egg tray pulp", "0.8 kg")), note="A good layer to warm them."),
    _b("2025-01-09 09:30", "cover", "ladder", state="on", material="wool", thickness_m=0.03),
    *[_b(f"2025-01-{d} 08:{m}", "probe", bed, zone) for d in (11, 13, 14, 15, 17)
      for m, bed, zone in (("20", "sluice", "bank-2"), ("25", "sluice", "race-1"),
                           ("35", "weir", "back"))],
    _b("2025-01-15 08:40", "sighting", "weir", "face", what="frozen"),
    _b("2025-03-22 10:20", "mat", "ladder", state="off",
       note="Off for the year; {mat_kwh:.0f} kWh since December."),
    _b("2025-03-22 10:00", "cover", "sluice", state="off", note="Foam off again."),
    _b("2025-03-22 10:05", "cover", "sluice", state="on"),
    _b("2025-03-22 10:10", "cover", "ladder", state="on"),
    # The first seed mix, due on 5 March: the side was not ready.
    *_cores("2025-03-04", "sluice", "race-1", "race-2"),
    _b("2025-03-04 10:30", "squeeze", "sluice", "race-1"),
    _b("2025-03-04 10:40", "note", "sluice", "race-1",
       note="Cold, and worms in it still. The seed mix will be late."),
    _b("2025-03-11 09:20", "harvest", "sluice", "race-1", share="60 %", worms_left_share="40 %",
       moisture=True),
    _b("2025-03-11 11:00", "note", "sluice", note="Seed mix 60 L for leeks and onions, 6 days late:"
       " 13 L castings, leaf mould, grit."),
    _b("2025-03-29 10:00", "bedding", "sluice", "race-1", parts=_parts(("shredded card", "2 kg"),
       ("leaf mould", "6 kg"))),
    _b("2025-03-29 10:10", "water", "sluice", "race-1", mass_kg="3"),
    _b("2025-04-05 16:00", "note", "weir", note="Bean pots sown in goat bedding and in plain"
       " compost, against spray residues."),
    _b("2025-04-09 11:00", "note", "sluice", note="Potting mix 140 L for tomatoes and peppers."),
    _b("2025-04-12 09:30", "switch", "sluice", side="race"),
    _b("2025-04-12 09:45", "cover", "weir", state="on", material="straw_loose", thickness_m=0.1,
       note="Winter straw off, the usual straw stays."),
    _b("2025-04-13 09:30", "bedding", "weir", "metre-2", parts=_parts(
        ("aged goat stall bedding", "6 blue buckets"), ("oat husk", "3 kg")),
       note="New stretch for the wedge."),
    _b("2025-04-27 09:30", "move", "weir", "metre-3", to_zone="metre-2", share="20 %",
       note="Forked some over with the food."),
    *_cores("2025-05-02", "ladder", "tray-3", "tray-2"),
    _b("2025-05-03 10:30", "harvest", "ladder", "tray-3", share="90 %", worms_left_share="50 %",
       moisture=True),
    _b("2025-05-03 10:40", "move", "ladder", order="tray-3 tray-1 tray-2 tray-4 tray-5",
       note="Lifted tray cleaned and put on top."),
    _b("2025-05-03 10:45", "bedding", "ladder", "tray-3", parts=_parts(("egg tray pulp", "0.6 kg"),
       ("leaf mould", "2 kg"))),
    _b("2025-05-03 10:50", "water", "ladder", "tray-3", mass_kg="2"),
    _b("2025-05-07 11:00", "note", "sluice", note="Mix 220 L for the plant stall. Bean pots of"
       " goat bedding look like the others."),
    *_cores("2025-05-21", "sluice", "bank-1", "bank-2"),
    _b("2025-05-24 09:30", "harvest", "sluice", "bank-1", share="70 %", worms_left_share="30 %",
       moisture=True),
    _b("2025-05-24 10:00", "harvest", "sluice", "bank-2", share="70 %", worms_left_share="30 %",
       moisture=True),
    *_rebed("2025-05-24 10", "bank"),
    _b("2025-05-31 09:00", "cover", "sluice", lid="off", note="Lid off for the summer."),
    _b("2025-09-27 09:40", "cover", "sluice", lid="on"),
    _b("2025-06-07 10:00", "move", "ladder", "tray-1", to_zone="tray-3", share="20 %"),
    _b("2025-06-14 10:00", "move", "weir", "metre-3", to_zone="metre-2", share="15 %"),
    _b("2025-06-02 18:00", "note", "sluice", note="Mix 40 L for potting on."),
    # July: the village brews. The rest of the mash goes thinly on Weir, a trench of it in Ladder.
    _b("2025-07-10 17:20", "probe", "ladder", "tray-3"),
    _b("2025-07-10 17:30", "feed", "ladder", "tray-3", parts=_parts(("spent mash", "10 kg")),
       place="lump", depth_m="0.08", note="Brew mash in a trench, still warm."),
    _b("2025-07-10 17:45", "feed", "weir", parts=_parts(("spent mash", "14 kg"),
       ("oat husk", "2 kg")), note="Thin."),
    *[_b(f"2025-07-{t}", "probe", "ladder", "tray-3") for t in
      ("11 08:10", "11 19:10", "12 07:40", "12 19:10", "13 08:10", "14 08:10", "16 18:30")],
    _b("2025-07-12 08:00", "look", "ladder", "tray-3"),
    _b("2025-07-12 08:05", "sighting", "ladder", "tray-3", what="worms_leaving", count="60"),
    _b("2025-07-12 08:15", "move", "ladder", "tray-3", to_zone="tray-1", share="50 %",
       note="Half of the tray carried down to the cool one."),
    _b("2025-07-12 08:20", "cover", "ladder", lid="off", state="off",
       note="Trench opened, lid and sacking off."),
    _b("2025-07-12 08:25", "bedding", "ladder", "tray-3",
       parts=_parts(("egg tray pulp", "0.4 kg"))),
    _b("2025-07-14 08:15", "probe", "ladder", "tray-1"),
    _b("2025-07-16 18:40", "cover", "ladder", lid="on", state="on"),
    *_cores("2025-07-19", "ladder", "tray-3", "tray-1"),
    _b("2025-08-04 12:00", "feed", "sluice", "race-1", late_d=9, when="2025-08-04", who="Matteo",
       parts=_parts(("cafe peelings", "about a blue bucket")), note="Written later, from memory."),
    _b("2025-08-10 09:30", "move", "ladder", "tray-1", to_zone="tray-3", share="40 %",
       note="Tray cool again: carried some back up."),
    # September: one side harvested after a fixed 21 days, the other when the counts said so.
    _b("2025-08-20 18:00", "switch", "sluice", side="bank"),
    *_cores("2025-09-10", "sluice", "race-1", "race-2"),
    _b("2025-09-10 17:30", "harvest", "sluice", "race-1", share="85 %", worms_left_share="40 %",
       moisture=True, note="21 days, as the book says. Many worms still in it."),
    _b("2025-09-10 18:00", "harvest", "sluice", "race-2", share="85 %", worms_left_share="40 %",
       moisture=True),
    *_rebed("2025-09-10 18", "race"),
    *_cores("2025-09-13", "weir", "back", "metre-2"),
    _b("2025-09-14 09:30", "harvest", "weir", "back", share="60 %", worms_left_share="25 %",
       moisture=True),
    _b("2025-09-14 10:00", "bedding", "weir", "face", parts=_parts(
        ("aged goat stall bedding", "7 blue buckets"), ("oat husk", "3 kg"))),
    _b("2025-09-20 10:00", "note", "weir", note="35 kg castings to the garlic."),
    _b("2025-09-22 18:00", "switch", "sluice", side="race"),
    _b("2025-09-27 09:30", "move", "weir", "metre-2", to_zone="face", share="25 %"),
    _b("2025-10-15 11:00", "note", "weir", note="25 kg castings swapped for hay. Bean pots sown in"
       " the wormed flock's bedding; it stays on hold."),
    *_cores("2025-10-18", "sluice", "bank-1", "bank-2"),
    *_cores("2025-11-01", "sluice", "bank-1", "bank-2"),
    _b("2025-10-11 10:00", "move", "ladder", order="tray-2 tray-3 tray-1 tray-4 tray-5",
       note="Oldest of the three to the top, to be finished warm."),
    _b("2025-11-02 09:30", "harvest", "sluice", "bank-1", share="85 %", worms_left_share="40 %",
       moisture=True, note="Waited for the counts this time."),
    _b("2025-11-02 10:00", "harvest", "sluice", "bank-2", share="85 %", worms_left_share="40 %",
       moisture=True),
    *_rebed("2025-11-02 10", "bank"),
    _b("2025-11-08 09:30", "switch", "sluice", side="bank"),
    *_layers("2025-10-25", "race-1", "race-2", amount="1 blue bucket"),
    *_layers("2025-12-06", "bank-1", "bank-2", amount="half a blue bucket"),
    _b("2025-11-12 18:45", "mat", "sluice", state="on", setpoint_c="4",
       note="A mat under half of the floor now, after last winter."),
    _b("2025-11-22 09:40", "cover", "sluice", state="on", material="expanded_polystyrene",
       thickness_m=0.03),
    _b("2025-11-12 18:50", "mat", "ladder", state="on", setpoint_c="4"),
    _b("2025-11-22 10:00", "cover", "weir", state="on", material="straw_loose", thickness_m=0.18),
    _b("2025-11-22 10:30", "note", "weir", note="Bean pots with a little walnut leaf sown, and two"
       " without. Nobody knows."),
    *_cores("2025-11-29", "sluice", "race-1", "bank-2"),
    *_cores("2025-11-30", "weir", "face", "metre-2"),
    _b("2025-12-21 15:00", "feed", "weir", late_d=7, when="2025-12-21 afternoon", who="Ilka",
       parts=_parts(("aged goat stall bedding", "1 blue bucket")), note="Forgot to write it."),
    *_cores("2025-12-20", "ladder", "tray-2", "tray-3"),
    # January 2026: a second spell; foam on Sluice, the mat under Ladder.
    _b("2026-01-08 17:00", "note", "ladder",
       note="3 in 10 that Ladder falls below 4. Mat up to 6."),
    _b("2026-01-08 17:10", "cover", "sluice", state="on", material="expanded_polystyrene",
       thickness_m=0.09),
    _b("2026-01-08 17:20", "cover", "ladder", state="on", material="wool", thickness_m=0.03),
    _b("2026-01-08 17:25", "mat", "sluice", state="on", setpoint_c="6"),
    _b("2026-01-20 08:35", "mat", "sluice", state="on", setpoint_c="5",
       note="The spell took {mat_kwh:.1f} kWh here."),
    _b("2026-01-08 17:30", "mat", "ladder", state="on", setpoint_c="6"),
    *[_b(f"2026-01-{d} 08:{m}", "probe", bed, zone) for d in (10, 12, 14, 16, 18)
      for m, bed, zone in (("20", "ladder", "tray-1"), ("25", "sluice", "bank-1"))],
    _b("2026-01-20 08:30", "mat", "ladder", state="on", setpoint_c="5",
       note="Back to 5; the spell took {mat_kwh:.1f} kWh."),
    _b("2026-01-20 08:40", "note", "sluice", note="Sensor hung at the same figure since the 11th."
       " Battery put back in."),
    _b("2026-01-22 09:30", "switch", "sluice", side="race", note="Bank rests, for the seed mix."),
    *_cores("2026-02-21", "sluice", "bank-1", "bank-2"),
    _b("2026-02-21 10:30", "squeeze", "sluice", "bank-1"),
    _b("2026-02-26 17:00", "note", "sluice", note="Seed mix for leeks due on 5 March."
       " Is the bank side ready?"),
)  # fmt: skip
FED_ZONE: tuple[tuple[dt.date, str, tuple[str, ...]], ...] = (
    (dt.date(2024, 9, 1), "sluice", ("race-1", "race-2")),
    (dt.date(2025, 1, 9), "sluice", ("bank-1", "bank-2")),
    (dt.date(2025, 4, 12), "sluice", ("race-1", "race-2")),
    (dt.date(2025, 8, 20), "sluice", ("bank-1", "bank-2")),
    (dt.date(2025, 9, 22), "sluice", ("race-1", "race-2")),
    (dt.date(2025, 11, 8), "sluice", ("bank-1", "bank-2")),
    (dt.date(2026, 1, 22), "sluice", ("race-1", "race-2")),
    (dt.date(2024, 11, 16), "ladder", ("tray-2", "tray-3")),
    (dt.date(2025, 2, 22), "ladder", ("tray-1",)),
    (dt.date(2025, 5, 3), "ladder", ("tray-3", "tray-1")),
    (dt.date(2025, 7, 10), "ladder", ("tray-1",)),
    (dt.date(2025, 8, 10), "ladder", ("tray-3",)),
    (dt.date(2025, 10, 11), "ladder", ("tray-2", "tray-3")),
    (dt.date(2024, 9, 8), "weir", ("metre-3", "back")),
    (dt.date(2025, 1, 1), "weir", ("metre-3",)),
    (dt.date(2025, 4, 20), "weir", ("metre-2", "metre-3")),
    (dt.date(2025, 7, 1), "weir", ("metre-2",)),
    (dt.date(2025, 9, 20), "weir", ("face", "metre-2")),
    (dt.date(2025, 12, 1), "weir", ("face",)),
)


def fed_zones(bed: str, day: dt.date) -> tuple[str, ...]:
    """The zones of ``bed`` that are fed in turn on ``day``; none before it begins."""
    found: tuple[str, ...] = ()
    for first, name, zones in FED_ZONE:
        if name == bed and first <= day:
            found = zones
    return found
