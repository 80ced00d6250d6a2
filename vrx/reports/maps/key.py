"""The key of a map: what the numbers in small zones stand for, and how many parts are too small even for that."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vrx.model.content import Content, ProductContent
from vrx.model.drawing import Line, Mark, Words
from vrx.reports.fonts import CAP_HEIGHT, printable, text_width
from vrx.reports.maps.frame import Box
from vrx.reports.maps.label_text import pill, rate_text
from vrx.reports.maps.labels import Numbered
from vrx.reports.maps.panel import HEAD_MM, text_block
from vrx.reports.maps.part_areas import key_area
from vrx.reports.typeset import wrapped

_SIZE_MM: Final = 2.4
_LINE_MM: Final = 3.3
_GAP_MM: Final = 2.0
_NUMBER_MM: Final = 7.0
_TITLE_MM: Final = 1.6 * HEAD_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """Room for a key.

    Attributes
    ----------
    boxes : tuple of Box
        Columns that hold a line or more.
    lines_each : int
        Lines of text that a zone may need, for its name.
    rate_width, area_width : float
    """

    boxes: tuple[Box, ...]
    lines_each: int
    rate_width: float
    area_width: float

    @property
    def entry_mm(self) -> float:
        """Height of an entry."""
        return self.lines_each * _LINE_MM

    def entries_in(self, box: Box) -> int:
        """Return how many entries a column holds below its heads."""
        return max(0, int((box.height - _TITLE_MM - _LINE_MM) / self.entry_mm))

    @property
    def entries(self) -> int:
        """How many entries it holds."""
        return sum(self.entries_in(box) for box in self.boxes)

    @property
    def name_width(self) -> float:
        """Width left for a zone's name."""
        return _name_width(self.boxes[0].width, self.rate_width, self.area_width)


def lay_out_key(product: ProductContent, free: Sequence[Box]) -> Key:
    """Find out what a key can hold in boxes of one width."""
    rate = max((text_width(rate_text(product, row), size=_SIZE_MM, bold=True) for row in product.rows), default=0.0)
    area = max((text_width(row.true_area, size=_SIZE_MM) for row in product.rows), default=0.0)
    area = max(area, text_width("≈ 0.000", size=_SIZE_MM))
    rate, area = max(rate, text_width("rate", size=_SIZE_MM)), max(area, text_width("ac", size=_SIZE_MM))
    room = _name_width(free[0].width, rate, area) if free else 0.0
    names = {printable(row.zone) for row in product.rows}
    long = [name for name in names if text_width(name, size=_SIZE_MM) > room]
    lines = max((len(wrapped(name, width=room, size=_SIZE_MM)) for name in long), default=1) if room > 0 else 1
    key = Key(boxes=tuple(free), lines_each=lines, rate_width=rate, area_width=area)
    return Key(
        boxes=tuple(box for box in free if key.entries_in(box) > 0 and room > 0),
        lines_each=lines,
        rate_width=rate,
        area_width=area,
    )


def key_marks(content: Content, product: ProductContent, key: Key, numbered: Sequence[Numbered]) -> Iterator[Mark]:
    """Yield the key: number, zone, rate, and the area of what bears the number."""
    left = list(enumerate(numbered, start=1))
    for box in key.boxes:
        count = key.entries_in(box)
        here, left = left[:count], left[count:]
        if not here:
            return
        yield from text_block("Small parts, by number", width=box.width, size=HEAD_MM, bold=True).draw(box.x, box.y)
        y = box.y + _TITLE_MM
        yield from _line(key, box, y, ("zone", "rate", content.area_unit), bold=False)
        yield Line(points=np.array(((box.x, y + _LINE_MM), (box.right, y + _LINE_MM))))
        y += _LINE_MM
        for at, (number, one) in enumerate(here):
            yield from _entry(product, key, box, y + at * key.entry_mm, (str(number), content.area_unit, one))


def _entry(product: ProductContent, key: Key, box: Box, y: float, entry: tuple[str, str, Numbered]) -> Iterator[Mark]:
    number, area_unit, one = entry
    row = product.rows[one.row]
    yield from pill(number, 1.9).marks(box.x + _NUMBER_MM / 2, y + _LINE_MM / 2)
    first, *more = wrapped(row.zone, width=key.name_width, size=_SIZE_MM) or ("",)
    yield from _line(
        key, box, y, (first, rate_text(product, row), key_area(product, one.patches, area_unit)), bold=True
    )
    for at, line in enumerate(more, start=1):
        yield Words(x=box.x + _NUMBER_MM + _GAP_MM, y=_baseline(y + at * _LINE_MM), text=line, size=_SIZE_MM)


def _line(key: Key, box: Box, y: float, cells: tuple[str, str, str], *, bold: bool) -> Iterator[Mark]:
    zone, rate, area = cells
    baseline = _baseline(y)
    yield Words(x=box.x + _NUMBER_MM + _GAP_MM, y=baseline, text=zone, size=_SIZE_MM)
    rate_end = box.right - key.area_width - _GAP_MM
    yield Words(x=rate_end, y=baseline, text=rate, size=_SIZE_MM, anchor="end", bold=bold)
    yield Words(x=box.right, y=baseline, text=area, size=_SIZE_MM, anchor="end")


def _baseline(top: float) -> float:
    return top + (_LINE_MM + CAP_HEIGHT * _SIZE_MM) / 2


def _name_width(width: float, rate_width: float, area_width: float) -> float:
    return width - _NUMBER_MM - rate_width - area_width - 3 * _GAP_MM
