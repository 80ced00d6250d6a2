"""Joining: parts that the machine can't honour take the rate of a neighbour.

A part is ground in one piece with one rate, whatever zones it is made of. A part at rate 0 and a keep-out are
never joined away, only reported, and never take in treated ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import pi

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.dosing.amounts import amount_per_m2
from vrx.geo.borders import Borders
from vrx.geo.merge import united
from vrx.model.finding import Finding
from vrx.model.prescription import KEPT_OUT
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.places import ground_text, place_of
from vrx.units import amount_text, area_text, length_text
from vrx.words import some

_MOST_TOLD = 12
# Arcs around inward corners: half a percent of the radius at most is cut off them.
_QUADRANT_SEGMENTS = 8


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
    pinned: NDArray[np.bool_] | None = None,
    zones: Sequence[str] | None = None,
    share: Fraction = Fraction(1),
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
    pinned : bool array, shape (n_pieces,), optional
        Ground that keeps its border, such as an overlay: it is a part of its own, and neither joined nor joined to.
    zones : sequence of str, optional
        What people call the zone of each piece; the zone map's own names unless said.
    share : Fraction
        The product's share of the width, for the amount that is told.
    """
    treated = zone_map.treated(product.name)
    now = np.where(treated, numbers, KEPT_OUT)
    stays = np.zeros(len(now), dtype=bool) if pinned is None else pinned
    seen: dict[bytes, str] = {}
    room = _Room(zone_map, narrowest_m) if narrowest_m is not None else None
    while True:
        # Pinned ground of a rate is another part than the ground of that rate beside it.
        group = borders.components(2 * now + stays)
        parts = _unfit(zone_map, now, group, smallest_m2=smallest_m2, room=room, seen=seen)
        moves = _moves(parts, borders.between(group), group, now, stays=stays, join_thin=join)
        if not moves:
            break
        for pieces, number in moves:
            now[pieces] = number
    joined = treated & (now != numbers)
    names = zones or [zone_map.zone_of(piece) for piece in range(len(now))]
    findings = [*_joined_finding(zone_map, joined, numbers, now, product, names=names, share=share)]
    drawn = [part for part in parts if stays[part.pieces[0]]]
    others = [part for part in parts if not stays[part.pieces[0]]]
    findings += _left_findings(zone_map, others, now, product, names, smallest_m2=smallest_m2, narrowest_m=narrowest_m)
    findings += _drawn_findings(zone_map, drawn, product, names)
    return Joined(numbers=np.where(treated, now, numbers), joined=joined, findings=tuple(findings))


def _moves(
    parts: list[_Part],
    between: Borders,
    group: NDArray[np.int64],
    now: NDArray[np.int64],
    *,
    stays: NDArray[np.bool_],
    join_thin: bool,
) -> list[tuple[NDArray[np.int64], int]]:
    """Choose parts that can be joined in one round, the smallest first; a part that takes one in stays put."""
    first_piece = np.unique(group, return_index=True)[1]
    moving: set[int] = set()
    staying: set[int] = set()
    moves = []
    for part in sorted(parts, key=lambda one: (one.area_m2, int(one.pieces[0]))):
        me = int(group[part.pieces[0]])
        if me in staying or stays[part.pieces[0]] or now[part.pieces[0]] == 0:
            continue
        if part.problem == "thin" and not join_thin:
            continue
        # Never off or a keep-out: no treated ground moves into either.
        near = (one for one in between.of(me) if not stays[first_piece[one]])
        host = next((one for one in near if now[first_piece[one]] > 0), None)
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
    room: _Room | None,
    seen: dict[bytes, str],
) -> list[_Part]:
    """Return the parts that are too small or too narrow; ``seen`` keeps the verdicts from round to round."""
    area = np.bincount(group, weights=zone_map.area_m2)
    order = np.argsort(group, kind="stable")
    edges = np.searchsorted(group[order], np.arange(len(area) + 1))
    unfit = []
    for part in range(len(area)):
        pieces = order[edges[part] : edges[part + 1]]
        if now[pieces[0]] == KEPT_OUT:
            continue
        key = pieces.tobytes()
        if key not in seen:
            tiny = area[part] < smallest_m2
            thin = not tiny and room is not None and not room.in_part(pieces)
            seen[key] = "tiny" if tiny else "thin" if thin else ""
        if seen[key]:
            unfit.append(_Part(pieces=pieces, area_m2=float(area[part]), problem=seen[key]))
    return unfit


class _Room:
    """Whether a disc of the machine's width finds room in a part; what is known of a piece is not asked twice."""

    def __init__(self, zone_map: ZoneMap, width_m: float) -> None:
        # A hair less than half the width, so that a strip drawn exactly as wide as the machine is wide enough.
        self._radius = max(0.0, (width_m / 2) * (1 - 1e-6) - 1e-3)
        self._shapes = zone_map.shapes
        self._area_m2 = zone_map.area_m2
        self._bounds = shapely.bounds(self._shapes)
        middle = shapely.centroid(self._shapes)
        near = shapely.distance(middle, shapely.boundary(self._shapes)) < self._radius
        self._in_piece: dict[int, bool] = dict.fromkeys(
            np.flatnonzero(~near & shapely.contains(self._shapes, middle)).tolist(), True
        )

    def in_part(self, pieces: NDArray[np.int64]) -> bool:
        """Tell it for the pieces of a part."""
        if self._radius == 0:
            return True
        # What has less area than the disc, or a narrower box, has no room for it.
        if self._area_m2[pieces].sum() < pi * self._radius**2:
            return False
        box = self._bounds[pieces]
        if (box[:, 2:].max(axis=0) - box[:, :2].min(axis=0)).min() < 2 * self._radius:
            return False
        # One piece with room is enough, and spares the union.
        largest = int(pieces[np.argmax(self._area_m2[pieces])])
        if largest not in self._in_piece:
            self._in_piece[largest] = self._in_shape(self._shapes[largest])
        if len(pieces) == 1 or self._in_piece[largest]:
            return self._in_piece[largest]
        return self._in_shape(united(self._shapes[pieces]))

    def _in_shape(self, shape: BaseGeometry) -> bool:
        return not shapely.is_empty(shapely.buffer(shape, -self._radius, quad_segs=_QUADRANT_SEGMENTS))


