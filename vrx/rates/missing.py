"""Zones without a rate: which ones, why, and what holds there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vrx.model.finding import Finding, Severity
from vrx.model.plan import NoData
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.places import place_of
from vrx.rates.wanted import Wanted
from vrx.units import area_text

_KINDS = {
    "empty": ("rate-missing", "no rate"),
    "no-data-code": ("rate-no-data-code", "a code for no data where a rate should be"),
    "not-a-number": ("rate-not-a-number", "text that is not a number"),
    "two-readings": ("rate-not-a-number", "a number that is read in two ways"),
}
_MOST_NAMED = 12


def missing_findings(
    zone_map: ZoneMap, wanted: Wanted, gap: NDArray[np.bool_], product: Product, no_data: NoData
) -> list[Finding]:
    """Report the polygons in the field that have no rate, one finding a kind of reason.

    An empty cell and a code for no data follow ``no_data``. A cell that holds something else than a number is
    a ``stop`` whatever the plan says: nobody knows what was meant.
    """
    pieces_of: dict[int, list[int]] = {}
    treated = zone_map.treated(product.name)
    for piece, cover in enumerate(zone_map.covers):
        if treated[piece] and not gap[piece]:
            for polygon in cover:
                pieces_of.setdefault(polygon, []).append(piece)
    findings = []
    for kind, (name, words) in _KINDS.items():
        bad = [cell for cell in wanted.bad if cell.kind == kind and cell.index in pieces_of]
        if not bad:
            continue
        pieces = sorted({piece for cell in bad for piece in pieces_of[cell.index]})
        area = float(zone_map.area_m2[pieces].sum())
        named = [_named(zone_map, cell.index, cell.text) for cell in bad]
        more = f" and {len(named) - _MOST_NAMED} more" if len(named) > _MOST_NAMED else ""
        stop = no_data == "refuse" or name == "rate-not-a-number"
        severity: Severity = "stop" if stop else "caution"
        holds = {"refuse": "", "default": ": the default rate holds", "off": ": nothing is put there"}[no_data]
        findings.append(
            Finding(
                id=name,
                severity=severity,
                message=(
                    f"{product.name}: {words} in zone {', '.join(named[:_MOST_NAMED])}{more}, on {area_text(area)}"
                    f"{'' if stop else holds}."
                ),
                remedy=(
                    "Correct the cells, or give the decimal mark of the zone layer with decimal."
                    if name == "rate-not-a-number"
                    else 'Give the zones a rate, or say what they get with no_data = "default" or "off".'
                ),
                area_m2=area,
                where=place_of(zone_map, pieces),
                features=tuple(int(zone_map.records[cell.index]) for cell in bad),
                product=product.name,
            )
        )
    return findings


def _named(zone_map: ZoneMap, polygon: int, text: str) -> str:
    """Return ``B`` where the zone is named, with the record where it is not, and what the cell holds."""
    zone, record = zone_map.zone_names[polygon], int(zone_map.records[polygon])
    name = zone if zone != str(record) else f"record {record}"
    return f"{name} ({text!r})" if text else name
