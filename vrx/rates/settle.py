"""Settling: one wanted rate for every piece, also where zones overlap or leave a gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vrx.dosing.limits import Dosed, apply_limits
from vrx.model.finding import Finding
from vrx.model.plan import NoData, Overlaps
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.places import place_of
from vrx.units import area_text, rate_number_text

# Overlaps with different rates are settled unasked up to this share of the field; above, a person decides.
_SMALL_SHARE = 0.001
_MOST_TOLD = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """The wanted rate of each piece.

    Attributes
    ----------
    wanted : float64 array, shape (n_pieces,)
        NaN where the zones that cover the piece say nothing.
    source : int64 array
        The polygon of the zone layer whose rate it is; -1 where none is.
    zones : tuple of str
        The zone by which the piece is rated.
    gap : bool array
        True where no zone covers the piece and none near it takes it: the default rate holds.
    notes : mapping of piece to str
        What was decided, in words.
    """

    wanted: NDArray[np.float64]
    source: NDArray[np.int64]
    zones: tuple[str, ...]
    gap: NDArray[np.bool_]
    notes: Mapping[int, str]
    findings: tuple[Finding, ...]


def settle(
    zone_map: ZoneMap,
    rates: NDArray[np.float64],
    product: Product,
    *,
    rule: Overlaps | None,
    no_data: NoData = "refuse",
) -> Settled:
    """Decide the wanted rate of every piece.

    Parameters
    ----------
    rates : float64 array, shape (n_polygons,)
        Wanted rates on the polygons of the zone layer, in the unit of the product's step.
    rule : {"refuse", "first", "lowest", "highest"} or None
        What holds where overlapping zones get different rates, limits and steps applied. None: the lowest where they
        cover up to 0.1 % of the field, else refuse.
    no_data : {"refuse", "default", "off"}
        What a missing rate will become; asked where zones overlap and where a small gap chooses between neighbours.
    """
    source = np.array([cover[0] if cover else -1 for cover in zone_map.covers], dtype=np.int64)
    gap = source < 0
    zones = [zone_map.zone_of(piece) for piece in range(len(source))]
    notes: dict[int, str] = {}
    different = _different(zone_map, rates, zone_map.treated(product.name))
    clashes = _clashes(different, apply_limits(rates, product, no_data=no_data))
    chosen = rule or _unless_said(zone_map, clashes)
    for piece, members in different.items():
        source[piece] = members[_choose(rates[list(members)], "lowest" if chosen == "refuse" else chosen)]
    for piece in clashes:
        notes[piece] = "zones overlap: refused" if chosen == "refuse" else f"zones overlap: the {chosen} rate taken"
    wanted = _taken(rates, source)
    if zone_map.fills:
        off = apply_limits(wanted, product, no_data=no_data).numbers == 0
        for piece, hosts in zone_map.fills.items():
            # A gap goes to treated ground where it can, so that ground at rate 0 stays as it was drawn.
            host = next((one for one in hosts if not off[one]), hosts[0])
            source[piece], zones[piece] = source[host], zones[host]
            gap[piece] = False
        wanted = _taken(rates, source)
    findings = _overlap_findings(zone_map, clashes, rates, product, chosen) if clashes else ()
    return Settled(wanted=wanted, source=source, zones=tuple(zones), gap=gap, notes=notes, findings=findings)


def _taken(rates: NDArray[np.float64], source: NDArray[np.int64]) -> NDArray[np.float64]:
    # One more behind the last polygon: -1 finds it, and no rate.
    return np.append(rates, np.nan)[source]


def _different(zone_map: ZoneMap, rates: NDArray[np.float64], treated: NDArray[np.bool_]) -> dict[int, tuple[int, ...]]:
    """Return the pieces whose zones want different rates."""
    different = {}
    for piece, cover in enumerate(zone_map.covers):
        if len(cover) > 1 and treated[piece]:
            found = rates[list(cover)]
            # Two missing rates agree; a missing one and a number do not.
            if not np.array_equal(found, np.full(len(found), found[0]), equal_nan=True):
                different[piece] = cover
    return different


def _clashes(different: Mapping[int, tuple[int, ...]], dosed: Dosed) -> dict[int, tuple[int, ...]]:
    """Return the pieces whose zones get different rates: 100 and 101 are one rate to a machine of steps of 5."""
    return {
        piece: cover
        for piece, cover in different.items()
        if dosed.refused[list(cover)].any() or len(set(dosed.numbers[list(cover)].tolist())) > 1
    }


def _unless_said(zone_map: ZoneMap, clashes: Mapping[int, tuple[int, ...]]) -> Overlaps:
    area = zone_map.area_m2[list(clashes)].sum() if clashes else 0.0
    return "refuse" if area > _SMALL_SHARE * zone_map.ground.boundary_area_m2 else "lowest"


def _choose(rates: NDArray[np.float64], rule: Overlaps) -> int:
    if rule == "lowest":
        return int(np.argmin(np.where(np.isnan(rates), np.inf, rates)))
    if rule == "highest":
        return int(np.argmax(np.where(np.isnan(rates), -np.inf, rates)))
    return 0


def _overlap_findings(
    zone_map: ZoneMap,
    clashes: Mapping[int, tuple[int, ...]],
    rates: NDArray[np.float64],
    product: Product,
    rule: Overlaps,
) -> tuple[Finding, ...]:
    by_name: dict[str, list[int]] = {}
    for piece in clashes:
        by_name.setdefault(zone_map.zone_of(piece), []).append(piece)
    largest_first = sorted(by_name, key=lambda name: -float(zone_map.area_m2[by_name[name]].sum()))
    rest = largest_first[_MOST_TOLD:]
    findings = []
    for names in [[name] for name in largest_first[:_MOST_TOLD]] + ([rest] if rest else []):
        pieces = [piece for name in names for piece in by_name[name]]
        area = float(zone_map.area_m2[pieces].sum())
        size = area_text(area, zone_map.ground.dialect)
        which = (
            f"zones {' and '.join(_zones_of(zone_map, pieces[0]))} overlap on {size} and want different rates "
            f"({_rates_text(rates, pieces, clashes)} {product.unit.name})"
            if len(names) == 1
            else f"zones overlap and want different rates in {len(names)} more places, {size} in all"
        )
        findings.append(
            Finding(
                id="overlap",
                severity="stop" if rule == "refuse" else "note",
                message=f"{product.name}: {which}: {'refused' if rule == 'refuse' else f'the {rule} is taken'}.",
                remedy='Mend the zones, or settle it with overlaps = "first", "lowest" or "highest".',
                area_m2=area,
                where=place_of(zone_map, pieces),
                features=tuple(sorted({int(zone_map.records[one]) for piece in pieces for one in clashes[piece]})),
                product=product.name,
                zone=names[0] if len(names) == 1 else "",
            )
        )
    return tuple(findings)


def _zones_of(zone_map: ZoneMap, piece: int) -> list[str]:
    return sorted({zone_map.zone_names[polygon] for polygon in zone_map.covers[piece]})


def _rates_text(rates: NDArray[np.float64], pieces: list[int], clashes: Mapping[int, tuple[int, ...]]) -> str:
    # Sorted, missing ones come last; named once, since NaN differs from itself.
    found = np.sort([rates[one] for piece in pieces for one in clashes[piece]])
    return ", ".join(dict.fromkeys(map(_number, found.tolist())))


def _number(rate: float) -> str:
    return "none" if np.isnan(rate) else rate_number_text(rate)
