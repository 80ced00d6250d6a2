"""The legend of a map: rate classes with what they come to, and the signs used."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, TypeAlias

import numpy as np

from vrx.model.content import Content, FindingContent, ProductContent, RateClass
from vrx.model.drawing import Area, Line, Mark, Words
from vrx.reports.colours import BLACK, WHITE, fill_colour
from vrx.reports.fonts import CAP_HEIGHT, printable, text_width
from vrx.reports.maps.findings import mark
from vrx.reports.maps.frame import Box
from vrx.reports.maps.ground import BOUNDARY_MM, RATE_BORDER_MM, ZONE_BORDER_MM, hatch_of
from vrx.reports.maps.label_text import KEEP_OUT, OFF
from vrx.reports.maps.panel import HEAD_MM, TEXT_MM, Block, stacked, text_block
from vrx.reports.maps.scale_bar import rectangle

Draw: TypeAlias = Callable[[float, float], Iterable[Mark]]

_SWATCH_MM: Final = (7.0, 3.6)
_ROW_MM: Final = 4.7
_SIGN_WIDTH_MM: Final = 9.0
_SIGN_MM: Final = 5.6
_GAP_MM: Final = 2.5
_MOST_NAMES_MM: Final = 150.0


def legend_block(content: Content, product: ProductContent, *, width: float, opacity: float) -> Block:
    """Return a table: each rate class with its ground, its share and its amount, the highest rate first; the total."""
    classes = tuple(reversed(product.classes))
    table = (
        ("rate", content.area_unit, "share", product.amount_unit),
        *((rate_words(one), one.area, one.share, one.amount) for one in classes),
        ("total", _bare(product.true_area, content.area_unit), "", _bare(product.total, product.amount_unit)),
    )
    size, ends = _columns(table, width)
    last = len(table) - 1

    def draw(x: float, y: float) -> Iterator[Mark]:
        for at, cells in enumerate(table):
            top = y + at * _ROW_MM
            if 0 < at < last:
                yield _swatch(x, top + (_ROW_MM - _SWATCH_MM[1]) / 2, classes[at - 1], opacity)
            for column, (cell, end) in enumerate(zip(cells, ends, strict=True)):
                if not cell:
                    continue
                yield Words(
                    x=x + end, y=top + (_ROW_MM + CAP_HEIGHT * size) / 2, text=cell, size=size, anchor="end",
                    bold=at == last or (column == 0 and at > 0),
                )  # fmt: skip
            if at in {0, last - 1}:
                yield Line(points=np.array(((x, top + _ROW_MM), (x + width, top + _ROW_MM))))

    head = text_block(f"Rates in {product.unit}", width=width, size=HEAD_MM, bold=True)
    note = (text_block(product.width_note, width=width),) if product.width_note else ()
    return stacked((head, Block(height=len(table) * _ROW_MM, draw=draw), *note), gap=0.5)


def signs_block(
    content: Content, product: ProductContent, findings: Sequence[FindingContent], *, width: float
) -> Block:
    """Return what the other signs on the map mean; only those that are on it."""
    signs: list[tuple[Draw, str]] = [
        (_line(BOUNDARY_MM), "boundary of the field"),
        (_line(RATE_BORDER_MM), "border between rates"),
        (_line(ZONE_BORDER_MM), "border between zones of one rate"),
    ]
    if product.keep_outs:
        signs.append((_hatched, f"{KEEP_OUT}: {_names([content.keep_outs[at].name for at in product.keep_outs])}"))
    if product.overlays:
        # Their ground has no line of its own: their names stand where names are read.
        signs.append((_nothing, f"overlays: {_names([f'{one.name} ({one.what})' for one in product.overlays])}"))
    severities = {one.severity for one in findings}
    if "stop" in severities:
        signs.append((lambda x, y: mark("stop", x + 3.5, y, "n"), "stop: finding n of the report"))
    if "caution" in severities:
        signs.append((lambda x, y: mark("caution", x + 3.5, y, "n"), "caution: finding n of the report"))
    return stacked([_sign(draw, text, width) for draw, text in signs])


def rate_words(one: RateClass) -> str:
    """Return a rate class as the legend names it: ``170``, ``0 (off)``."""
    return f"{one.rate} ({OFF})" if one.shade < 0 else one.rate


def _columns(table: Sequence[Sequence[str]], width: float) -> tuple[float, list[float]]:
    """Return the size of a table's text, and the right end of each column."""
    natural = [max(text_width(cell, size=TEXT_MM, bold=True) for cell in column) for column in zip(*table, strict=True)]
    room = width - _SWATCH_MM[0] - _GAP_MM * len(natural)
    shrink = min(1.0, room / sum(natural))
    spare = max(0.0, room - sum(natural)) / (len(natural) - 1)
    ends, end = [], _SWATCH_MM[0]
    for at, one in enumerate(natural):
        end += _GAP_MM + one * shrink + (spare if at else 0.0)
        ends.append(end)
    return TEXT_MM * shrink, ends


def _swatch(x: float, y: float, one: RateClass, opacity: float) -> Area:
    width, height = _SWATCH_MM
    ring = np.array(((x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)))
    fill = fill_colour(one.shade)
    return Area(rings=(ring,), fill=fill, opacity=opacity, hatch=hatch_of(one.shade), stroke=BLACK, width=0.2)


def _line(thickness: float) -> Draw:
    return lambda x, y: [Line(points=np.array(((x, y), (x + 7.0, y))), width=thickness)]


def _nothing(_x: float, _y: float) -> Iterable[Mark]:
    return ()


def _hatched(x: float, y: float) -> Iterator[Mark]:
    width, height = _SWATCH_MM
    box = rectangle(Box(x=x, y=y - height / 2, width=width, height=height))
    yield Area(rings=box.rings, fill=WHITE, hatch="crossed", stroke=BLACK, width=RATE_BORDER_MM)


def _sign(draw: Draw, text: str, width: float) -> Block:
    words = text_block(text, width=width - _SIGN_WIDTH_MM)

    def both(x: float, y: float) -> Iterator[Mark]:
        yield from draw(x, y + _SIGN_MM / 2)
        yield from words.draw(x + _SIGN_WIDTH_MM, y + (_SIGN_MM - 1.35 * TEXT_MM) / 2)

    return Block(height=max(words.height, _SIGN_MM), draw=both)


def _names(names: Sequence[str]) -> str:
    """Join names as far as a few lines hold them."""
    kept: list[str] = []
    for name in map(printable, names):
        if kept and text_width(", ".join((*kept, name)), size=TEXT_MM) > _MOST_NAMES_MM:
            return f"{', '.join(kept)} and {len(names) - len(kept)} more"
        kept.append(name)
    return ", ".join(kept)


def _bare(text: str, unit: str) -> str:
    return text.removesuffix(f" {unit}")
