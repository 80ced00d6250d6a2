"""Findings on a map: a small mark with its number at its place, a shape for each severity."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, cos, hypot, pi, sin
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.model.content import Content, FindingContent, ProductContent
from vrx.model.drawing import Area, Line, Mark, Words
from vrx.model.finding import Severity
from vrx.reports.colours import BLACK, WHITE
from vrx.reports.fonts import CAP_HEIGHT
from vrx.reports.maps.frame import Box, MapFrame

MARK_MM: Final = 5.8
"""Width and height of the room that a mark takes."""
SHOWN: Final = ("stop", "caution")
"""Severities that are marked on a map."""
_TEXT_MM: Final = 2.2
_SAME_PLACE_MM: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedFinding:
    """A finding with the middle of its mark, and the place that it belongs to, on the page."""

    finding: FindingContent
    middle: tuple[float, float]
    place: tuple[float, float]

    @property
    def box(self) -> BaseGeometry:
        """The room that the mark takes."""
        (x, y), half = self.middle, MARK_MM / 2
        return shapely.box(x - half, y - half, x + half, y + half)


def shown_findings(content: Content, product: ProductContent) -> tuple[FindingContent, ...]:
    """Return the stops and cautions that have a place and concern this product."""
    return tuple(
        one
        for one in content.findings
        if one.place is not None and one.severity in SHOWN and one.product in {"", product.name}
    )


def place_findings(
    found: Sequence[FindingContent], frame: MapFrame, *, taken: Sequence[BaseGeometry] = ()
) -> tuple[PlacedFinding, ...]:
    """Place marks; one that would cover another, or a box that is taken, moves beside it.

    One for which no place is free is left out.
    """
    placed: list[PlacedFinding] = []
    middles = np.empty((0, 2))
    for one in found:
        place = frame.on_page(np.array([one.place], dtype=np.float64))
        tries = _tries(_within(place, frame.room), frame.room)
        free = _free(tries[~_covering(tries, taken)], middles)
        if len(free):
            middles = np.concatenate((middles, free[:1]))
            (x, y), (place_x, place_y) = free[0].tolist(), _clipped(place, frame.room)[0].tolist()
            placed.append(PlacedFinding(finding=one, middle=(x, y), place=(place_x, place_y)))
    return tuple(placed)


def finding_marks(placed: Sequence[PlacedFinding], *, spared: Sequence[BaseGeometry] = ()) -> Iterator[Mark]:
    """Yield the marks, and a line to its place from each that had to move.

    Parameters
    ----------
    spared : sequence of polygons
        Boxes that these lines do not run across: a dot in a label would be read as a decimal point.
    """
    covered = shapely.union_all(list(spared))
    moved = [one for one in placed if hypot(*np.subtract(one.middle, one.place)) > _SAME_PLACE_MM]
    lines = [line for one in moved for line in _lines((one.middle, one.place), covered)]
    for line in lines:
        yield Line(points=line, stroke=WHITE, width=0.7)
    for line in lines:
        yield Line(points=line, stroke=BLACK, width=0.3)
    for one in moved:
        dot = _polygon(*one.place, 0.5, 12, 0.0)
        if not shapely.intersects(covered, shapely.polygons(dot)):
            yield Area(rings=(dot,), fill=BLACK)
    for one in placed:
        key = f"finding {one.finding.number}"
        yield from mark(one.finding.severity, *one.middle, str(one.finding.number), key=key)


def _lines(ends: tuple[tuple[float, float], ...], covered: BaseGeometry) -> list[NDArray[np.float64]]:
    left = shapely.difference(shapely.linestrings(ends), covered)
    return [shapely.get_coordinates(part) for part in shapely.get_parts(left)]


def mark(severity: Severity, x: float, y: float, text: str, *, key: str = "") -> Iterator[Mark]:
    """Yield a mark around a point: a filled octagon for a stop, a triangle for a caution, a circle for a note."""
    stop, low = severity == "stop", y
    if severity == "caution":
        low = y + 0.75
        ring = _polygon(x, y + 0.65, MARK_MM * 0.53, 3, -pi / 2)
    else:
        ring = _polygon(x, y, MARK_MM * 0.45, 8 if stop else 32, pi / 8)
    yield Area(rings=(ring,), fill=BLACK if stop else WHITE, stroke=BLACK, width=0.4, key=key)
    size = _TEXT_MM if len(text) < 3 else _TEXT_MM * 0.75
    baseline = low + CAP_HEIGHT * size / 2
    yield Words(
        x=x, y=baseline, text=text, size=size, anchor="middle", bold=True, colour=WHITE if stop else BLACK, key=key
    )


def _within(place: NDArray[np.float64], room: Box) -> NDArray[np.float64]:
    half = min(MARK_MM, room.width, room.height) / 2
    return _clipped(
        place, Box(x=room.x + half, y=room.y + half, width=room.width - 2 * half, height=room.height - 2 * half)
    )


def _clipped(place: NDArray[np.float64], box: Box) -> NDArray[np.float64]:
    return np.clip(place, (box.x, box.y), (box.right, box.bottom))


def _tries(place: NDArray[np.float64], room: Box) -> NDArray[np.float64]:
    """Return the place itself and others ever farther around it, as far as they are in the room."""
    tries = [place]
    for ring in range(1, ceil(max(room.width, room.height) / MARK_MM) + 1):
        turn = np.arange(8 * ring) * (2 * pi / (8 * ring))
        tries.append(place + ring * MARK_MM * np.column_stack((np.cos(turn), np.sin(turn))))
    every = np.concatenate(tries)
    kept: NDArray[np.float64] = every[(np.abs(every - _within(every, room)) < 1e-9).all(axis=1)]
    return kept


def _covering(tries: NDArray[np.float64], taken: Sequence[BaseGeometry]) -> NDArray[np.bool_]:
    low, high = tries - MARK_MM / 2, tries + MARK_MM / 2
    found = np.zeros(len(tries), dtype=bool)
    found[shapely.STRtree(taken).query(shapely.box(*low.T, *high.T), predicate="intersects")[0]] = True
    return found


def _free(tries: NDArray[np.float64], taken: NDArray[np.float64]) -> NDArray[np.float64]:
    apart = np.abs(tries[:, None] - taken[None]).max(axis=2)
    kept: NDArray[np.float64] = tries[(apart >= MARK_MM).all(axis=1)]
    return kept


def _polygon(x: float, y: float, radius: float, corners: int, start: float) -> NDArray[np.float64]:
    turns = [start + 2 * pi * at / corners for at in range(corners)]
    points = [(x + radius * cos(turn), y + radius * sin(turn)) for turn in turns]
    return np.array((*points, points[0]))
