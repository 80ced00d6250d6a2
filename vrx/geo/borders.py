"""Borders: which pieces of a coverage are neighbours, how long their shared border is, and what hangs together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Borders:
    """Who borders on whom in a coverage of ``count`` pieces.

    Attributes
    ----------
    left, right : int64 array, shape (n_pairs,)
        Pieces of each pair of neighbours, left < right, each pair once.
    length_m : float64 array, shape (n_pairs,)
        Length of the shared border.
    start, neighbours : int64 array, shapes (count + 1,) and (2 * n_pairs,)
        ``neighbours[start[piece] : start[piece + 1]]`` are those of a piece, the longest shared border first.
    """

    count: int
    left: NDArray[np.int64]
    right: NDArray[np.int64]
    length_m: NDArray[np.float64]
    start: NDArray[np.int64]
    neighbours: NDArray[np.int64]

    def of(self, piece: int) -> list[int]:
        """Return the neighbours of a piece, the one with the longest shared border first."""
        found: list[int] = self.neighbours[self.start[piece] : self.start[piece + 1]].tolist()
        return found

    def components(self, key: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the group of each piece: neighbours with equal keys, numbered from 0 by their first piece."""
        same = key[self.left] == key[self.right]
        return _components(self.count, self.left[same], self.right[same])

    def between(self, group: NDArray[np.int64]) -> Borders:
        """Return the borders between groups of pieces; borders inside a group vanish."""
        count = int(group.max()) + 1 if len(group) else 0
        return _summed(count, group[self.left], group[self.right], self.length_m)


def shared_borders(shapes: NDArray[np.object_]) -> Borders:
    """Find the neighbours in a valid coverage by the edges that two pieces share, vertex for vertex."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    rings = shapely.get_rings(shapes)
    ends = np.cumsum(shapely.get_num_coordinates(rings))[:-1]
    begin, end = points[:-1], points[1:]
    edge = np.ones(len(points) - 1, dtype=bool)
    edge[ends - 1] = False  # from the last point of a ring to the first of the next is no edge
    begin, end, owner = begin[edge], end[edge], owner[:-1][edge]
    # An edge is the same one whichever way it is walked: order its two ends.
    swap = (begin[:, 0] > end[:, 0]) | ((begin[:, 0] == end[:, 0]) & (begin[:, 1] > end[:, 1]))
    low, high = np.where(swap[:, None], end, begin), np.where(swap[:, None], begin, end)
    order = np.lexsort((high[:, 1], high[:, 0], low[:, 1], low[:, 0]))
    low, high, owner = low[order], high[order], owner[order]
    twin = np.flatnonzero((low[1:] == low[:-1]).all(axis=1) & (high[1:] == high[:-1]).all(axis=1))
    length = np.linalg.norm(high[twin] - low[twin], axis=1)
    return _summed(len(shapes), owner[twin], owner[twin + 1], length)


def _summed(count: int, a: NDArray[np.int64], b: NDArray[np.int64], length_m: NDArray[np.float64]) -> Borders:
    apart = a != b
    left, right = np.minimum(a, b)[apart], np.maximum(a, b)[apart]
    code, inverse = np.unique(left * max(count, 1) + right, return_inverse=True)
    left, right = code // max(count, 1), code % max(count, 1)
    total = np.bincount(inverse, weights=length_m[apart], minlength=len(code)).astype(np.float64)
    one, other, both = np.concatenate((left, right)), np.concatenate((right, left)), np.concatenate((total, total))
    # Ties go by number, so that the same input gives the same map.
    order = np.lexsort((other, -both, one))
    start = np.searchsorted(one[order], np.arange(count + 1))
    return Borders(count=count, left=left, right=right, length_m=total, start=start, neighbours=other[order])


def _components(count: int, a: NDArray[np.int64], b: NDArray[np.int64]) -> NDArray[np.int64]:
    # Every piece takes the lowest number among its neighbours and their roots until nothing changes.
    root = np.arange(count)
    while True:
        low = np.minimum(root[a], root[b])
        lowered = root.copy()
        np.minimum.at(lowered, root[a], low)
        np.minimum.at(lowered, root[b], low)
        lowered = lowered[lowered]
        if np.array_equal(lowered, root):
            break
        root = lowered
    _, group = np.unique(root, return_inverse=True)
    return group.astype(np.int64)
