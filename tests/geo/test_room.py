"""Room for a disc in a polygon, against an erosion by plain shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from vrx.geo.room import has_room

HALF_METRES = st.integers(-80, 80).map(lambda one: one / 2)
STARS = st.lists(st.floats(2, 60), min_size=5, max_size=16)


def star(radii: list[float], hole: float = 0.0) -> shapely.Polygon:
    """A ring around the origin with its corners at some distances, and a round hole in its middle."""
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    ring = shapely.Polygon(np.column_stack((np.cos(angles), np.sin(angles))) * np.array(radii)[:, None])
    return ring if not hole else ring - shapely.Point(0, 0).buffer(hole)


@settings(max_examples=200)
@given(radii=STARS, hole=st.sampled_from([0.0, 0.5, 1.5]), width=st.floats(0.5, 60))
def test_room_is_what_an_erosion_leaves(radii: list[float], hole: float, width: float) -> None:
    """A disc finds room where eroding by its radius leaves ground; a hair's breadth either way is not asked for."""
    polygons = shapely.get_parts(np.array([star(radii, hole)], dtype=object))
    for polygon, found in zip(polygons, has_room(polygons, width).tolist(), strict=True):
        # 0.5 % of the radius is cut off around inward corners.
        if not shapely.buffer(polygon, -width / 2 * 1.01 - 0.01, quad_segs=64).is_empty:
            assert found
        if shapely.buffer(polygon, -width / 2 * 0.99 + 0.01, quad_segs=64).is_empty:
            assert not found


@settings(max_examples=100)
@given(
    corner=st.tuples(HALF_METRES, HALF_METRES),
    sides=st.tuples(st.integers(1, 60), st.integers(1, 60)),
    width=st.integers(1, 60),
)
def test_a_rectangle_has_room_up_to_its_shorter_side(
    corner: tuple[float, float], sides: tuple[int, int], width: int
) -> None:
    """Exactly as wide is wide enough."""
    (x, y), (wide, high) = corner, sides
    assert has_room(np.array([shapely.box(x, y, x + wide, y + high)], dtype=object), width)[0] == (min(sides) >= width)


@pytest.mark.parametrize(
    ("holes", "found"), [pytest.param(0, True, id="whole"), pytest.param(5, False, id="holes in a grid")]
)
def test_many_holes_take_the_room(holes: int, found: bool) -> None:
    """100 m by 100 m with a hole of 1 dm every 20 m has much ground and no room for a disc of 40 m."""
    square = shapely.box(0, 0, 100, 100)
    for at in range(holes**2):
        x, y = 10 + 20 * (at % holes), 10 + 20 * (at // holes)
        square -= shapely.box(x - 0.05, y - 0.05, x + 0.05, y + 0.05)
    assert has_room(np.array([square], dtype=object), 40)[0] == found


@pytest.mark.parametrize(("wide", "found"), [(11.9, False), (12.0, True)])
def test_a_long_strip(wide: float, found: bool) -> None:
    """However much ground it has, and however it bends, its width decides."""
    bent = shapely.LineString([(0, 0), (3000, 0), (3000, 3000)]).buffer(wide / 2, cap_style="flat", join_style="mitre")
    straight = shapely.box(0, 0, 5000, wide)
    # Where it bends there is room for a larger disc: across the corner, by a factor of 4 - 2 * sqrt(2).
    assert has_room(np.array([straight, bent], dtype=object), 12).tolist() == [found, True]
    assert has_room(np.array([bent], dtype=object), 11.9 * (4 - 2 * np.sqrt(2)) * 1.02).tolist() == [False]


def test_nothing_and_no_width() -> None:
    """A width of 0 has room anywhere; no polygons have none."""
    assert has_room(np.array([shapely.box(0, 0, 1, 1)], dtype=object), 0).tolist() == [True]
    assert has_room(np.empty(0, dtype=object), 5).tolist() == []
