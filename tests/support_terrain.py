"""Invented ground, drawn from a seed: jagged soil borders that neighbours share, and rings that look surveyed.

Everything is in metres on a plane. The same seed gives the same ground with any version of the libraries:
what comes out of GEOS in no fixed order is sorted before a random number is spent on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]


def jagged_mesh(
    rng: np.random.Generator,
    seeds: Points,
    box: tuple[float, float, float, float],
    *,
    amplitude: float,
    spacing_m: float,
) -> NDArray[np.object_]:
    """Return polygons around seeds, their shared borders bent.

    Parameters
    ----------
    seeds : shape (n, 2)
        A border runs half-way between neighbouring seeds.
    box : west, south, east, north
        The polygons cover it exactly.
    amplitude : float
        Sideways bend as a share of a border's length; keep it below 0.1, or borders cross.
    spacing_m : float
        Distance of the vertices on a border.

    Returns
    -------
    object array of polygons, west to east; up to a few crumbs more than seeds where borders cross.
    """
    edges = shapely.voronoi_polygons(shapely.multipoints(seeds), extend_to=shapely.box(*box), only_edges=True)
    ends = np.array([shapely.get_coordinates(edge)[[0, -1]] for edge in shapely.get_parts(edges)])
    backwards = (ends[:, 0, 0] > ends[:, 1, 0]) | ((ends[:, 0, 0] == ends[:, 1, 0]) & (ends[:, 0, 1] > ends[:, 1, 1]))
    ends[backwards] = ends[backwards, ::-1]
    ends = ends[np.lexsort(ends.reshape(-1, 4).round(3).T)]
    lines = [shapely.LineString(bent(rng, a, b, amplitude=amplitude, spacing_m=spacing_m)) for a, b in ends]
    frame = shapely.box(*box).exterior
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.union_all([*lines, frame]))))
    # The outermost borders run far beyond the box; what they enclose out there is not wanted.
    faces = faces[shapely.within(shapely.point_on_surface(faces), shapely.box(*box))]
    middles = shapely.get_coordinates(shapely.centroid(faces)).round(3)
    return np.array(faces[np.lexsort(middles.T[::-1])], dtype=object)


def bent(rng: np.random.Generator, start: Points, end: Points, *, amplitude: float, spacing_m: float) -> Points:
    """Return a wavy line between two points, shape (n, 2)."""
    along = end - start
    length = float(np.hypot(*along))
    count = max(2, round(length / spacing_m) + 1)
    share = np.linspace(0.0, 1.0, count)
    waves = np.arange(1, 6)
    height = rng.normal(0.0, amplitude / waves)
    # Every wave is nothing at both ends, so that borders still meet where they met.
    offset = length * (np.sin(np.pi * np.outer(share, waves)) @ height)
    offset[[0, -1]] = 0.0
    across = np.array([-along[1], along[0]]) / max(length, 1e-9)
    return start + share[:, None] * along + offset[:, None] * across


def wavy_line(
    rng: np.random.Generator, corners: Sequence[tuple[float, float]] | Points, *, amplitude: float, spacing_m: float
) -> Points:
    """Return a line through corners, its stretches a little uneven, shape (n, 2)."""
    turned = np.array(corners, dtype=float)
    stretches = [
        bent(rng, start, end, amplitude=amplitude, spacing_m=spacing_m)[:-1] for start, end in pairwise(turned)
    ]
    return np.vstack((*stretches, turned[-1:]))


def wavy_ring(
    rng: np.random.Generator, corners: Sequence[tuple[float, float]], *, amplitude: float, spacing_m: float
) -> Points:
    """Return a closed ring through corners, its sides a little uneven as a driven boundary is."""
    return wavy_line(rng, [*corners, corners[0]], amplitude=amplitude, spacing_m=spacing_m)


def spread_seeds(rng: np.random.Generator, box: tuple[float, float, float, float], across: int, up: int) -> Points:
    """Return one seed in each cell of a grid, each off its middle, so that no polygon is tiny."""
    west, south, east, north = box
    columns, rows = np.meshgrid(np.arange(across), np.arange(up))
    jitter = rng.uniform(0.15, 0.85, (across * up, 2))
    cell = np.array([(east - west) / across, (north - south) / up])
    return np.array([west, south]) + (np.column_stack((columns.ravel(), rows.ravel())) + jitter) * cell


def joined_by_class(faces: NDArray[np.object_], classes: NDArray[np.int64]) -> list[tuple[int, shapely.Polygon]]:
    """Join touching polygons of one class; return (class, polygon) in order of class, then west to east."""
    found: list[tuple[int, shapely.Polygon]] = []
    for kind in np.unique(classes):
        parts = shapely.get_parts(shapely.union_all(faces[classes == kind]))
        middles = shapely.get_coordinates(shapely.centroid(parts)).round(3)
        found += [(int(kind), shapely.normalize(part)) for part in parts[np.lexsort(middles.T[::-1])]]
    return found
