"""Joining: parts that the machine can't honour take the rate of a neighbour.

A part is ground in one piece with one rate, whatever zones it is made of. A part at rate 0 and a keep-out are
never joined away, only reported, and never take in treated ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.dosing.amounts import amount_per_m2
from vrx.geo.borders import Borders
from vrx.model.finding import Finding
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.places import place_of
from vrx.units import area_text, number_text

_KEPT_OUT = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """Step numbers after joining.

    Attributes
    ----------
    numbers : int64 array, shape (n_pieces,)
    joined : bool array
        True where a piece took another rate.
    """

    numbers: NDArray[np.int64]
    joined: NDArray[np.bool_]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    pieces: NDArray[np.int64]
    area_m2: float
    problem: str  # "tiny" or "thin"


def join_parts(
    zone_map: ZoneMap,
    borders: Borders,
    numbers: NDArray[np.int64],
    product: Product,
    *,
    smallest_m2: float,
    narrowest_m: float | None,
    join: bool,
) -> Joined:
    """Join parts that are too small or too narrow to the neighbour with the longest shared border.

    Parameters
    ----------
    numbers : int64 array, shape (n_pieces,)
        Step numbers after limits.
    smallest_m2 : float
        Smaller parts are joined.
    narrowest_m : float or None
        Width of the narrowest group that carries the product; narrower parts are joined. None: not known.
    join : bool
        False: report thin parts and leave them. Parts smaller than the smallest area are joined all the same.
    """
    treated = zone_map.treated(product.name)
    now = np.where(treated, numbers, _KEPT_OUT)
    seen: dict[bytes, str] = {}
    while True:
        group = borders.components(now)
        parts = _unfit(zone_map, now, group, smallest_m2=smallest_m2, narrowest_m=narrowest_m, seen=seen)
        moves = _moves(parts, borders.between(group), group, now, join_thin=join)
        if not moves:
            break
        for pieces, number in moves:
            now[pieces] = number
    joined = treated & (now != numbers)
    findings = [*_joined_finding(zone_map, joined, numbers, now, product)]
    findings += _left_findings(zone_map, parts, now, product, narrowest_m)
    return Joined(numbers=np.where(treated, now, numbers), joined=joined, findings=tuple(findings))


def _moves(
    parts: list[_Part], between: Borders, group: NDArray[np.int64], now: NDArray[np.int64], *, join_thin: bool
) -> list[tuple[NDArray[np.int64], int]]:
    """Choose parts that can be joined in one round, the smallest first; a part that takes one in stays put."""
    first_piece = np.unique(group, return_index=True)[1]
    moving: set[int] = set()
    staying: set[int] = set()
    moves = []
    for part in sorted(parts, key=lambda one: (one.area_m2, int(one.pieces[0]))):
        me = int(group[part.pieces[0]])
        if me in staying or now[part.pieces[0]] == 0 or (part.problem == "thin" and not join_thin):
            continue
        # Never off or a keep-out: no treated ground moves into either.
        host = next((one for one in between.of(me) if now[first_piece[one]] > 0), None)
        if host is None or host in moving:
            continue
        moving.add(me)
        staying.add(host)
        moves.append((part.pieces, int(now[first_piece[host]])))
    return moves


def _unfit(
    zone_map: ZoneMap,
    now: NDArray[np.int64],
    group: NDArray[np.int64],
    *,
    smallest_m2: float,
    narrowest_m: float | None,
    seen: dict[bytes, str],
) -> list[_Part]:
    """Return the parts that are too small or too narrow; ``seen`` keeps the verdicts from round to round."""
    area = np.bincount(group, weights=zone_map.area_m2)
    order = np.argsort(group, kind="stable")
    edges = np.searchsorted(group[order], np.arange(len(area) + 1))
    unfit = []
    for part in range(len(area)):
        pieces = order[edges[part] : edges[part + 1]]
        if now[pieces[0]] == _KEPT_OUT:
            continue
        key = pieces.tobytes()
        if key not in seen:
            tiny = area[part] < smallest_m2
            thin = not tiny and narrowest_m is not None and _is_thin(zone_map, pieces, narrowest_m)
            seen[key] = "tiny" if tiny else "thin" if thin else ""
        if seen[key]:
            unfit.append(_Part(pieces=pieces, area_m2=float(area[part]), problem=seen[key]))
    return unfit


def _is_thin(zone_map: ZoneMap, pieces: NDArray[np.int64], narrowest_m: float) -> bool:
    """Tell whether nowhere in a part a disc of the machine's width finds room."""
    # A hair less than half the width, so that a strip drawn exactly as wide as the machine counts as wide enough.
    inset = -(narrowest_m / 2) * (1 - 1e-6) + 1e-3
    shapes = zone_map.shapes[pieces]
    # One piece with room is enough, and spares the union.
    largest = shapes[int(np.argmax(zone_map.area_m2[pieces]))]
    if not shapely.is_empty(shapely.buffer(largest, inset, join_style="mitre")):
        return False
    united = shapely.coverage_union_all(shapes)
    return bool(shapely.is_empty(shapely.buffer(united, inset, join_style="mitre")))


def _joined_finding(
    zone_map: ZoneMap,
    joined: NDArray[np.bool_],
    before: NDArray[np.int64],
    after: NDArray[np.int64],
    product: Product,
) -> list[Finding]:
    if not joined.any():
        return []
    area = float(zone_map.area_m2[joined].sum())
    rates = [float(product.rate_of(int(after[at])) - product.rate_of(int(before[at]))) for at in np.flatnonzero(joined)]
    moved = float(np.dot(zone_map.area_m2[joined], rates)) * float(amount_per_m2(product.unit))
    zones = sorted({zone_map.zone_of(piece) for piece in np.flatnonzero(joined).tolist()})
    return [
        Finding(
            id="parts-joined",
            severity="note",
            message=(
                f"{product.name}: parts too small or too narrow for the machine took a neighbour's rate on "
                f"{area_text(area)}, in zone {', '.join(zones)}; "
                f"the total changes by {moved:+.4g} {product.unit.amount}."
            ),
            remedy='Set smallest_area and thin_parts = "report" to keep them as drawn.',
            area_m2=area,
            where=place_of(zone_map, np.flatnonzero(joined).tolist()),
            product=product.name,
        )
    ]


def _left_findings(
    zone_map: ZoneMap,
    parts: list[_Part],
    now: NDArray[np.int64],
    product: Product,
    narrowest_m: float | None,
) -> list[Finding]:
    findings = []
    for part in parts:
        rate = number_text(product.rate_of(int(now[part.pieces[0]])))
        zones = sorted({zone_map.zone_of(piece) for piece in part.pieces.tolist()})
        cause = (
            f"narrower than the {narrowest_m:.2f} m of its narrowest group"
            if part.problem == "thin"
            else f"smaller than the smallest area, {part.area_m2:.0f} m2"
        )
        findings.append(
            Finding(
                id=f"{part.problem}-part",
                severity="note" if now[part.pieces[0]] == 0 and part.problem == "tiny" else "caution",
                message=f"{product.name}: a part of zone {', '.join(zones)} at {rate} {product.unit.name} is {cause}.",
                remedy="The machine may not hold this rate there: look at it, or treat it by hand.",
                area_m2=part.area_m2,
                where=place_of(zone_map, part.pieces.tolist()),
                product=product.name,
                zone="+".join(zones),
            )
        )
    return findings
