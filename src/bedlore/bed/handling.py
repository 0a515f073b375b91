"""Worms put in, carried from zone to zone, or taken out by the keeper."""

from __future__ import annotations

from bedlore.bed.jit import model
from bedlore.bed.layout import COCOON_STEPS, Herd
from bedlore.bed.movement import shift_share

# Mixed worms as dug from a thriving bed (shares and masses assumed): by live mass, and g each.
STOCK_ADULT_SHARE = 0.6
STOCK_ADULT_G = 0.45
STOCK_JUVENILE_SHARE = 0.38
STOCK_JUVENILE_G = 0.12
STOCK_HATCHLING_G = 0.015
STOCK_ADULT_AGE_D = 60.0


@model
def _settle_if_empty(herd: Herd, zone):  # type: ignore[no-untyped-def]
    """Spread the first worms and cocoons of a zone evenly over its cells."""
    n_cells = herd.where.shape[1]
    held = 0.0
    laid = 0.0
    for c in range(n_cells):
        held += herd.where[zone, c]
        laid += herd.cocoon_where[zone, c]
    for c in range(n_cells):
        if held <= 0.0:
            herd.where[zone, c] = 1.0 / n_cells
        if laid <= 0.0:
            herd.cocoon_where[zone, c] = 1.0 / n_cells


@model
def stock_zone(p, herd: Herd, zone, worms_kg):  # type: ignore[no-untyped-def]
    """Put ``worms_kg`` of mixed live worms into a zone; no cocoons come with them."""
    _settle_if_empty(herd, zone)
    adult_kg = STOCK_ADULT_SHARE * worms_kg
    juvenile_kg = STOCK_JUVENILE_SHARE * worms_kg
    hatchling_kg = worms_kg - adult_kg - juvenile_kg
    adult_n = 1000.0 * adult_kg / STOCK_ADULT_G
    juvenile_n = 1000.0 * juvenile_kg / STOCK_JUVENILE_G
    herd.adult_n[zone] += adult_n
    herd.adult_kg[zone] += adult_kg
    herd.adult_slow_n[zone] += p["worm_slow_share"] * adult_n
    herd.adult_age_d[zone] += STOCK_ADULT_AGE_D * adult_n
    herd.juvenile_n[zone] += juvenile_n
    herd.juvenile_kg[zone] += juvenile_kg
    herd.juvenile_slow_n[zone] += p["worm_slow_share"] * juvenile_n
    herd.hatchling_n[zone] += 1000.0 * hatchling_kg / STOCK_HATCHLING_G
    herd.hatchling_kg[zone] += hatchling_kg


@model
def carry_share(herd: Herd, a, b, worms, cocoons):  # type: ignore[no-untyped-def]
    """Carry shares 0..1 of the worms and the cocoons of zone ``a`` to zone ``b`` by hand."""
    _settle_if_empty(herd, b)
    shift_share(herd, a, b, worms, worms, worms)
    arriving = 0.0
    there = 0.0
    for step in range(COCOON_STEPS):
        n = cocoons * herd.cocoon_n[a, step]
        there += herd.cocoon_n[b, step]
        arriving += n
        herd.cocoon_n[a, step] -= n
        herd.cocoon_n[b, step] += n
    if arriving > 0.0:
        mix = arriving / (there + arriving)
        for c in range(herd.where.shape[1]):
            shift = herd.cocoon_where[a, c] - herd.cocoon_where[b, c]
            herd.cocoon_where[b, c] += mix * shift


@model
def remove_share(herd: Herd, zone, worms, cocoons):  # type: ignore[no-untyped-def]
    """Take shares 0..1 of the worms and cocoons out of a zone; returns the worms' mass [kg]."""
    taken_kg = worms * (herd.hatchling_kg[zone] + herd.juvenile_kg[zone] + herd.adult_kg[zone])
    keep = 1.0 - worms
    herd.hatchling_n[zone] *= keep
    herd.hatchling_kg[zone] *= keep
    herd.juvenile_n[zone] *= keep
    herd.juvenile_kg[zone] *= keep
    herd.juvenile_slow_n[zone] *= keep
    herd.adult_n[zone] *= keep
    herd.adult_kg[zone] *= keep
    herd.adult_slow_n[zone] *= keep
    herd.adult_age_d[zone] *= keep
    for step in range(COCOON_STEPS):
        herd.cocoon_n[zone, step] *= 1.0 - cocoons
    return taken_kg
