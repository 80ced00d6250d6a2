"""Hatching: slanted lines across a polygon, drawn as lines, so that every format shows the same ones."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from vrx.model.drawing import Area

SPACING_MM = 1.6
_ANGLES = {"": (), "slanted": (pi / 4,), "crossed": (pi / 4, -pi / 4)}


def hatch_lines(area: Area, spacing: float = SPACING_MM) -> NDArray[np.float64]:
    """Return the lines of an area's hatch, shape (n, 2, 2): two ends of x and y each.

    Lines of one angle lie on one lattice over the whole page, so that the hatches of neighbours meet.
    """
    found = [_lines(area.rings, angle, spacing) for angle in _ANGLES[area.hatch]]
    return np.concatenate(found) if found else np.empty((0, 2, 2))


def _lines(rings: tuple[NDArray[np.float64], ...], angle: float, spacing: float) -> NDArray[np.float64]:
    # Turned so that the hatch runs along x: it is on the odd stretches between the crossings of each lattice line.
    turn = np.array(((cos(angle), sin(angle)), (-sin(angle), cos(angle))))
    edges = [np.stack((turned[:-1], turned[1:]), axis=1) for turned in (ring @ turn.T for ring in rings)]
    if not edges:
        return np.empty((0, 2, 2))
    crossed = _crossings(np.concatenate(edges), spacing)
    pairs = crossed.reshape(-1, 2, 2)
    pairs = pairs[pairs[:, 1, 0] - pairs[:, 0, 0] > 0.05]
    turned_back: NDArray[np.float64] = pairs @ turn
    return turned_back


def _crossings(edges: NDArray[np.float64], spacing: float) -> NDArray[np.float64]:
    """Return where lattice lines cross edges, as x and y, along each line from left to right: an even number each."""
    low = np.ceil(edges[:, :, 1].min(axis=1) / spacing)
    # A line through the upper end of an edge belongs to the next edge: each crossing counts once.
    count = (np.ceil(edges[:, :, 1].max(axis=1) / spacing) - low).astype(np.int64)
    edge = np.repeat(np.arange(len(edges)), count)
    line = np.repeat(low, count) + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    (x0, y0), (x1, y1) = edges[edge, 0].T, edges[edge, 1].T
    x = x0 + (line * spacing - y0) * (x1 - x0) / (y1 - y0)
    order = np.lexsort((x, line))
    return np.column_stack((x, line * spacing))[order]
