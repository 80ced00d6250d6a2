"""Spans: the strips that drives serve, from the machine's centre line, left negative."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from vrx.model.machine import Drive

_MICROMETRES: Final = 10**6


def width_of(drives: Iterable[Drive]) -> Fraction:
    """Return the width that drives reach together, in metres: ground under two of them counts once."""
    width, end = Fraction(0), None
    spans = sorted(tuple(Fraction(round(edge * _MICROMETRES), _MICROMETRES) for edge in one.span) for one in drives)
    for left, right in spans:
        start = left if end is None else max(left, end)
        if right > start:
            width, end = width + right - start, right
    return width
