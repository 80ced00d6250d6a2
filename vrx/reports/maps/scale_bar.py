"""Scale bar and north arrow."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, log10
from typing import Final

import numpy as np

from vrx.model.drawing import Area, Mark, Words
from vrx.reports.colours import BLACK, WHITE
from vrx.reports.fonts import CAP_HEIGHT, text_width
from vrx.reports.maps.frame import Box, MapFrame
from vrx.units import FOOT_M

STRIP_MM: Final = 11.0
"""Height of the strip below a map that holds scale bar and north arrow."""
_MOST_MM: Final = 70.0
_BAR_MM: Final = 1.6
_TEXT_MM: Final = 2.8
_ARROW_MM: Final = 7.5


def round_length(most: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20, 50 ... that is not above ``most``; below 1 it goes on in tenths.

    Examples
    --------
    >>> [round_length(most) for most in (1, 4.9, 5, 380, 0.3)]
    [1.0, 2.0, 5.0, 200.0, 0.2]
    """
    power = 10.0 ** floor(log10(most) + 1e-9)
    return round(max(factor * power for factor in (1, 2, 5) if factor * power <= most * (1 + 1e-9)), 9)


def scale_bar(frame: MapFrame, strip: Box, area_unit: str) -> Iterator[Mark]:
    """Yield a bar in two halves, one of them black, with its lengths in round feet or metres.

    Parameters
    ----------
    strip : Box
        Room for it, at least ``STRIP_MM`` high.
    area_unit : str
        ``ac``: feet; else metres.
    """
    unit, metres = ("ft", float(FOOT_M)) if area_unit == "ac" else ("m", 1.0)
    mm = frame.mm_per_m * metres
    length = round_length(min(_MOST_MM, strip.width * 0.45) / mm)
    half = length / 2 * mm
    x, y = strip.x + 1.0, strip.y + 2.5
    for at, fill in enumerate((BLACK, WHITE)):
        yield rectangle(Box(x=x + at * half, y=y, width=half, height=_BAR_MM), fill=fill)
    below = y + _BAR_MM + _TEXT_MM
    yield Words(x=x, y=below, text="0", size=_TEXT_MM, anchor="middle")
    end = f"{length:,g}"
    middle = f"{length / 2:,g}"
    if text_width(f"{middle}{end}", size=_TEXT_MM) < half * 1.5:
        yield Words(x=x + half, y=below, text=middle, size=_TEXT_MM, anchor="middle")
    # The number stands below the bar's end, its unit behind it.
    start = x + 2 * half - text_width(end, size=_TEXT_MM) / 2
    yield Words(x=start, y=below, text=f"{end} {unit}", size=_TEXT_MM)


def north_arrow(strip: Box) -> Iterator[Mark]:
    """Yield an arrow to the north with its letter, at the right end of a strip."""
    x, top = strip.right - 4.0, strip.y + 1.5
    tip, foot = (x, top), top + _ARROW_MM
    left = np.array((tip, (x - 2.0, foot), (x, foot - 1.6), tip))
    right = np.array((tip, (x + 2.0, foot), (x, foot - 1.6), tip))
    yield Area(rings=(left,), fill=BLACK, stroke=BLACK, width=0.2)
    yield Area(rings=(right,), fill=WHITE, stroke=BLACK, width=0.2)
    middle = top + _ARROW_MM / 2 + CAP_HEIGHT * 4.0 / 2
    yield Words(x=x - 3.2, y=middle, text="N", size=4.0, anchor="end", bold=True)


def rectangle(box: Box, *, fill: str = "", stroke: str = BLACK, width: float = 0.2, opacity: float = 1.0) -> Area:
    """Return a box as a mark."""
    ring = ((box.x, box.y), (box.right, box.y), (box.right, box.bottom), (box.x, box.bottom), (box.x, box.y))
    return Area(rings=(np.array(ring),), fill=fill, stroke=stroke, width=width, opacity=opacity)
