from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from support_cases import rectangle

from vrx.inputs.rings import linear_rings, polygons_of_records


def rings_of(*rings: list[tuple[float, float]]) -> np.ndarray:
    points = np.array([point for ring in rings for point in ring], dtype=float)
    return linear_rings(points, np.array([len(ring) for ring in rings]))


BIG = rectangle(0, 0, 100, 100, clockwise=True)


@pytest.mark.parametrize(
    ("rings", "area", "against", "outside"),
    [
        pytest.param([BIG, rectangle(20, 20, 40, 40)], 9_600, False, False, id="a hole wound as one"),
        pytest.param(
            [BIG, rectangle(20, 20, 40, 40, clockwise=True)], 9_600, True, False, id="a hole wound like its shell"
        ),
        pytest.param([rectangle(20, 20, 40, 40), BIG], 9_600, False, False, id="the hole comes first"),
        pytest.param(
            [BIG, rectangle(20, 20, 80, 80), rectangle(40, 40, 60, 60, clockwise=True)],
            10_000 - 3_600 + 400,
            False,
            False,
            id="an island in the hole",
        ),
        pytest.param([BIG, rectangle(0, 0, 40, 40)], 8_400, False, False, id="a hole that touches the edge"),
        pytest.param([BIG, [(0, 0), (100, 100), (0, 100), (0, 0)]], 5_000, False, False, id="a hole of edge points"),
        pytest.param([BIG, rectangle(200, 0, 300, 100, clockwise=True)], 20_000, False, False, id="two parts"),
        pytest.param([BIG, rectangle(200, 0, 300, 100)], 20_000, False, True, id="a hole outside is ground"),
        pytest.param([rectangle(0, 0, 10, 10)], 100, False, False, id="one ring, however it is wound"),
    ],
)
def test_nesting_decides_what_is_a_hole(
    rings: list[list[tuple[float, float]]], area: float, against: bool, outside: bool
) -> None:
    """Areas follow from where the rings lie; winding that says otherwise is reported."""
    nested = polygons_of_records(rings_of(*rings), np.zeros(len(rings), dtype=np.intp), 1)
    assert nested.shapes[0].area == area
    assert (nested.against_winding.tolist(), nested.outside.tolist()) == ([0] * against, [0] * outside)


def test_rings_of_other_records_do_not_count() -> None:
    """A small polygon over a large one of another record is no hole in it; a record without rings is None."""
    rings = rings_of(BIG, rectangle(20, 20, 40, 40, clockwise=True))
    nested = polygons_of_records(rings, np.array([0, 2]), 3)
    assert [shape and shape.area for shape in nested.shapes] == [10_000.0, None, 400.0]


def test_many_rings_of_one_record_are_nested_like_few() -> None:
    """A hundred holes in one shell, found through the tree."""
    holes = [rectangle(10 * x + 2, 10 * y + 2, 10 * x + 8, 10 * y + 8) for x in range(10) for y in range(10)]
    nested = polygons_of_records(rings_of(BIG, *holes), np.zeros(101, dtype=np.intp), 1)
    assert nested.shapes[0].geom_type == "Polygon"
    assert nested.shapes[0].area == 10_000 - 100 * 36


@given(st.data())
def test_the_order_and_winding_of_rings_do_not_matter(data: st.DataObject) -> None:
    """Even-odd area of nested squares, in any order and wound in any way, is that of their symmetric difference."""
    widths = data.draw(st.lists(st.integers(1, 50), min_size=2, max_size=6, unique=True))
    rings = [rectangle(-w, -w, w, w, clockwise=data.draw(st.booleans())) for w in widths]
    order = data.draw(st.permutations(range(len(rings))))
    nested = polygons_of_records(rings_of(*(rings[at] for at in order)), np.zeros(len(rings), dtype=np.intp), 1)
    expected = shapely.Polygon()
    for ring in rings:
        expected = expected.symmetric_difference(shapely.Polygon(ring))
    assert nested.shapes[0].area == expected.area
    assert nested.shapes[0].is_valid


@pytest.mark.parametrize(
    ("points", "count"),
    [
        pytest.param([(0, 0)], 4, id="one point"),
        pytest.param([(0, 0), (1, 1)], 4, id="two points"),
        pytest.param([(0, 0), (1, 0), (1, 1)], 4, id="open"),
        pytest.param([(0, 0), (1, 0), (1, 1), (0, 0)], 4, id="closed"),
    ],
)
def test_short_and_open_rings_are_filled_up(points: list[tuple[float, float]], count: int) -> None:
    """A ring has four points at least and ends where it starts; its neighbours are not touched."""
    before, ring, after = rings_of(BIG, points, BIG)
    assert shapely.get_num_coordinates(ring) == count
    assert ring.is_closed
    assert before.equals(after)
    assert shapely.get_num_coordinates(before) == 5
