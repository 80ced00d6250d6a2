"""Places for boxes in polygons: what is said to fit is inside, and what is easy to see is found."""

from __future__ import annotations

from itertools import pairwise
from time import process_time

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.geo.labels import boxes, place_boxes

SIZES = ((8.0, 3.0), (4.0, 2.0), (2.0, 1.0))
ROUNDING = 1e-9


def one_place(shape: BaseGeometry | None, sizes: tuple[tuple[float, float], ...] = SIZES) -> tuple[int, list[float]]:
    found = place_boxes(np.array([shape], dtype=object), np.array([sizes]))
    return int(found.chosen[0]), found.centres[0].tolist()


@st.composite
def stars(draw: st.DrawFn) -> BaseGeometry:
    """Polygons around a point, with 3 to 24 corners near and far in turn, as spiky as may be."""
    radii = draw(st.lists(st.floats(0.2, 12), min_size=3, max_size=24))
    x, y = draw(st.floats(-1e4, 1e4)), draw(st.floats(-1e4, 1e4))
    turns = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    points = np.column_stack((x + radii * np.cos(turns), y + radii * np.sin(turns)))
    star = shapely.Polygon(points)
    hole = draw(st.booleans())
    return star.difference(shapely.Point(x, y).buffer(min(radii) / 3)) if hole else star


@given(st.lists(stars(), min_size=1, max_size=6))
def test_a_placed_box_is_inside_its_polygon(shapes: list[BaseGeometry]) -> None:
    """Whatever the polygon; and what stays without a place has no number that could be taken for one."""
    sizes = np.broadcast_to(SIZES, (len(shapes), len(SIZES), 2))
    found = place_boxes(np.array(shapes, dtype=object), sizes)
    for shape, chosen, centre in zip(shapes, found.chosen.tolist(), found.centres, strict=True):
        if chosen < 0:
            assert np.isnan(centre).all()
            continue
        width, height = SIZES[chosen]
        placed = shapely.box(
            centre[0] - width / 2, centre[1] - height / 2, centre[0] + width / 2, centre[1] + height / 2
        )
        assert shapely.area(shapely.difference(placed, shape)) <= ROUNDING


@given(st.floats(0.5, 30), st.floats(0.5, 30), st.floats(-1e3, 1e3))
def test_in_a_rectangle_the_first_box_that_fits_is_taken(width: float, height: float, west: float) -> None:
    """Width and height decide; a hair's breadth either way may go either way."""
    chosen, _ = one_place(shapely.box(west, 5, west + width, 5 + height))
    surely = [at for at, (w, h) in enumerate(SIZES) if w <= width - 1e-6 and h <= height - 1e-6]
    perhaps = [at for at, (w, h) in enumerate(SIZES) if w <= width + 1e-6 and h <= height + 1e-6]
    assert chosen in {min(surely, default=-1), min(perhaps, default=-1)}


BENT = shapely.LineString([(0, 0), (40, 0), (40, 30)]).buffer(1.6, cap_style="flat", join_style="mitre")
RING = shapely.Point(0, 0).buffer(10).difference(shapely.Point(0, 0).buffer(5))
DIAGONAL = shapely.LineString([(0, 0), (60, 60)]).buffer(3.9, cap_style="flat")


@pytest.mark.parametrize(
    ("shape", "chosen"),
    [
        pytest.param(shapely.box(0, 0, 100, 3.2), 0, id="a long strip"),
        pytest.param(shapely.box(0, 0, 4.2, 100), 1, id="a tall strip takes a narrower box"),
        pytest.param(BENT, 0, id="a bent strip, whose centroid is outside"),
        pytest.param(RING, 0, id="a ring: above or below its hole"),
        pytest.param(DIAGONAL, 0, id="a slanted strip"),
        pytest.param(shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(5, 0, 15, 5)]), 0, id="two parts"),
        pytest.param(shapely.box(0, 0, 1.9, 50), -1, id="too narrow for all"),
        pytest.param(shapely.Polygon(), -1, id="empty"),
        pytest.param(None, -1, id="none"),
    ],
)
def test_boxes_that_a_person_would_place(shape: BaseGeometry | None, chosen: int) -> None:
    """Long, bent and hollow shapes hold the box that they have room for."""
    assert one_place(shape)[0] == chosen


