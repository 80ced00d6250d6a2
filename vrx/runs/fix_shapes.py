"""Shapes of a map mended: rings, slivers, overlaps of one rate, records of several parts.

What nobody but the map's maker may settle stays as it is and is said: overlaps of different rates, ground without a
rate, ground beyond the boundary and in keep-outs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.telling import largest_first, size_text
from vrx.geo.area import true_areas
from vrx.geo.borders import Borders, shared_borders
from vrx.geo.coverage import SETTLE_WIDTH_M, cut, settle_slivers
from vrx.geo.crs import move_shapes, parse_crs
from vrx.geo.gaps import find_gaps
from vrx.geo.merge import Merged, decimals_of, for_file, united
from vrx.geo.overlaps import united_ground
from vrx.geo.repair import repair
from vrx.inputs.cells import read_numbers
from vrx.inputs.rate_column import says_rate
from vrx.model.checked_map import CheckedMap, Overlap
from vrx.model.sheet import Unrounded
from vrx.units import rate_number_text
from vrx.words import some

FILL_GAPS_M2: Final = 4046.8564224 / 20
"""Smaller gaps between shapes are closed where no plan says another ``fill_gaps``: the plan's own default."""
# Between shapes is what they enclose for the most part; what lies along the field's edge is open on half of its sides.
_ENCLOSED_SHARE: Final = 2 / 3
_SEEN_M2: Final = 0.5  # less is told of nobody's ground


@dataclass(frozen=True, slots=True, kw_only=True)
class MendedShapes:
    """Shapes as they go into a file.

    Attributes
    ----------
    shapes : object array, shape (n,)
        Single valid polygons in ``crs``, rounded as they are written, the records in their order.
    owner : int64 array, shape (n,)
        Position of the record that each is of.
    area_m2 : float64 array, shape (n,)
        True areas.
    unrounded : Unrounded
    reshaped : bool
        A record got more or less ground, or was parted, so that areas that the map states no longer hold.
    """

    crs: str
    shapes: NDArray[np.object_]
    owner: NDArray[np.int64]
    area_m2: NDArray[np.float64]
    unrounded: Unrounded
    changes: tuple[str, ...]
    left: tuple[str, ...]
    reshaped: bool


@dataclass(slots=True)
class _Moved:
    """Ground that changed hands: a sentence each, with its size."""

    filled: list[tuple[float, str]] = field(default_factory=list)
    divided: list[tuple[float, str]] = field(default_factory=list)


def mend_shapes(on: CheckedMap, crs: str) -> MendedShapes:
    """Mend the shapes of a map, and bring them into the CRS of a file.

    Shapes that need nothing keep their vertices; where the file has the map's own CRS, to the last decimal that is
    written.

    Parameters
    ----------
    on : CheckedMap
        With shapes and rates.
    """
    frame, moved = on.the_shapes.frame, _Moved()
    same, differing = _overlaps(on)
    bare = _small_gaps(on)
    if same or bare:
        whole, start = _divided(on, bare, moved), frame.crs
    elif parse_crs(on.the_layer.crs).equals(parse_crs(crs), ignore_axis_order=True):
        whole, start = repair(on.the_layer.shapes, decimals=decimals_of(crs)).shapes, crs
    else:
        whole, start = on.the_shapes.shapes, frame.crs
    parts, owner = shapely.get_parts(whole, return_index=True)
    merged = Merged(shapes=parts, keys=owner.astype(np.int64), source=np.arange(len(parts)))
    rounded = for_file(merged, start, crs)
    meant = parts if start == frame.crs else move_shapes(parts, start, frame.crs)
    area_m2 = true_areas(meant, frame)
    parted = np.flatnonzero(np.bincount(owner, minlength=len(whole)) > 1)
    return MendedShapes(
        crs=crs,
        shapes=rounded.shapes,
        owner=rounded.keys,
        area_m2=area_m2[rounded.source],
        unrounded=Unrounded(area_m2=area_m2, perimeter_m=shapely.length(meant), source=rounded.source),
        changes=(
            *_mended_text(on),
            *_told(moved.divided, "overlaps of one rate", on),
            *_told(moved.filled, "slivers", on),
            *_gone_text(on, whole),
            *_parted_text(on, parted, np.bincount(owner, minlength=len(whole))),
        ),
        left=tuple(_left_text(on, differing, bare)),
        reshaped=bool(moved.filled or moved.divided or len(parted) or on.the_shapes.mended),
    )


def _overlaps(on: CheckedMap) -> tuple[list[Overlap], list[Overlap]]:
    """Return overlaps of shapes of one rate, and those of different rates."""
    kinds = _kinds(on)
    same = [one for one in on.the_shapes.overlaps if kinds[one.first] == kinds[one.second]]
    return same, [one for one in on.the_shapes.overlaps if kinds[one.first] != kinds[one.second]]


