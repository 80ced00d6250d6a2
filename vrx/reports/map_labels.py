"""Labels on a map: each rate in its zone, the zone's name where there is room, a number where the rate has none."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.geo.borders import shared_borders
from vrx.geo.labels import place_boxes
from vrx.model.content import Content, ProductContent, RowContent
from vrx.model.drawing import Mark
from vrx.reports.label_text import Label, keep_out_label, pill, rate_label
from vrx.reports.map_ground import MapGround

_KEEP_OUT_MM: Final = 0.1
_NUMBER_MM: Final = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """What is written on a map.

    Attributes
    ----------
    marks : tuple of Mark
    numbered : tuple of int
        Rows of the ledger that numbers stand for: number 1 for the first.
    small : tuple of int
        Patches without a label or number, and with no neighbour of the same rate that has one.
    unnamed : tuple of int
        Keep-outs whose names had no room.
    """

    marks: tuple[Mark, ...]
    numbered: tuple[int, ...]
    small: tuple[int, ...]
    unnamed: tuple[int, ...]


def label_map(
    content: Content, product: ProductContent, ground: MapGround, *, taken: Sequence[BaseGeometry], key_lines: int
) -> Labels:
    """Write rates, names and numbers where they fit.

    Parameters
    ----------
    taken : sequence of polygons
        Boxes on the page that labels stay out of.
    key_lines : int
        How many rows of the ledger the key can hold.
    """
    rows = [product.rows[patch.row] for patch in product.patches]
    free = _without(ground.patches, taken)
    labels = [rate_label(product, row, ground.opacity) for row in rows]
    marks, written = _write(labels, free)
    unsaid = ~_said(rows, ground.patches, written)
    numbers, numbered = _number(product, free, unsaid, key_lines)
    small = unsaid & ~_said(rows, ground.patches, written | numbers.keys())
    kept_out, named = _name_keep_outs(content, ground, taken)
    return Labels(
        marks=(*marks, *(mark for at in numbers for mark in numbers[at]), *kept_out),
        numbered=numbered,
        small=tuple(np.flatnonzero(small).tolist()),
        unnamed=tuple(at for at in product.keep_outs if at not in named),
    )


def _write(labels: Sequence[Label], shapes: NDArray[np.object_]) -> tuple[tuple[Mark, ...], set[int]]:
    """Return the marks of all labels that fit, and which these are."""
    places = place_boxes(shapes, _sizes(labels))
    written = np.flatnonzero(places.chosen >= 0).tolist()
    marks = [
        mark for at in written for mark in labels[at].styles[places.chosen[at]].marks(*places.centres[at].tolist())
    ]
    return tuple(marks), set(written)


def _sizes(labels: Sequence[Label]) -> NDArray[np.float64]:
    most = max((len(label.styles) for label in labels), default=0)
    sizes = np.full((len(labels), most, 2), np.nan)
    for at, label in enumerate(labels):
        sizes[at, : len(label.styles)] = [(style.width, style.height) for style in label.styles]
    return sizes


def _said(rows: Sequence[RowContent], shapes: NDArray[np.object_], written: Iterable[int]) -> NDArray[np.bool_]:
    """Return which patches hang together with a labelled one of the same rate."""
    if not rows:
        return np.empty(0, dtype=bool)
    _, rate = np.unique([row.given for row in rows], return_inverse=True)
    parts, patch = shapely.get_parts(shapes, return_index=True)
    group = shared_borders(parts).components(rate[patch])
    labelled = np.isin(group, group[np.isin(patch, list(written))])
    said = np.zeros(len(rows), dtype=bool)
    said[patch[labelled]] = True
    return said


def _number(
    product: ProductContent, free: NDArray[np.object_], unsaid: NDArray[np.bool_], key_lines: int
) -> tuple[dict[int, tuple[Mark, ...]], tuple[int, ...]]:
    """Return the marks of each numbered patch, and the row of each number, from 1."""
    wanting = np.flatnonzero(unsaid)
    if not len(wanting) or key_lines < 1:
        return {}, ()
    widest = pill("8" * len(str(min(key_lines, len(wanting)))), _NUMBER_MM)
    places = place_boxes(free[wanting], np.full((len(wanting), 1, 2), (widest.width, widest.height)))
    fits = wanting[places.chosen >= 0]
    row_of = np.array([patch.row for patch in product.patches])
    # Where the key is too short, the largest parts are in it.
    area = np.bincount(row_of[fits], weights=shapely.area(free[fits]), minlength=len(product.rows))
    largest = np.argsort(-area, kind="stable")[: min(key_lines, int((area > 0).sum()))]
    numbered = tuple(sorted(largest.tolist()))
    number_of = {row: at for at, row in enumerate(numbered, start=1)}
    centres = dict(zip(wanting.tolist(), places.centres.tolist(), strict=True))
    return {
        at: tuple(pill(str(number_of[row_of[at]]), _NUMBER_MM).marks(*centres[at]))
        for at in fits.tolist()
        if row_of[at] in number_of
    }, numbered


def _name_keep_outs(
    content: Content, ground: MapGround, taken: Sequence[BaseGeometry]
) -> tuple[tuple[Mark, ...], set[int]]:
    """Return the marks of keep-outs' names, and which keep-outs have theirs."""
    numbers = list(ground.keep_outs)
    if not numbers:
        return (), set()
    shapes = np.array([ground.keep_outs[at] for at in numbers], dtype=object)
    # Set-backs may overlap: then the name is where only its own keep-out is.
    alone = [
        shapely.difference(shape, shapely.union_all(np.delete(shapes, at)).buffer(_KEEP_OUT_MM))
        for at, shape in enumerate(shapes)
    ]
    labels = [keep_out_label(content.keep_outs[at].name) for at in numbers]
    free = _without(np.array(alone, dtype=object), taken)
    places = place_boxes(free, _sizes(labels))
    marks: list[Mark] = []
    named = set()
    for at, style in enumerate(places.chosen.tolist()):
        if style >= 0:
            chosen = labels[at].styles[style]
            marks += chosen.marks(*places.centres[at].tolist())
            named |= {numbers[at]} if chosen.named else set()
    return tuple(marks), named


def _without(shapes: NDArray[np.object_], taken: Sequence[BaseGeometry]) -> NDArray[np.object_]:
    """Return shapes without the boxes in them."""
    if not taken:
        return shapes
    tree = shapely.STRtree(taken)
    hit = np.unique(tree.query(shapes, predicate="intersects")[0])
    left = shapes.copy()
    left[hit] = shapely.difference(shapes[hit], shapely.union_all(list(taken)))
    return left


def small_parts_m2(small: Sequence[int], product: ProductContent) -> float:
    """Return the area of patches on the drawing in square metres; about what it is on the ground."""
    return float(sum(shapely.area(shapely.from_wkt(product.patches[at].shape)) for at in small))
