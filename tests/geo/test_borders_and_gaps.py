"""Who borders on whom, for how many metres, and which bare ground hangs together."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from support_messy_zones import Messy, messy
from support_terrain import jagged_mesh

from vrx.geo.borders import Borders, shared_borders
from vrx.geo.coverage import Cut, cut
from vrx.geo.gaps import find_gaps


def cells(columns: int, rows: int, size: float = 10.0) -> NDArray[np.object_]:
    """A grid of squares, numbered row by row from the south-west."""
    return np.array(
        [
            shapely.box(x * size, y * size, (x + 1) * size, (y + 1) * size)
            for y in range(rows)
            for x in range(columns)
        ],
        dtype=object,
    )  # fmt: skip


def pairs(borders: Borders) -> dict[tuple[int, int], float]:
    found = zip(borders.left.tolist(), borders.right.tolist(), borders.length_m.tolist(), strict=True)
    return {(left, right): length for left, right, length in found}


def assert_borders_are_intersections(shapes: NDArray[np.object_]) -> None:
    """Compare with intersections of outlines, pair by pair."""
    found = pairs(shared_borders(shapes))
    outlines = shapely.boundary(shapes)
    one, other = shapely.STRtree(shapes).query(shapes)
    for a, b in zip(one[one < other].tolist(), other[one < other].tolist(), strict=True):
        length = shapely.length(shapely.intersection(outlines[a], outlines[b]))
        assert found.pop((a, b), 0.0) == pytest.approx(length, rel=1e-9, abs=1e-6)
    assert found == {}


def test_squares_of_a_grid() -> None:
    """In a grid of 3 by 2 squares of 10 m there are seven borders of 10 m, and none across a corner."""
    borders = shared_borders(cells(3, 2))
    assert pairs(borders) == dict.fromkeys([(0, 1), (1, 2), (3, 4), (4, 5), (0, 3), (1, 4), (2, 5)], 10.0)
    assert borders.of(4) == [1, 3, 5]
    assert borders.of(0) == [1, 3]


def test_the_longest_border_comes_first() -> None:
    """Beside a border of 60 m and one of 40 m the first is the neighbour of choice."""
    shapes = np.array(
        [shapely.Polygon([(0, 0), (9, 0), (9, 40), (9, 100), (0, 100)]), shapely.box(9, 0, 20, 40),
         shapely.box(9, 40, 20, 100)], dtype=object,
    )  # fmt: skip
    borders = shared_borders(shapes)
    assert borders.of(0) == [2, 1]
    assert pairs(borders) == {(0, 1): 40.0, (0, 2): 60.0, (1, 2): 11.0}


def test_borders_of_a_jagged_mesh_are_the_intersections_of_outlines() -> None:
    """Pairs and lengths are those that shapely's intersections give, whichever way the rings are wound."""
    rng = np.random.default_rng(4)
    mesh = jagged_mesh(rng, rng.uniform(0, 800, (60, 2)), (0, 0, 800, 800), amplitude=0.06, spacing_m=9)
    mesh[::2] = shapely.reverse(mesh[::2])
    assert_borders_are_intersections(mesh)


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(messy())
def test_every_edge_is_shared_or_on_the_outline(case: Messy) -> None:
    """Perimeters of pieces are twice their borders and once the ground's outline; components are those of scipy."""
    shapes = cut(case.ground, case.polygons, case.marked).shapes
    borders = shared_borders(shapes)
    assert shapely.length(shapes).sum() == pytest.approx(case.ground.length + 2 * borders.length_m.sum(), rel=1e-9)
    key = np.arange(len(shapes)) % 2
    same = key[borders.left] == key[borders.right]
    links = coo_array(
        (np.ones(same.sum()), (borders.left[same], borders.right[same])), shape=(len(shapes), len(shapes))
    )
    count, label = connected_components(links, directed=False)
    group = borders.components(key)
    assert group.max() + 1 == count
    assert len({*zip(group.tolist(), label.tolist(), strict=True)}) == count
    # Groups are numbered by their first piece.
    assert np.unique(group, return_index=True)[1].tolist() == sorted(np.unique(group, return_index=True)[1].tolist())


def test_borders_between_groups_add_up() -> None:
    """West and east column of a grid against the middle one: 20 m each, and none inside a group."""
    borders = shared_borders(cells(3, 2))
    between = borders.between(np.array([0, 1, 2, 0, 1, 2]))
    assert pairs(between) == {(0, 1): 20.0, (1, 2): 20.0}
    assert between.count == 3


def test_one_piece_and_none() -> None:
    """A piece alone has no neighbours, and nothing has none either."""
    alone = shared_borders(cells(1, 1))
    assert (alone.count, alone.of(0), pairs(alone)) == (1, [], {})
    assert alone.components(np.array([3])).tolist() == [0]


def gaps_of(bare: set[int], *, smaller_than_m2: float) -> tuple[object, object, object]:
    """Find gaps in a grid of 4 by 3 squares of 100 m2 each."""
    shapes = cells(4, 3)
    covers = tuple(() if at in bare else (at,) for at in range(len(shapes)))
    found = find_gaps(
        Cut(shapes=shapes, covers=covers, marks=((),) * len(shapes)),
        shared_borders(shapes),
        shapely.area(shapes),
        smaller_than_m2=smaller_than_m2,
    )
    return found.small, found.hosts, found.large


@pytest.mark.parametrize(
    ("bare", "limit", "expected"),
    [
        pytest.param(set(), 1e9, ((), (), ()), id="no gap"),
        pytest.param({5}, 100.5, (((5,),), ((1, 4, 6, 9),), ()), id="a small one in the middle"),
        pytest.param({5}, 100, ((), (), ((5,),)), id="as large as the limit is large"),
        pytest.param({5, 6}, 150, ((), (), ((5, 6),)), id="two pieces hang together and are large"),
        pytest.param({0, 5}, 150, (((0,), (5,)), ((1, 4), (1, 4, 6, 9)), ()), id="across a corner they are two"),
        pytest.param(set(range(12)), 1e9, ((), (), (tuple(range(12)),)), id="nobody to take it in"),
    ],
)
def test_gaps(bare: set[int], limit: float, expected: tuple[object, object, object]) -> None:
    """Pieces that nothing covers are put together, and sorted by size, with the neighbours that may take them in."""
    assert gaps_of(bare, smaller_than_m2=limit) == expected


def test_a_gap_of_two_pieces_asks_the_longest_border_of_both() -> None:
    """A gap of two squares has one neighbour along both (20 m) when that is one piece, and it comes first."""
    shapes = np.array(
        [shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10),
         shapely.Polygon([(0, 10), (10, 10), (20, 10), (20, 30), (0, 30)]),
         shapely.box(20, 0, 30, 10)], dtype=object,
    )  # fmt: skip
    raw = Cut(shapes=shapes, covers=((), (), (7,), (8,)), marks=((),) * 4)
    found = find_gaps(raw, shared_borders(shapes), shapely.area(shapes), smaller_than_m2=1000)
    assert found.small == ((0, 1),)
    assert found.hosts == ((2, 3),)
