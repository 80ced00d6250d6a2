"""What labels say and how large they are set: ways to write each, the preferred first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi, sin
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.model.content import ProductContent, RowContent
from vrx.model.drawing import Area, Mark, Words
from vrx.reports.colours import BLACK, WHITE, ink_on
from vrx.reports.fonts import CAP_HEIGHT, DESCENT, printable, text_width
from vrx.reports.maps.frame import Box
from vrx.reports.maps.ground import fill_of
from vrx.reports.maps.scale_bar import rectangle

OFF: Final = "off"
KEEP_OUT: Final = "keep out"
_SIZES_MM: Final = (6.4, 4.8, 3.6, 2.8, 2.2, 1.8)
# Size of the rate, and on how many lines its zone's name stands below: a name is worth a size, not more.
_STYLES: Final = (
    (0, 1), (0, 2), (1, 1), (1, 2), (0, 0), (2, 1), (2, 2), (1, 0), (3, 1), (3, 2), (2, 0), (3, 0), (4, 0), (5, 0),
)  # fmt: skip
_NAME_MM: Final = (2.6, 2.4, 2.2, 2.0)
_KEEP_OUT_MM: Final = (3.0, 2.4, 2.0)
_LINE_GAP: Final = 0.55
_LEAST_EDGE_MM, _EDGE_OF_SIZE = 0.25, 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class TextLine:
    """A line of a label."""

    text: str
    size: float
    bold: bool = False

    @property
    def width(self) -> float:
        """Its width in millimetres."""
        return text_width(self.text, size=self.size, bold=self.bold)


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """A way to write a label: lines below each other, middle on middle.

    Attributes
    ----------
    paper : bool
        With white behind it, where the ground is hatched.
    ringed : bool
        In a ring: a number of the key.
    """

    lines: tuple[TextLine, ...]
    ink: str = BLACK
    halo: str = ""
    paper: bool = False
    ringed: bool = False

    @property
    def width(self) -> float:
        """Width of the box that it needs, with room around the letters."""
        if self.ringed:
            return max(self._text_width + 0.35 * self.lines[0].size, self.height)
        return self._text_width + 2 * self._edge

    @property
    def height(self) -> float:
        """Height of that box."""
        if self.ringed:
            return 1.45 * self.lines[0].size
        return self._text_height + 2 * self._edge

    def marks(self, x: float, y: float) -> Iterator[Mark]:
        """Yield the label with its middle at a point."""
        if self.ringed:
            yield _pill(x, y, self.width - 0.25, self.height - 0.25)
        if self.paper:
            edge = self._edge - 0.2
            width, height = self._text_width + 2 * edge, self._text_height + 2 * edge
            yield rectangle(Box(x=x - width / 2, y=y - height / 2, width=width, height=height), fill=WHITE, stroke="")
        baseline = y - self._text_height / 2
        for at, line in enumerate(self.lines):
            baseline += CAP_HEIGHT * line.size + (_LINE_GAP * line.size if at else 0.0)
            yield Words(
                x=x, y=baseline, text=line.text, size=line.size, anchor="middle", bold=line.bold,
                colour=self.ink, halo=self.halo,
            )  # fmt: skip
            baseline += self._below(at)

    @property
    def _edge(self) -> float:
        return _LEAST_EDGE_MM + _EDGE_OF_SIZE * self.lines[0].size

    @property
    def _text_width(self) -> float:
        return max(line.width for line in self.lines)

    @property
    def _text_height(self) -> float:
        heights = (
            CAP_HEIGHT * line.size + (_LINE_GAP * line.size if at else 0.0) + self._below(at)
            for at, line in enumerate(self.lines)
        )
        return sum(heights)

    def _below(self, at: int) -> float:
        """Return how far letters hang below a line; figures do not."""
        line = self.lines[at]
        return 0.0 if line.bold and not any(letter.isalpha() for letter in line.text) else DESCENT * line.size


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLabel:
    """A label with its middle on the page."""

    style: Style
    x: float
    y: float

    @property
    def box(self) -> BaseGeometry:
        """The room that it takes."""
        width, height = self.style.width / 2, self.style.height / 2
        return shapely.box(self.x - width, self.y - height, self.x + width, self.y + height)

    def marks(self) -> Iterator[Mark]:
        """Yield the label."""
        return self.style.marks(self.x, self.y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The ways to write one label, the preferred first."""

    styles: tuple[Style, ...]


def rate_text(product: ProductContent, row: RowContent) -> str:
    """Return a row's rate as it is printed on the map."""
    return OFF if product.classes[row.rate_class].shade < 0 and row.given == "0" else printable(row.given)


def rate_label(product: ProductContent, row: RowContent, opacity: float) -> Label:
    """Return a zone's rate, with its name where there is room."""
    rate, shade = rate_text(product, row), product.classes[row.rate_class].shade
    ink = ink_on(fill_of(shade, opacity))
    halo = "" if opacity == 1 else WHITE if ink == BLACK else BLACK
    names = {0: (), 1: _in_lines(row.zone, 1), 2: _in_lines(row.zone, 2)}
    styles = []
    for size, name_lines in _STYLES:
        if name_lines and not names[name_lines]:
            continue
        lines = [TextLine(text=rate, size=_SIZES_MM[size], bold=True)]
        lines += [TextLine(text=text, size=_NAME_MM[min(size, 3)]) for text in names[name_lines]]
        styles.append(Style(lines=tuple(lines), ink=ink, halo=halo, paper=shade < 0))
    return Label(styles=tuple(styles))


def keep_out_label(name: str) -> Label:
    """Return the words 'keep out' with the name, else without, on a line or two."""
    head, halves = (KEEP_OUT,), tuple(KEEP_OUT.split())
    named = [(head, (*_in_lines(name, count),)) for count in (1, 2)]
    wordings = ([one for one in named if one[1]], [(head, ())], [(halves, ())])
    styles = [
        Style(
            lines=(
                *(TextLine(text=text, size=size, bold=True) for text in words),
                *(TextLine(text=text, size=size) for text in below),
            ),
            paper=True,
        )
        for each in wordings
        for size in _KEEP_OUT_MM
        for words, below in each
    ]
    return Label(styles=tuple(styles))


def pill(text: str, size: float) -> Style:
    """Return a number in a ring, which nobody takes for a rate."""
    return Style(lines=(TextLine(text=text, size=size),), ringed=True)


def _in_lines(name: str, lines: int) -> tuple[str, ...]:
    """Return a name on one line or, at a space near its middle, on two; nothing where that can't be."""
    text = printable(name)
    if lines == 1 or not text:
        return (text,) if text else ()
    spaces = [at for at, letter in enumerate(text) if letter == " "]
    if not spaces:
        return ()
    middle = min(spaces, key=lambda at: abs(at - len(text) / 2))
    return text[:middle], text[middle + 1 :]


def _pill(x: float, y: float, width: float, height: float) -> Area:
    radius, straight = height / 2, (width - height) / 2
    turns = [pi * at / 12 for at in range(-6, 19)]
    ring = [
        (x + (straight if at < 13 else -straight) + radius * cos(turn), y + radius * sin(turn))
        for at, turn in enumerate((*turns[:13], *turns[12:]))
    ]
    return Area(rings=(np.array((*ring, ring[0])),), fill=WHITE, stroke=BLACK, width=0.15)
