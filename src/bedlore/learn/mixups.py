"""Readings that lie far off as written down and fit once a known slip of the pen is undone."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bedlore.learn.record import Fit
from bedlore.learn.sight import THERMOMETERS

FITS_SD = 2.5  # standard deviations within which an undone slip is believed (assumed)

Undo = Callable[[float], float]


def _from_f(figure: float) -> float:
    return (figure - 32.0) / 1.8


def _to_f(figure: float) -> float:
    return 1.8 * figure + 32.0


# What was read, had the figure been taken for the other unit. At any temperature that a bed can
# have the two units lie 18 K and more apart, so that chance makes such a slip next to never.
SLIPS: dict[str, Undo] = {"degF as degC": _from_f, "degC as degF": _to_f}


def slipped(fits: Sequence[Fit]) -> dict[str, list[Fit]]:
    """The outlying readings of thermometers that each slip explains, by the slip's name."""
    found: dict[str, list[Fit]] = {}
    for fit in fits:
        if fit.outlier and fit.about in THERMOMETERS:
            for name, undo in SLIPS.items():
                if abs(undo(fit.seen) - fit.expected) <= FITS_SD * fit.sd:
                    found.setdefault(name, []).append(fit)
    return found