def _joined_finding(
    zone_map: ZoneMap,
    joined: NDArray[np.bool_],
    before: NDArray[np.int64],
    after: NDArray[np.int64],
    product: Product,
    *,
    names: Sequence[str],
    share: Fraction,
) -> list[Finding]:
    if not joined.any():
        return []
    area = float(zone_map.area_m2[joined].sum())
    rates = [float(product.rate_of(int(after[at])) - product.rate_of(int(before[at]))) for at in np.flatnonzero(joined)]
    moved = float(np.dot(zone_map.area_m2[joined], rates)) * float(amount_per_m2(product.unit) * share)
    zones = _zones(names, np.flatnonzero(joined).tolist())
    return [
        Finding(
            id="parts-joined",
            severity="note",
            message=(
                f"{product.name}: parts too small or too narrow for the machine took a neighbour's rate on "
                f"{ground_text(area, share, zone_map.ground.dialect)}, in zone {some(zones)}; "
                f"the total changes by {amount_text(moved, sign=True)} {product.unit.amount}."
            ),
            remedy='To keep them as drawn, set smallest_area = "0 m2" and thin_parts = "report".',
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
    names: Sequence[str],
    *,
    smallest_m2: float,
    narrowest_m: float | None,
) -> list[Finding]:
    """Report parts that stay though they are unfit: the largest each, the others of a kind together."""
    kinds: dict[tuple[str, bool], list[_Part]] = {}
    for part in sorted(parts, key=lambda one: (-one.area_m2, int(one.pieces[0]))):
        kinds.setdefault((part.problem, bool(now[part.pieces[0]] == 0)), []).append(part)
    dialect = zone_map.ground.dialect
    findings = []
    for (problem, off), found in kinds.items():
        cause = (
            f"narrower than the {length_text(narrowest_m, dialect)} of the machine's narrowest group"
            if problem == "thin" and narrowest_m is not None
            else f"smaller than the plan's smallest_area of {area_text(smallest_m2, dialect)}"
        )
        rest = found[_MOST_TOLD:]
        for told in [[one] for one in found[:_MOST_TOLD]] + ([rest] if rest else []):
            pieces = np.concatenate([one.pieces for one in told]).tolist()
            zones = _zones(names, pieces)
            findings.append(
                Finding(
                    id=f"{problem}-part",
                    severity="note" if off and problem == "tiny" else "caution",
                    message=f"{product.name}: {_what_stays(zone_map, told, now, product, names)} {cause}.",
                    remedy=(
                        "Shut off by hand there if it matters: the machine may reach over it at its neighbour's rate."
                        if off
                        else "The machine may not hold this rate there: redraw the zone, or treat it by hand."
                    ),
                    area_m2=sum(one.area_m2 for one in told),
                    where=place_of(zone_map, pieces),
                    product=product.name,
                    zone=zones[0] if len(told) == len(zones) == 1 else "",
                )
            )
    return findings


def _what_stays(
    zone_map: ZoneMap, told: list[_Part], now: NDArray[np.int64], product: Product, names: Sequence[str]
) -> str:
    area = area_text(sum(one.area_m2 for one in told), zone_map.ground.dialect)
    if len(told) > 1:
        return f"{len(told)} more parts, {area} in all, stay as drawn and are"
    pieces = told[0].pieces.tolist()
    rate = product.rate_text(int(now[pieces[0]]))
    return f"a part of zone {some(_zones(names, pieces))} at {rate}, {area}, stays as drawn and is"


def _zones(names: Sequence[str], pieces: list[int]) -> list[str]:
    return sorted({names[piece] for piece in pieces})


def _drawn_findings(zone_map: ZoneMap, parts: list[_Part], product: Product, names: Sequence[str]) -> list[Finding]:
    """Report in one note the parts of overlays that are unfit: they stay, since a person wants them there."""
    if not parts:
        return []
    pieces = np.concatenate([one.pieces for one in parts]).tolist()
    area = sum(one.area_m2 for one in parts)
    tiny = any(one.problem == "tiny" for one in parts)
    return [
        Finding(
            id="tiny-part" if tiny else "thin-part",
            severity="note",
            message=(
                f"{product.name}: {len(parts)} part{'s'[: len(parts) > 1]} of overlays, "
                f"{area_text(area, zone_map.ground.dialect)} in all, too small or narrow for the machine, "
                f"stay{'s'[: len(parts) == 1]} as drawn: {some(_zones(names, pieces))}."
            ),
            remedy="The machine may not hold these rates there; draw the overlay along the zones if it matters.",
            area_m2=area,
            where=place_of(zone_map, pieces),
            product=product.name,
        )
    ]