def _kinds(on: CheckedMap) -> NDArray[np.int64]:
    """Return a number for each record by its rates: equal ones agree in every other column of rates too."""
    rates = on.the_rates
    products = {one.casefold() for one in on.products_known}
    others = [
        one.name
        for one in on.candidates
        if one.name != rates.column and (says_rate(one.name) or one.name.casefold() in products)
    ]
    columns = [rates.numbers.values, *on.by_product.values()]
    columns += [read_numbers(on.the_layer.columns[name]).values for name in others]
    # What holds no number is equal to the like.
    rows = np.nan_to_num(np.column_stack(columns), nan=-np.inf, neginf=-np.inf)
    return np.unique(rows, axis=0, return_inverse=True)[1].ravel().astype(np.int64)


def _small_gaps(on: CheckedMap) -> list[BaseGeometry]:
    """Return bare ground that is small enough to be closed and that two shapes or more, or one around it, touch."""
    laid = on.the_shapes
    bare = np.array(laid.bare, dtype=object)
    if not len(bare):
        return []
    most = FILL_GAPS_M2 if on.plan is None else on.plan.fill_gaps
    small = bare[true_areas(bare, laid.frame) < most]
    if not len(small):
        return []
    # The share of the outline that the map is beside, whatever way the vertices lie; without the threads that a
    # rounding leaves along the boundary.
    half = SETTLE_WIDTH_M / 2
    outlines = shapely.boundary(shapely.buffer(shapely.buffer(small, -half), half))
    near = shapely.buffer(laid.covered, SETTLE_WIDTH_M)
    beside = shapely.length(shapely.intersection(outlines, near))
    return list(small[beside > _ENCLOSED_SHARE * shapely.length(outlines)])


def _divided(on: CheckedMap, bare: Sequence[BaseGeometry], moved: _Moved) -> NDArray[np.object_]:
    """Return the shapes with overlaps of one rate and small gaps given to a neighbour, in local coordinates."""
    laid = on.the_shapes
    there = np.flatnonzero(~shapely.is_missing(laid.shapes))
    found = cut(united_ground([laid.covered, *bare]), laid.shapes[there], np.empty(0, dtype=object))
    borders = shared_borders(found.shapes)
    found = settle_slivers(found, borders)
    covers = [tuple(int(there[at]) for at in cover) for cover in found.covers]
    area_m2 = true_areas(found.shapes, laid.frame)
    gaps = find_gaps(found, borders, area_m2, smaller_than_m2=float("inf"))
    for pieces, hosts in zip(gaps.small, gaps.hosts, strict=True):
        near = dict.fromkeys(covers[one][0] for one in hosts)
        host = next(iter(near))
        for piece in pieces:
            covers[piece] = (host,)
        size = float(area_m2[list(pieces)].sum())
        between = " and ".join(on.called(one) for one in list(near)[:2])
        place = f"between {between}" if len(near) > 1 else f"within {between}"
        moved.filled.append((size, f"Bare ground {place}, {size_text(size, on)}, goes to {on.called(host)}."))
    _divide(on, borders, covers, area_m2, moved)
    return _whole(found.shapes, covers, len(laid.shapes))


def _divide(
    on: CheckedMap,
    borders: Borders,
    covers: list[tuple[int, ...]],
    area_m2: NDArray[np.float64],
    moved: _Moved,
) -> None:
    """Leave one record of a rate on each piece: the one with the longest border beside it."""
    rates, kinds = on.the_rates.numbers.values, _kinds(on)
    keys = {cover: at for at, cover in enumerate(dict.fromkeys(covers))}
    group = borders.components(np.array([keys[cover] for cover in covers], dtype=np.int64))
    first = np.unique(group, return_index=True)[1]
    between = borders.between(group)
    for one in np.unique(group[[len(cover) > 1 for cover in covers]]).tolist():
        cover = covers[first[one]]
        beside = [covers[first[other]][0] for other in between.of(one) if len(covers[first[other]]) == 1]
        kept = []
        for kind in dict.fromkeys(kinds[at] for at in cover):
            mine = [at for at in cover if kinds[at] == kind]
            host = next((at for at in beside if at in mine), mine[0])
            kept.append(host)
            if len(mine) > 1:
                size = float(area_m2[group == one].sum())
                unit = on.the_rates.unit_name
                text = f"{rate_number_text(float(rates[host]))} {unit}".rstrip()
                names = some(map(on.called, mine), most=4)
                moved.divided.append(
                    (size, f"{names} had {text} each on {size_text(size, on)}: that goes to {on.called(host)} alone.")
                )
        for piece in np.flatnonzero(group == one).tolist():
            covers[piece] = tuple(kept)


