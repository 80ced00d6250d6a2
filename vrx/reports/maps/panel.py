"""A panel of a page: blocks of text and figures set below each other in columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

from vrx.model.drawing import Mark, Words
from vrx.reports.fonts import CAP_HEIGHT
from vrx.reports.maps.frame import Box
from vrx.reports.typeset import wrapped

GAP_MM: Final = 3.5
"""Between blocks, and between columns."""
TEXT_MM: Final = 2.6
HEAD_MM: Final = 3.0
_LINE: Final = 1.35


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Something of a height, drawn at any place of the width that it was set for."""

    height: float
    draw: Callable[[float, float], Iterable[Mark]] = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Blocks in columns.

    Attributes
    ----------
    places : tuple
        Each block with its upper left corner.
    free : tuple of Box
        What is left of each column below its blocks.
    """

    places: tuple[tuple[Block, float, float], ...]
    free: tuple[Box, ...]

    def marks(self) -> Iterable[Mark]:
        """Yield all blocks."""
        for block, x, y in self.places:
            yield from block.draw(x, y)


def text_block(text: str, *, width: float, size: float = TEXT_MM, bold: bool = False) -> Block:
    """Return text in lines of a width."""
    lines = wrapped(text, width=width, size=size, bold=bold)

    def draw(x: float, y: float) -> Iterable[Mark]:
        for at, line in enumerate(lines):
            yield Words(x=x, y=y + (CAP_HEIGHT + 0.2 + at * _LINE) * size, text=line, size=size, bold=bold)

    return Block(height=len(lines) * _LINE * size, draw=draw)


def stacked(blocks: Sequence[Block], gap: float = 0.0) -> Block:
    """Return blocks below each other as one, which no column breaks."""
    tops = [sum(one.height for one in blocks[:at]) + at * gap for at in range(len(blocks))]

    def draw(x: float, y: float) -> Iterable[Mark]:
        for top, block in zip(tops, blocks, strict=True):
            yield from block.draw(x, y + top)

    return Block(height=sum(one.height for one in blocks) + gap * max(len(blocks) - 1, 0), draw=draw)


def column_width(width: float, count: int) -> float:
    """Return the width of each of so many columns."""
    return (width - GAP_MM * (count - 1)) / count


def in_columns(blocks: Sequence[Block], box: Box, count: int, *, bottom: float | None = None) -> Columns | None:
    """Set blocks into columns, the first as far down as it goes; None where they need more room.

    Parameters
    ----------
    bottom : float, optional
        Down to where the columns are free for other things; the box's lower edge unless said.
    """
    width = column_width(box.width, count)
    tops = [box.y] * count
    places = []
    column = 0
    for block in blocks:
        while column < count and tops[column] + block.height > box.bottom + 1e-6:
            column += 1
        if column == count:
            return None
        places.append((block, box.x + column * (width + GAP_MM), tops[column]))
        tops[column] += block.height + GAP_MM
    end = box.bottom if bottom is None else bottom
    free = [
        Box(x=box.x + at * (width + GAP_MM), y=top, width=width, height=max(0.0, end - top))
        for at, top in enumerate(tops)
    ]
    return Columns(places=tuple(places), free=tuple(free))


def least_height(blocks: Sequence[Block], width: float, count: int, most: float) -> float | None:
    """Return the lowest height, to a millimetre, at which blocks fit into columns; None above ``most``."""
    for height in range(1, int(most) + 1):
        if in_columns(blocks, Box(x=0.0, y=0.0, width=width, height=float(height)), count) is not None:
            return float(height)
    return None
