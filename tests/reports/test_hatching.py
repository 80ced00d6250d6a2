"""Hatches: lines inside their polygon, at the right distance, on one lattice for all."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from vrx.model.drawing import Area
from vrx.reports.hatching import SPACING_MM, hatch_lines


def area(*rings: list[tuple[float, float]], hatch: str = "slanted") -> Area:
    return Area(rings=tuple(np.array(ring, dtype=np.float64) for ring in rings), hatch=hatch)


def square(low: float, high: float) -> list[tuple[float, float]]:
    return [(low, low), (high, low), (high, high), (low, high), (low, low)]


@pytest.mark.parametrize(("hatch", "directions"), [("", 0), ("slanted", 1), ("crossed", 2)])
def test_a_hatch_covers_its_area_evenly(hatch: str, directions: int) -> None:
    """The length of lines is the area over their distance, for each direction; a hole has none."""
    holed = area(square(0, 60), square(20, 40), hatch=hatch)
    lines = hatch_lines(holed)
    length = float(np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum())
    assert length == pytest.approx(directions * (60**2 - 20**2) / SPACING_MM, rel=0.01)


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=9, unique=True))
def test_hatch_lines_stay_inside(corners: list[tuple[int, int]]) -> None:
    """Also where corners lie on a line of the lattice, and where the polygon has spikes."""
    hull = shapely.convex_hull(shapely.MultiPoint(corners))
    if hull.area == 0:
        return
    ring = [(float(x), float(y)) for x, y in hull.exterior.coords]
    lines = shapely.linestrings(hatch_lines(area(ring, hatch="crossed")))
    assert shapely.covers(shapely.buffer(hull, 1e-6), lines).all()


def test_hatches_of_neighbours_meet() -> None:
    """Lines of two halves are those of the whole."""
    whole = hatch_lines(area(square(0, 30)))
    left = [(0, 0), (11, 0), (11, 30), (0, 30), (0, 0)]
    right = [(11, 0), (30, 0), (30, 30), (11, 30), (11, 0)]
    halves = np.concatenate([hatch_lines(area(half)) for half in (left, right)])
    together = shapely.line_merge(shapely.union_all(shapely.linestrings(halves)))
    assert shapely.length(together) == pytest.approx(shapely.length(shapely.linestrings(whole)).sum(), abs=0.3)
    distance = shapely.hausdorff_distance(together, shapely.union_all(shapely.linestrings(whole)))
    assert distance < 0.2


def test_an_area_without_rings_has_no_hatch() -> None:
    """Nothing to draw is no fault."""
    assert hatch_lines(area()).shape == (0, 2, 2)