def _whole(pieces: NDArray[np.object_], covers: Sequence[tuple[int, ...]], count: int) -> NDArray[np.object_]:
    of_record: dict[int, list[int]] = {}
    for at, cover in enumerate(covers):
        for record in cover:
            of_record.setdefault(record, []).append(at)
    shapes = np.full(count, None, dtype=object)
    for record, mine in of_record.items():
        shapes[record] = pieces[mine[0]] if len(mine) == 1 else united(pieces[mine])
    return shapes


def _mended_text(on: CheckedMap) -> Iterator[str]:
    broken = [one for one in on.the_shapes.mended if not one.lost]
    told, rest = largest_first(sorted(broken, key=lambda one: -abs(one.area_after_m2 - one.area_before_m2)))
    for one in told:
        before, after = size_text(one.area_before_m2, on), size_text(one.area_after_m2, on)
        ground = f"its ground is {after}" if before == after else f"its ground goes from {before} to {after}"
        yield f"{on.called(one.index)} {one.reason}: mended, {ground}."
    if rest:
        size = sum(abs(one.area_after_m2 - one.area_before_m2) for one in rest)
        yield f"{len(rest)} more broken shapes are mended; that moved {size_text(size, on)}."
    for wound in (one for one in on.the_layer.findings if one.id == "hole-winding"):
        records = some(wound.features)
        yield f"Rings are wound the usual way, outlines clockwise and holes against it (record {records})."


def _gone_text(on: CheckedMap, whole: NDArray[np.object_]) -> Iterator[str]:
    lost = np.flatnonzero(shapely.is_missing(whole))
    bare = [at for at in lost.tolist() if on.the_shapes.area_m2[at] == 0]
    within = [at for at in lost.tolist() if on.the_shapes.area_m2[at] > 0]
    if bare:
        yield f"Left out, since they hold no ground: {some(map(on.called, bare))}."
    if within:
        yield f"Left out, since all of their ground lies in others of their rate: {some(map(on.called, within))}."


def _parted_text(on: CheckedMap, parted: NDArray[np.int64], counts: NDArray[np.int64]) -> Iterator[str]:
    if len(parted):
        listed = some(f"{on.called(at)} in {counts[at]}" for at in parted.tolist())
        size = float(on.the_shapes.area_m2[parted].sum())
        yield f"Records of several parts are one a part now, on {size_text(size, on)}: {listed}."


def _told(found: Sequence[tuple[float, str]], what: str, on: CheckedMap) -> Iterator[str]:
    told, rest = largest_first(sorted(found, key=lambda one: -one[0]))
    yield from (text for _, text in told)
    if rest:
        yield f"{len(rest)} more {what} the same way, {size_text(sum(size for size, _ in rest), on)} in all."


def _left_text(on: CheckedMap, differing: Sequence[Overlap], closed: Sequence[BaseGeometry]) -> Iterator[str]:
    laid = on.the_shapes
    if differing:
        size = size_text(sum(one.area_m2 for one in differing), on)
        worst = max(differing, key=lambda one: one.area_m2)
        pairs = f"{len(differing)} pairs of shapes overlap" if len(differing) > 1 else "two shapes overlap"
        yield (
            f"With different rates {pairs}, on {size}, the most {on.called(worst.first)} and "
            f"{on.called(worst.second)}: whoever made the map has to say which rate holds."
        )
    bare = _size(laid.bare, on) - _size(closed, on)
    if bare > _SEEN_M2:
        yield f"{size_text(bare, on)} of bare ground is no sliver between shapes: draw it, if it is to get a rate."
    beyond = _size(laid.beyond, on)
    if beyond > _SEEN_M2:
        yield f"{size_text(beyond, on)} of the map lies beyond the boundary."
    rates = on.the_rates.numbers.values
    kept_out = sum(one.area_m2 for one in laid.kept_out if rates[one.index] != 0 and _binds(one.keep_out, on))
    if kept_out > _SEEN_M2:
        yield f"{size_text(kept_out, on)} of the map lies in keep-outs."


def _binds(keep_out: int, on: CheckedMap) -> bool:
    area, name = on.the_ground.keep_outs[keep_out], on.product_asked
    return area.binds(name) if name else not area.products


def _size(shapes: Sequence[BaseGeometry], on: CheckedMap) -> float:
    return float(true_areas(np.array(shapes, dtype=object), on.the_shapes.frame).sum()) if len(shapes) else 0.0
