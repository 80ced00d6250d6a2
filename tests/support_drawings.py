"""What tests ask of drawings: words, their boxes, and the areas that marks stand for."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry.base import BaseGeometry

from vrx.model.drawing import Area, Drawing, Words
from vrx.reports.fonts import CAP_HEIGHT, DESCENT, text_width

_START = {"start": 0.0, "middle": 0.5, "end": 1.0}
_HANGING = set("gjpqyQąęçş,;()/")


def words(drawing: Drawing) -> list[Words]:
    """Return the lines of text of a drawing."""
    return [mark for mark in drawing.marks if isinstance(mark, Words)]


def texts(drawing: Drawing) -> list[str]:
    """Return what is written on a drawing."""
    return [mark.text for mark in words(drawing)]


def box_of(mark: Words) -> BaseGeometry:
    """Return the box of a line of text, from what hangs below it to the top of its capitals."""
    width = text_width(mark.text, size=mark.size, bold=mark.bold)
    left = mark.x - _START[mark.anchor] * width
    below = DESCENT * mark.size if _HANGING & set(mark.text) else 0.0
    return shapely.box(left, mark.y - CAP_HEIGHT * mark.size, left + width, mark.y + below)


def area_of(mark: Area) -> BaseGeometry:
    """Return an area's polygon, by the even-odd rule."""
    made: BaseGeometry = shapely.Polygon()
    for ring in mark.rings:
        made = shapely.symmetric_difference(made, shapely.polygons(ring))
    return made


def areas(drawing: Drawing, kind: str) -> dict[int, BaseGeometry]:
    """Return the areas whose key begins with a word, by the number behind it."""
    return {
        int(mark.key.split()[1]): area_of(mark)
        for mark in drawing.marks
        if isinstance(mark, Area) and mark.key.partition(" ")[0] == kind
    }


def clashes(boxes: Iterable[tuple[str, BaseGeometry]]) -> list[tuple[str, str]]:
    """Return pairs of names whose boxes overlap by more than a rounding."""
    named = list(boxes)
    tree = shapely.STRtree([box for _, box in named])
    pairs = tree.query([box for _, box in named], predicate="intersects").T.tolist()
    return [
        (named[a][0], named[b][0])
        for a, b in pairs
        if a < b and shapely.area(shapely.intersection(named[a][1], named[b][1])) > 1e-6
    ]
