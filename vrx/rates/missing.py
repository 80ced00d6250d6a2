"""Zones without a rate: which ones, why, and what holds there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from vrx.model.finding import Finding, Severity
from vrx.model.layer import BadCell
from vrx.model.plan import NoData
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.places import place_of
from vrx.rates.wanted import Wanted
from vrx.units import area_text
from vrx.words import some, visible

_KINDS = {
    "empty": ("rate-missing", "no rate"),
    "no-data-code": ("rate-no-data-code", "a code for no data where a rate should be"),
    "not-a-number": ("rate-not-a-number", "text that is not a number"),
    "two-readings": ("rate-not-a-number", "a number that is read in two ways"),
    "formula-failed": ("rate-formula-failed", "the formula gives no rate"),
}


def missing_findings(
    zone_map: ZoneMap,
    wanted: Wanted,
    unrated: NDArray[np.bool_],
    product: Product,
    no_data: NoData,
    *,
    replaced: NDArray[np.bool_] | None = None,
) -> list[Finding]:
    """Report the polygons in the field that have no rate, one finding a kind of reason.

    An empty cell and a code for no data follow ``no_data``. A cell that holds something else than a number is
    a ``stop`` whatever the plan says: nobody knows what was meant. What stops is reported also where an
    overlapping zone has a rate; what takes the default or off only on ground that gets it.

    Parameters
    ----------
    unrated : bool array, shape (n_pieces,)
        Pieces whose zones give no rate after overlaps are settled.
    replaced : bool array, shape (n_pieces,), optional
        Pieces with a rate of their own, whatever their zones say: nothing is missing there.
    """
    if not wanted.bad:
        return []
    treated = zone_map.treated(product.name)
    if replaced is not None:
        treated &= ~replaced
    anywhere, bare = _pieces_of(zone_map, unrated, treated)
    findings = []
    for kind, (name, words) in _KINDS.items():
        stop = name == "rate-not-a-number" or no_data == "refuse" or (no_data == "off" and not product.off_allowed)
        pieces_of = anywhere if stop else bare
        bad = [cell for cell in wanted.bad if cell.kind == kind and cell.index in pieces_of]
        if not bad:
            continue
        pieces = sorted({piece for cell in bad for piece in pieces_of[cell.index]})
        area = float(zone_map.area_m2[pieces].sum())
        named = dict.fromkeys(_named(zone_map, cell) for cell in bad)
        severity: Severity = "stop" if stop else "caution"
        findings.append(
            Finding(
                id=name,
                severity=severity,
                message=(
                    f"{product.name}: {words} in zone {some(named)}, on "
                    f"{area_text(area, zone_map.ground.dialect)}"
                    f"{_holds(product, no_data) if name != 'rate-not-a-number' else ''}."
                ),
                remedy=_remedy(name, product),
                area_m2=area,
                where=place_of(zone_map, pieces),
                features=tuple(int(zone_map.records[cell.index]) for cell in bad),
                product=product.name,
            )
        )
    return findings


def _pieces_of(
    zone_map: ZoneMap, unrated: NDArray[np.bool_], treated: NDArray[np.bool_]
) -> tuple[dict[int, list[int]], dict[int, list[int]]]:
    """Return the treated pieces under each polygon: all of them, and those that no other polygon rates."""
    anywhere: dict[int, list[int]] = {}
    bare: dict[int, list[int]] = {}
    for piece, cover in enumerate(zone_map.covers):
        if treated[piece]:
            for polygon in cover:
                anywhere.setdefault(polygon, []).append(piece)
                if unrated[piece]:
                    bare.setdefault(polygon, []).append(piece)
    return anywhere, bare


def _holds(product: Product, no_data: NoData) -> str:
    if no_data == "default":
        return f": the default rate of {product.rate_text(product.number_where('default'))} holds"
    if no_data == "off":
        return ": nothing is put there" if product.off_allowed else ", and it can't be shut off there"
    return ""


def _remedy(name: str, product: Product) -> str:
    if name == "rate-not-a-number":
        return "Correct the cells, or give the decimal mark of the zone layer with decimal."
    choices = '"default" or "off"' if product.off_allowed else '"default"'
    if name == "rate-formula-failed":
        return f"Correct the values or the formula, or say what the zones get with no_data = {choices}."
    return f"Give the zones a rate, or say what they get with no_data = {choices}."


def _named(zone_map: ZoneMap, cell: BadCell) -> str:
    """Return the zone and what the cell holds: ``B ('NULL')``, ``B (om is empty)``."""
    zone = zone_map.zone_names[cell.index]
    if cell.kind == "formula-failed":
        return f"{zone} ({cell.text})"
    if cell.of:
        return f"{zone} ({visible(cell.of)} is {repr(cell.text) if cell.text else 'empty'})"
    return f"{zone} ({cell.text!r})" if cell.text else zone
