"""Laying out the cells of the cab card: their items under each other, wrapped, a line a slice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from vrx.model.drawing import Mark
from vrx.reports.card.blocks import Cell, Item, Role
from vrx.reports.card.marks import BASELINE, BLACK, LEADING, SMALLEST, WHITE, box, moved, rule, words
from vrx.reports.card.text import shown, words_of, wrapped
from vrx.reports.fonts import text_width

# Of the body's size; whether bold.
_ROLES: Final[dict[Role, tuple[float, bool]]] = {
    "body": (1.0, False),
    "strong": (1.0, True),
    "small": (0.8, False),
    "large": (1.3, True),
    "code": (1.75, True),
    "badge": (0.85, True),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice:
    """A line of a cell; its marks count from its upper edge."""

    height: float
    baseline: float
    marks: tuple[Mark, ...]


def type_size(role: Role, body: float) -> float:
    """Return the size of a role where the body has the size ``body``, in its unit; never too small to read."""
    return max(_ROLES[role][0] * body, SMALLEST)


def slices_of(cell: Cell, *, x: float, width: float, body: float) -> list[Slice]:
    """Return a cell's lines; all lengths in mm.

    Parameters
    ----------
    x, width : float
        Where it starts, and how wide it may be.
    body : float
        Size of the body's type.
    """
    left = x + _indent(cell, body)
    slices: list[Slice] = []
    end = left
    for item in cell.items:
        size, bold = type_size(item.role, body), _ROLES[item.role][1]
        if item.role == "badge":
            slices.append(_badge(item.text, x=left, size=size))
            continue
        for line in wrapped(item.text, width=x + width - left, size=size, bold=bold):
            marks = (words(line, x=left, y=BASELINE * size, size=size, bold=bold),)
            slices.append(Slice(height=LEADING * size, baseline=BASELINE * size, marks=marks))
            end = left + text_width(line, size=size, bold=bold)
    if cell.box and slices:
        tick = box(x + 0.2, slices[0].baseline - 0.84 * body, 0.95 * body, 0.95 * body, stroke=BLACK)
        slices[0] = replace(slices[0], marks=(tick, *slices[0].marks))
    if cell.write and slices:
        slices[-1] = _to_write_on(slices[-1], start=end + 0.5 * body, end=x + width, body=body)
    return slices


def liked_width(cell: Cell, body: float) -> float:
    """Return the width in which nothing of a cell wraps."""
    return _indent(cell, body) + max((_width(item, body) for item in cell.items), default=0.0) + cell.write


def needed_width(cell: Cell, body: float) -> float:
    """Return the width in which no word of a cell is cut."""
    pieces = [Item(text=word, role=item.role) for item in cell.items for word in words_of(item.text)]
    return _indent(cell, body) + max((_width(piece, body) for piece in pieces), default=0.0)


def _indent(cell: Cell, body: float) -> float:
    return 1.5 * body if cell.box else 0.0


def _width(item: Item, body: float) -> float:
    size = type_size(item.role, body)
    wide = text_width(shown(item.text), size=size, bold=_ROLES[item.role][1])
    # A hair more, so that rounding never wraps what was measured to fit.
    return wide + 0.01 + (0.8 * size + 0.4 if item.role == "badge" else 0.0)


def _badge(text: str, *, x: float, size: float) -> Slice:
    """Draw a word that warns: white on black where it stops, in a frame where it cautions."""
    stop = text == "STOP"
    wide = text_width(text, size=size, bold=True) + 0.8 * size
    frame = box(x + 0.2, 0.1 * size, wide, 1.2 * size, stroke=BLACK, fill=BLACK if stop else "")
    colour = WHITE if stop else BLACK
    word = words(text, x=x + 0.2 + 0.4 * size, y=1.06 * size, size=size, bold=True, colour=colour)
    return Slice(height=1.4 * size, baseline=1.06 * size, marks=(frame, word))


def _to_write_on(line: Slice, *, start: float, end: float, body: float) -> Slice:
    """Draw a rule behind a line, and leave room above it for a hand that writes."""
    room = 0.6 * body
    marks = (*line.marks, rule(start, end, line.baseline + 0.1 * body, width=0.25))
    return Slice(height=line.height + room, baseline=line.baseline + room, marks=tuple(moved(marks, 0.0, room)))