@pytest.mark.parametrize(
    ("shape", "middle"),
    [
        pytest.param(shapely.box(0, 0, 100, 3.2), (50, 1.6), id="a strip"),
        pytest.param(shapely.box(0, 0, 20, 20), (10, 10), id="a square"),
    ],
)
def test_a_box_is_in_the_middle_where_the_middle_is_as_good(shape: BaseGeometry, middle: tuple[float, float]) -> None:
    """The largest circle of a strip may lie anywhere along it; its centroid is where people look."""
    assert one_place(shape)[1] == pytest.approx(middle)


def test_the_largest_circle_decides_where_the_centroid_is_near_the_border() -> None:
    """A square with a long tail: the box is in the square."""
    tailed = shapely.union(shapely.box(0, 0, 20, 20), shapely.box(20, 9, 140, 11))
    x, y = one_place(tailed)[1]
    assert (x, y) == pytest.approx((10, 10), abs=1.5)


def test_sizes_that_a_shape_does_not_offer_are_skipped() -> None:
    """NaN stands for none, at the front too; a shape without any size has no place."""
    square = shapely.box(0, 0, 10, 10)
    none = (np.nan, np.nan)
    found = place_boxes(np.array([square, square]), np.array([[none, (4, 2), none], [none, none, none]]))
    assert found.chosen.tolist() == [1, -1]


def test_no_shapes() -> None:
    """Nothing to place is no fault."""
    assert place_boxes(np.array([], dtype=object), np.empty((0, 2, 2))).chosen.shape == (0,)


def test_boxes_have_the_sizes_and_centres_asked_for() -> None:
    """West, south, east, north from middle, width and height."""
    assert shapely.bounds(boxes(np.array([[5.0, 7.0]]), np.array([[4.0, 2.0]]))).tolist() == [[3, 6, 7, 8]]


def test_almost_no_box_is_missed() -> None:
    """Against a slow search at 1,600 places a polygon: of those that hold a box there, at least 98 in 100 are found."""
    random = np.random.default_rng(7)
    shapes = [_blob(random) for _ in range(300)]
    size = np.array([[4.0, 2.0]])
    found = place_boxes(np.array(shapes), np.broadcast_to(size, (300, 1, 2))).chosen >= 0
    fits = np.array([_searched(shape, size) for shape in shapes])
    assert 50 < fits.sum() < 250
    assert (found & fits).sum() >= 0.98 * fits.sum()


def _blob(random: np.random.Generator) -> BaseGeometry:
    turns = np.linspace(0, 2 * np.pi, 14, endpoint=False)
    radii = random.uniform(0.8, 5.5, 14)
    return shapely.Polygon(np.column_stack((radii * np.cos(turns), radii * np.sin(turns))))


def _searched(shape: BaseGeometry, size: NDArray[np.float64]) -> bool:
    west, south, east, north = shape.bounds
    x, y = np.meshgrid(np.linspace(west, east, 40), np.linspace(south, north, 40))
    centres = np.column_stack((x.ravel(), y.ravel()))
    shapely.prepare(shape)
    return bool(shapely.contains(shape, boxes(centres, np.broadcast_to(size, centres.shape))).any())


def test_2000_zones_take_well_under_a_second() -> None:
    """Of 30 corners each, with eight sizes a zone: 0.3 s of one processor where this was written."""
    random = np.random.default_rng(1)
    turns = np.sort(random.uniform(0, 2 * np.pi, (2000, 30)), axis=1)
    radii = random.uniform(6, 10, (2000, 30))
    shapes = shapely.buffer(shapely.polygons(np.stack((radii * np.cos(turns), radii * np.sin(turns)), axis=-1)), 0)
    sizes = np.broadcast_to([(w * s, s) for s in (6, 4, 2.5, 1.8) for w in (2.5, 1.5)], (2000, 8, 2))
    times = [process_time()]
    for _ in range(3):
        place_boxes(shapes, sizes)
        times.append(process_time())
    assert min(end - begin for begin, end in pairwise(times)) < 0.9
