"""The ledger of a prescription: areas and amounts by product and zone, with totals that are sums of rows."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from math import fsum, isnan
from typing import TypeAlias

import numpy as np

from vrx.dosing.amounts import amount_per_m2, buying_amounts
from vrx.dosing.cost import order_of
from vrx.dosing.loads import loads_of
from vrx.model.ledger import Ledger, LedgerRow, ProductLedger
from vrx.model.machine import Machine
from vrx.model.prescription import Prescription, ProductMap
from vrx.model.zone_map import ZoneMap
from vrx.units import System

# Zone, wanted rate (None: not known), step numbers after limits and after joining, and why.
_Key: TypeAlias = tuple[str, float | None, int, int, str]


def ledger_of(prescription: Prescription, *, field: str, system: System, machine: Machine | None = None) -> Ledger:
    """Account for every piece of the ground.

    Keep-outs carry no area in a product's rows. Where a wanted rate is not known, the given one stands in for
    it in the totals, so that a missing rate looks like neither a saving nor a cost. A wanted rate below 0 is no
    need, and takes nothing off what other zones need. The machine's boxes make the loads. Where a product is on a part
    of the width, its areas are those of the field all the same, and its amounts are what its share of them gets.

    Raises
    ------
    UnitError
        A price, a package or a box is in a unit that does not convert into the product's.
    """
    zone_map = prescription.zone_map
    nowhere = np.ones(len(zone_map.shapes), dtype=bool)
    for one in prescription.maps:
        nowhere &= ~one.treated
    beside = {at for at, area in enumerate(zone_map.ground.keep_outs) if area.is_rest}
    rest = nowhere & np.array([not beside.isdisjoint(areas) for areas in zone_map.kept_out], dtype=bool)
    rest_m2, kept_out_m2 = fsum(zone_map.area_m2[rest]), fsum(zone_map.area_m2[nowhere & ~rest])
    return Ledger(
        field=field,
        boundary_area_m2=zone_map.ground.boundary_area_m2,
        keep_out_area_m2=kept_out_m2,
        geodesic_area_m2=zone_map.ground.boundary_area_m2 - kept_out_m2 - rest_m2,
        grid_area_m2=fsum(zone_map.grid_m2[~nowhere]),
        grid_crs=zone_map.ground.grid_crs,
        rest_area_m2=rest_m2,
        products=tuple(_product_ledger(zone_map, one, system, machine or Machine()) for one in prescription.maps),
    )


def _product_ledger(zone_map: ZoneMap, found: ProductMap, system: System, machine: Machine) -> ProductLedger:
    product = found.product
    per_m2 = amount_per_m2(product.unit) * found.share
    groups = _groups(found)
    rows = tuple(_rows(zone_map, found, groups, per_m2))
    row_of = np.full(len(zone_map.shapes), -1, dtype=np.int64)
    for row, pieces in enumerate(groups.values()):
        row_of[pieces] = row
    given, wanted, limited = (
        fsum(getattr(row, name) for row in rows) for name in ("amount_given", "amount_wanted", "amount_limited")
    )
    order = order_of(Fraction(given), product)
    total_si = float(product.unit.factor / amount_per_m2(product.unit))
    treated_m2 = fsum(row.geodesic_area_m2 for row in rows if row.given > 0)
    return ProductLedger(
        product=product.name,
        unit=product.unit.name,
        total_unit=product.unit.amount,
        rows=rows,
        row_of=tuple(row_of.tolist()),
        geodesic_area_m2=fsum(row.geodesic_area_m2 for row in rows),
        grid_area_m2=fsum(row.grid_area_m2 for row in rows),
        keep_out_area_m2=fsum(zone_map.area_m2[~found.treated]),
        total_wanted=wanted,
        changed_by_limits=limited - wanted,
        changed_by_joining=given - limited,
        total_given=given,
        to_buy=buying_amounts(given * total_si, product.unit, product, system=system),
        overlays=found.overlays,
        order=order,
        share=found.share,
        loads=loads_of(order.needed, treated_m2, machine.boxes_of(product.name), machine.drive, product),
    )


def _groups(found: ProductMap) -> dict[_Key, list[int]]:
    """Return the pieces of each zone, wanted rate, given rate and reason, in the natural order of zone names."""
    groups: dict[_Key, list[int]] = {}
    for piece in np.flatnonzero(found.treated).tolist():
        wanted = float(found.wanted[piece])
        # NaN differs from itself, and would give every piece a row of its own.
        key = None if isnan(wanted) else wanted
        limited, number = int(found.limited[piece]), int(found.numbers[piece])
        groups.setdefault((found.zones[piece], key, limited, number, found.why[piece]), []).append(piece)
    return dict(sorted(groups.items(), key=lambda item: _natural(item[0][0])))


def _rows(zone_map: ZoneMap, found: ProductMap, groups: dict[_Key, list[int]], per_m2: Fraction) -> Iterable[LedgerRow]:
    # Equal rates make equal amounts: each is exact until it is rounded once.
    rate_of = {number: found.product.rate_of(number) for number in {one for group in groups for one in group[2:4]}}
    on_m2 = {number: float(rate * per_m2) for number, rate in rate_of.items()}
    for (zone, key, limited, number, why), pieces in groups.items():
        area = fsum(zone_map.area_m2[pieces])
        yield LedgerRow(
            zone=zone,
            inputs=tuple(sorted({_input(found, piece) for piece in pieces} - {""}, key=_natural)),
            wanted=float("nan") if key is None else key,
            limited=rate_of[limited],
            given=rate_of[number],
            why=why,
            geodesic_area_m2=area,
            grid_area_m2=fsum(zone_map.grid_m2[pieces]),
            amount_wanted=(on_m2[limited] if key is None else float(Fraction(max(key, 0.0)) * per_m2)) * area,
            amount_limited=on_m2[limited] * area,
            amount_given=on_m2[number] * area,
        )


def _input(found: ProductMap, piece: int) -> str:
    """Return what the rate of a piece was worked out from, and what overlays did to it."""
    return "; ".join(filter(None, (found.inputs[piece], found.overlay_steps[piece])))


def _natural(zone: str) -> list[tuple[bool, int, str]]:
    """Sort ``zone 9`` before ``zone 10``."""
    parts = re.findall(r"[0-9]+|[^0-9]+", zone)
    return [(not part.isdecimal(), int(part) if part.isdecimal() else 0, part.casefold()) for part in parts]
