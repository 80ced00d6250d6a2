"""Overlays: ground that gets a rate of its own, or another one than its zone wants, before any limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import fsum

import numpy as np
from numpy.typing import NDArray

from vrx.dosing.amounts import amount_per_m2
from vrx.dosing.conversion import conversion_to_product
from vrx.errors import UnitError
from vrx.model.overlay import Overlay
from vrx.model.plan import NoData
from vrx.model.prescription import OverlayEffect
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.settle import Settled
from vrx.units import Measure, rate_number_text


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOver:
    """Wanted rates with the overlays on them.

    Attributes
    ----------
    wanted : float64 array, shape (n_pieces,)
    zones : tuple of str
        Ground of an overlay is a zone by the overlay's name; where only the rate of the zone below is changed,
        that zone is named with it.
    gap : bool array
        Where neither a zone nor an overlay has a say.
    steps : tuple of str
        What the overlays did to the rate of each piece, in order: ``x 0.8 (end rows)``; empty where nothing.
    pinned, own : bool array
        Ground of an overlay, which is never joined to a neighbour; and where an overlay has a rate of its own.
    """

    wanted: NDArray[np.float64]
    zones: tuple[str, ...]
    gap: NDArray[np.bool_]
    steps: tuple[str, ...]
    pinned: NDArray[np.bool_]
    own: NDArray[np.bool_]
    effects: tuple[OverlayEffect, ...]


def lay_over(
    zone_map: ZoneMap,
    settled: Settled,
    product: Product,
    overlays: Sequence[Overlay],
    *,
    no_data: NoData = "refuse",
    share: Fraction = Fraction(1),
) -> LaidOver:
    """Lay overlays over settled rates, in their order.

    A factor or an addition on ground without a zone starts from the product's default rate, and so it does on ground
    without a known rate where that gets the default; elsewhere it changes nothing there.

    Parameters
    ----------
    overlays : sequence of Overlay
        As in ``zone_map.ground.overlays``.
    share : Fraction
        The product's share of the width, for the amounts.

    Raises
    ------
    UnitError
        The rate of an overlay can't be turned into the product's unit.
    """
    default = float(product.rate_of(product.number_where("default")))
    wanted, gap = settled.wanted.copy(), settled.gap.copy()
    zones, steps = list(settled.zones), [""] * len(wanted)
    pinned, own = np.zeros(len(wanted), dtype=bool), np.zeros(len(wanted), dtype=bool)
    treated = zone_map.treated(product.name)
    per_m2 = float(amount_per_m2(product.unit) * share)
    effects = []
    for at, overlay in enumerate(overlays):
        if not overlay.is_about(product.name):
            continue
        covered = np.array([at in marks for marks in zone_map.overlaid], dtype=bool) & treated
        starts = gap | (np.isnan(wanted) & (no_data == "default"))
        before = np.where(starts, default, wanted)
        after = _changed(before, overlay, product, at)
        for piece in np.flatnonzero(covered).tolist():
            zones[piece] = overlay.name if overlay.rate is not None else f"{overlay.name}: {zones[piece]}"
            if overlay.rate is not None or not np.isnan(before[piece]):
                steps[piece] = "; ".join(filter(None, (steps[piece], _step(overlay, before[piece]))))
        wanted = np.where(covered, after, wanted)
        gap &= ~covered
        pinned |= covered
        own |= covered & (overlay.rate is not None)
        # A rate below 0 is no need: it takes nothing off what other ground needs.
        need = np.maximum(after, 0.0) - np.maximum(before, 0.0)
        change = np.where(covered & np.isfinite(before) & np.isfinite(after), need, 0.0)
        effects.append(
            OverlayEffect(
                name=overlay.name,
                what=_what(overlay),
                area_m2=fsum(zone_map.area_m2[covered]),
                amount=float(np.dot(change, zone_map.area_m2)) * per_m2,
            )
        )
    return LaidOver(
        wanted=wanted,
        zones=tuple(zones),
        gap=gap,
        steps=tuple(steps),
        pinned=pinned,
        own=own,
        effects=tuple(effects),
    )


def _changed(before: NDArray[np.float64], overlay: Overlay, product: Product, at: int) -> NDArray[np.float64]:
    if overlay.rate is not None:
        return np.full(len(before), _in_step_unit(overlay.rate, product, at, "rate"))
    if overlay.add is not None:
        return before + _in_step_unit(overlay.add, product, at, "add")
    return before * (1.0 if overlay.factor is None else overlay.factor)


def _in_step_unit(rate: Measure, product: Product, at: int, key: str) -> float:
    try:
        return float(rate.value * conversion_to_product(rate.unit, product).factor)
    except UnitError as err:
        raise err.at(f"overlay[{at}].{key}", ("overlay", at, key)) from None


def _what(overlay: Overlay) -> str:
    if overlay.rate is not None:
        return str(overlay.rate)
    if overlay.add is not None:
        return f"{'' if overlay.add.value < 0 else '+'}{overlay.add}"
    return f"x {overlay.factor:.10g}"


def _step(overlay: Overlay, before: float) -> str:
    start = "" if overlay.rate is not None else f"{rate_number_text(before)} "
    return f"{start}{_what(overlay)} ({overlay.name})"
