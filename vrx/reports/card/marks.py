"""What the cab card is drawn with: lines of type, rules, boxes and discs, in black and grey."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from vrx.model.drawing import Area, Line, Mark, Words

MM_PER_POINT: Final = 25.4 / 72
SMALLEST: Final = 8.0 * MM_PER_POINT
"""The smallest type, in mm."""
# From line to line, and from the top of a line to what its letters stand on, of the type's size.
LEADING: Final = 1.18
BASELINE: Final = 0.94
BLACK: Final = "#000000"
WHITE: Final = "#ffffff"
GREY: Final = "#9a9a9a"


def words(text: str, *, x: float, y: float, size: float, bold: bool = False, colour: str = BLACK) -> Words:
    """Return a line of type that starts at x and stands on y."""
    return Words(x=x, y=y, text=text, size=size, bold=bold, colour=colour)


def rule(start: float, end: float, y: float, *, width: float = 0.3, stroke: str = BLACK) -> Line:
    """Return a level line."""
    return Line(points=np.array([(start, y), (end, y)]), stroke=stroke, width=width)


def box(x: float, y: float, wide: float, high: float, *, fill: str = "", stroke: str = "") -> Area:
    """Return a box, given its upper left corner."""
    ring = np.array([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high), (x, y)])
    return Area(rings=(ring,), fill=fill, stroke=stroke, width=0.35)


def disc(x: float, y: float, radius: float) -> Area:
    """Return a black disc, given its middle."""
    turn = np.linspace(0.0, 2 * np.pi, 49)
    return Area(rings=(np.column_stack((x + radius * np.cos(turn), y + radius * np.sin(turn))),), fill=BLACK)


def moved(marks: Iterable[Mark], dx: float, dy: float) -> Iterator[Mark]:
    """Yield marks moved right and down."""
    shift = np.array((dx, dy))
    for mark in marks:
        match mark:
            case Area():
                yield replace(mark, rings=tuple(ring + shift for ring in mark.rings))
            case Line():
                yield replace(mark, points=mark.points + shift)
            case _:
                yield replace(mark, x=mark.x + dx, y=mark.y + dy)
