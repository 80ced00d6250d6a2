"""Overlaps, common cover and bare ground, against plain set operations of shapely, pair by pair."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vrx.geo.overlaps import common_ground, covered_by, holes_of, left_over, misfits, overlaps, wide_parts

CENTIMETRES = st.integers(-4000, 4000).map(lambda one: one / 100)


@st.composite
def quadrilaterals(draw: st.DrawFn) -> shapely.Polygon:
    """A convex shape of 2 to 40 m, anywhere in a square of 80 m."""
    points = draw(st.lists(st.tuples(CENTIMETRES, CENTIMETRES), min_size=3, max_size=6, unique=True))
    hull = shapely.convex_hull(shapely.multipoints(points))
    return hull if hull.geom_type == "Polygon" and hull.area > 1 else shapely.box(0, 0, 10, 10)


maps = st.lists(quadrilaterals(), min_size=1, max_size=8).map(lambda listed: np.array([*listed, None], dtype=object))


@settings(max_examples=150)
@given(shapes=maps)
def test_overlaps_are_those_of_every_pair(shapes: np.ndarray) -> None:
    """The same pairs and the same areas as shapely finds by going through all of them."""
    first, second, common = overlaps(shapes, misfits(shapes), narrower_than_m=0.0)
    found = dict(zip(zip(first.tolist(), second.tolist(), strict=True), shapely.area(common).tolist(), strict=True))
    for one, other in combinations(range(len(shapes) - 1), 2):
        area = shapely.intersection(shapes[one], shapes[other]).area
        assert found.pop((one, other), 0.0) == pytest.approx(area, rel=1e-9, abs=1e-9)
    assert not found


@settings(max_examples=150)
@given(shapes=maps)
def test_cover_and_bare_ground_are_those_of_one_union(shapes: np.ndarray) -> None:
    """Ground that is covered, and what is left of a field, add up to the field, as a plain union has it."""
    field = shapely.box(-50, -50, 50, 50)
    covered = covered_by(shapes, misfits(shapes))
    assert covered.area == pytest.approx(shapely.union_all(shapes[:-1]).area, rel=1e-9)
    bare = left_over(field, covered, narrower_than_m=0.0)
    assert sum(one.area for one in bare) == pytest.approx(field.area - covered.area, rel=1e-9)
    assert [one.area for one in bare] == sorted((one.area for one in bare), reverse=True)


def test_shapes_that_fit_do_not_overlap() -> None:
    """Nine cells of a grid share borders and nothing else; together they are the square."""
    cells = np.array([shapely.box(x, y, x + 1, y + 1) for x in range(3) for y in range(3)], dtype=object)
    misfit = misfits(cells)
    assert not misfit.any()
    assert len(overlaps(cells, misfit, narrower_than_m=0.0)[0]) == 0
    assert covered_by(cells, misfit).equals(shapely.box(0, 0, 3, 3))


@pytest.mark.parametrize(
    ("reach", "count"), [pytest.param(0.019, 0, id="19 mm wide"), pytest.param(0.021, 1, id="21 mm wide")]
)
def test_overlaps_that_rounding_makes_are_left_out(reach: float, count: int) -> None:
    """A strip 100 m long counts from 2 cm of width on."""
    shapes = np.array([shapely.box(0, 0, 10 + reach, 100), shapely.box(10, 0, 20, 100)], dtype=object)
    first, second, common = overlaps(shapes, misfits(shapes), narrower_than_m=0.02)
    assert len(first) == len(second) == len(common) == count


def test_one_within_another_overlaps_it() -> None:
    """A shape inside another has no edge in common with it, and is found."""
    shapes = np.array([shapely.box(0, 0, 10, 10), shapely.box(4, 4, 6, 6)], dtype=object)
    first, second, common = overlaps(shapes, misfits(shapes), narrower_than_m=0.0)
    assert (first.tolist(), second.tolist(), shapely.area(common).tolist()) == ([0], [1], [4.0])


def test_holes_are_those_that_nothing_fills() -> None:
    """Of two holes one is half filled by an island that touches its edge: the other one and the other half are bare."""
    ring = shapely.box(0, 0, 100, 100) - shapely.box(10, 10, 30, 30) - shapely.box(50, 50, 60, 60)
    both = np.array([ring, shapely.box(10, 10, 20, 30)], dtype=object)
    holes = holes_of(covered_by(both, misfits(both)), narrower_than_m=0.02)
    assert [one.area for one in holes] == pytest.approx([200, 100])


def test_ground_that_hangs_together_by_a_hair_is_two() -> None:
    """Gaps of 12 m and 3 m, joined by a strip 1 cm wide along the boundary, are two; a strip of 50 cm joins them."""
    field = shapely.box(0, 0, 100, 100)
    for strip, count in ((0.01, 2), (0.5, 1)):
        shapes = [shapely.box(0, 0, 40, 100), shapely.box(52, 0, 70, 100 - strip), shapely.box(73, 0, 100, 100)]
        bare = left_over(field, shapely.union_all(shapes), narrower_than_m=0.02)
        assert len(bare) == count


def test_nothing_covers_nothing() -> None:
    """A map without a shape covers an empty polygon, which has no parts."""
    none = np.array([None], dtype=object)
    assert covered_by(none, misfits(none)).is_empty
    assert wide_parts(shapely.Polygon(), narrower_than_m=0.02) == ()


def test_ground_beside_a_needle_is_not_in_common() -> None:
    """The half of a field has needles along the outline of the other half: a shape there lies beside it, not in it.

    Plain shapely takes all of the shape for common ground; where its own centre lies says no.
    """
    half = shapely.Polygon(
        [(62.15819420387281, -330.1137998454802), (-368.0047770575815, -75.241643214138), (0, -293.28498363521226),
         (0, 113.53757383781287), (-189.59427041540465, 225.87244180004595), (8.280696387200356, 108.63124975294795),
         (135.71677259204853, 323.7127389946411), (368.0047770905213, 186.08177433805835)]
    )  # fmt: skip
    beside = shapely.Polygon(
        [(-297.2452370023633, -117.16676876185468), (-127.66298819006468, -217.64448620563036),
         (-127.6633409229005, -182.77385689231156), (-238.3923157750944, -117.16649817072663)]
    )  # fmt: skip
    assert not half.contains(beside.centroid)
    assert common_ground(half, beside).area == pytest.approx(0, abs=1e-3)
    assert common_ground(beside, half).area == pytest.approx(0, abs=1e-3)
    assert sum(one.area for one in left_over(beside, half, narrower_than_m=0.02)) == pytest.approx(beside.area)


def test_what_lies_within_is_in_common_as_it_is() -> None:
    """A shape that the other covers comes out vertex for vertex, whichever is named first."""
    inner, outer = shapely.box(0, 1 / 3, 1, 2 / 3), shapely.box(0, 0, 2, 1)
    assert common_ground(inner, outer).equals_exact(inner, 0)
    assert common_ground(outer, inner).equals_exact(inner, 0)


def test_one_shape_a_thousand_times_is_held_against_its_first() -> None:
    """Of 1,000 like squares and one that crosses them each is paired with the first: 1,000 pairs, not 500,000."""
    shapes = np.array([*[shapely.box(0, 0, 10, 10)] * 1000, shapely.box(5, 0, 15, 10)], dtype=object)
    first, second, common = overlaps(shapes, misfits(shapes), narrower_than_m=0.02)
    assert (first == 0).all()
    assert second.tolist() == list(range(1, 1001))
    assert shapely.area(common).tolist() == [100.0] * 999 + [50.0]
