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
from vrx.reports.maps.ground import MapGround
from vrx.reports.maps.label_text import Label, PlacedLabel, keep_out_label, pill, rate_label

_KEEP_OUT_MM: Final = 0.1
_NUMBER_MM: Final = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbered:
    """A row of the ledger, and those of its patches that bear its number."""

    row: int
    patches: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """What is written on a map.

    Attributes
    ----------
    placed : tuple of PlacedLabel
    numbered : tuple of Numbered
        What the numbers stand for: 1 for the first.
    small : tuple of int
        Patches without a label or number, and with no neighbour of the same rate that has one.
    """

    placed: tuple[PlacedLabel, ...]
    numbered: tuple[Numbered, ...]
    small: tuple[int, ...]


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
    free = _without(ground.patches, [*taken, *ground.keep_outs.values()])
    rates = _write([rate_label(product, row, ground.opacity) for row in rows], free)
    unsaid = ~_said(rows, ground.patches, rates)
    numbers, numbered = _number(product, free, unsaid, key_lines)
    small = unsaid & ~_said(rows, ground.patches, (*rates, *numbers))
    return Labels(
        placed=(*rates.values(), *numbers.values(), *_on_keep_outs(content, ground, taken)),
        numbered=numbered,
        small=tuple(np.flatnonzero(small).tolist()),
    )


def label_boxes(product: ProductContent, ground: MapGround, at: Sequence[int]) -> list[BaseGeometry]:
    """Return the boxes that the labels of some patches need, where no other mark is in their way."""
    labels = [rate_label(product, product.rows[product.patches[one].row], ground.opacity) for one in at]
    return [one.box for one in _write(labels, ground.patches[list(at)]).values()]


def _write(labels: Sequence[Label], shapes: NDArray[np.object_]) -> dict[int, PlacedLabel]:
    """Return the labels that fit into their shapes, by their index."""
    places = place_boxes(shapes, _sizes(labels))
    return {
        at: PlacedLabel(style=labels[at].styles[chosen], x=x, y=y)
        for at, (chosen, (x, y)) in enumerate(zip(places.chosen.tolist(), places.centres.tolist(), strict=True))
        if chosen >= 0
    }


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
) -> tuple[dict[int, PlacedLabel], tuple[Numbered, ...]]:
    """Return the number of each patch that bears one, and what each number stands for, from 1."""
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
    rows = sorted(largest.tolist())
    numbered = tuple(Numbered(row=row, patches=tuple(fits[row_of[fits] == row].tolist())) for row in rows)
    centre = dict(zip(wanting.tolist(), places.centres.tolist(), strict=True))
    numbers = {
        at: PlacedLabel(style=pill(str(number), _NUMBER_MM), x=centre[at][0], y=centre[at][1])
        for number, one in enumerate(numbered, start=1)
        for at in one.patches
    }
    return numbers, numbered


def _on_keep_outs(content: Content, ground: MapGround, taken: Sequence[BaseGeometry]) -> Iterable[PlacedLabel]:
    """Return the words on keep-outs, with their names where these fit."""
    shapes = np.array(list(ground.keep_outs.values()), dtype=object)
    # Set-backs may overlap: the words are where only their own keep-out is.
    alone = np.array(
        [
            shapely.difference(shape, shapely.union_all(np.delete(shapes, at)).buffer(_KEEP_OUT_MM))
            for at, shape in enumerate(shapes)
        ],
        dtype=object,
    )
    labels = [keep_out_label(content.keep_outs[at].name) for at in ground.keep_outs]
    return _write(labels, _without(_polygons(alone), taken)).values()


def _without(shapes: NDArray[np.object_], taken: Sequence[BaseGeometry]) -> NDArray[np.object_]:
    """Return shapes without the boxes in them."""
    if not taken:
        return shapes
    tree = shapely.STRtree(taken)
    hit = np.unique(tree.query(shapes, predicate="intersects")[0])
    left = shapes.copy()
    left[hit] = shapely.difference(shapes[hit], shapely.union_all(list(taken)))
    return _polygons(left)


def _polygons(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return the polygons in shapes: edges a hair apart may leave lines as well, and no label fits onto a line."""
    kept = shapes.copy()
    for at in np.flatnonzero(shapely.get_type_id(shapes) > shapely.GeometryType.MULTIPOLYGON).tolist():
        parts = shapely.get_parts(shapes[at])
        kept[at] = shapely.multipolygons(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])
    return kept
