"""Merging pieces and rounding them for a file: areas are kept, and what is written still fits together."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.errors import GEOSException
from support_messy_zones import FRAME, GRID_CRS, Messy, messy
from support_terrain import jagged_mesh

from vrx.geo.coverage import cut, is_coverage, settle_slivers
from vrx.geo.crs import WGS84, frame_at, move_shapes
from vrx.geo.merge import Merged, for_file, merge_equal
from vrx.model.zone_map import Frame

CRS_OF_FILES = [pytest.param(WGS84, 8, id="degrees"), pytest.param(GRID_CRS, 3, id="a grid in metres")]


def numbered(*shapes: shapely.Polygon) -> Merged:
    count = len(shapes)
    return Merged(shapes=np.array(shapes, dtype=object), keys=np.arange(count) * 10, source=np.arange(count))


def assert_comes_back(merged: Merged, written: Merged, crs: str, frame: Frame = FRAME) -> None:
    """Check what a written map has to keep: coverage, single polygons, keys, and areas to the read-back tolerance."""
    assert shapely.is_valid(written.shapes).all()
    assert (shapely.get_type_id(written.shapes) == shapely.GeometryType.POLYGON).all()
    assert is_coverage(written.shapes)
    np.testing.assert_array_equal(written.keys, merged.keys[written.source])
    local = move_shapes(written.shapes, crs, frame.crs)
    count = len(merged.shapes)
    found = np.bincount(written.source, weights=shapely.area(local), minlength=count)
    meant = shapely.area(merged.shapes)
    # 2e-6 of the area, or a millimetre along the perimeter.
    assert (np.abs(found - meant) <= np.maximum(2e-6 * meant, 1e-3 * shapely.length(merged.shapes))).all()


@settings(deadline=None, max_examples=80, suppress_health_check=[HealthCheck.too_slow])
@given(messy(), st.integers(1, 4), st.sampled_from([WGS84, GRID_CRS]))
def test_any_map_is_merged_and_written_whole(case: Messy, kinds: int, crs: str) -> None:
    """Areas of each key are conserved by merging, equal neighbours are one polygon, and the written map fits."""
    pieces = settle_slivers(cut(case.ground, case.polygons, case.marked))
    keys = np.array(
        [(7 * sum(covers) + 3 * len(marks)) % kinds for covers, marks in zip(pieces.covers, pieces.marks, strict=True)]
    )
    merged = merge_equal(pieces.shapes, keys)
    for key in range(kinds):
        before = shapely.area(pieces.shapes[keys == key]).sum()
        assert shapely.area(merged.shapes[merged.keys == key]).sum() == pytest.approx(before, rel=1e-9, abs=1e-9)
        assert shapely.union_all(merged.shapes[merged.keys == key]).is_valid
    assert is_coverage(merged.shapes)
    assert_comes_back(merged, for_file(merged, FRAME.crs, crs), crs)


def mesh() -> NDArray[np.object_]:
    rng = np.random.default_rng(3)
    return jagged_mesh(rng, rng.uniform(-400, 400, (60, 2)), (-400, -400, 400, 400), amplitude=0.06, spacing_m=9)


def test_equal_neighbours_are_united_and_others_are_not() -> None:
    """Of four squares in a row with the keys 5, 5, 2, 5 the first two are one polygon, the last one stands alone."""
    row = np.array([shapely.box(x, 0, x + 10, 10) for x in (0, 10, 20, 30)], dtype=object)
    merged = merge_equal(row, np.array([5, 5, 2, 5]))
    assert merged.keys.tolist() == [2, 5, 5]
    assert shapely.bounds(merged.shapes).tolist() == [[20, 0, 30, 10], [0, 0, 20, 10], [30, 0, 40, 10]]
    kept = merged.where(merged.keys == 5)
    assert kept.keys.tolist() == [5, 5]
    assert kept.source.tolist() == [0, 1]


def test_squares_that_share_a_corner_are_two_polygons() -> None:
    """A polygon is written in one part each: touching in a point does not make one of two."""
    corner = np.array([shapely.box(0, 0, 10, 10), shapely.box(10, 10, 20, 20)], dtype=object)
    assert shapely.get_type_id(merge_equal(corner, np.array([1, 1])).shapes).tolist() == [3, 3]


def test_a_ring_around_another_key_keeps_its_hole() -> None:
    """Pieces around another key become one polygon with a hole of that shape."""
    cells = np.array([shapely.box(x, y, x + 1, y + 1) for x in range(3) for y in range(3)], dtype=object)
    merged = merge_equal(cells, np.array([0, 0, 0, 0, 1, 0, 0, 0, 0]))
    assert shapely.get_num_interior_rings(merged.shapes).tolist() == [1, 0]
    assert shapely.area(merged.shapes).tolist() == [8, 1]


def test_pieces_that_lack_a_neighbours_vertex_are_united_all_the_same() -> None:
    """GEOS refuses to unite them as a coverage; they are noded first, and no ground is lost or left between."""
    pieces = np.array([shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 5), shapely.box(10, 5, 20, 10)], dtype=object)
    with pytest.raises(GEOSException):
        shapely.coverage_union_all(pieces)
    merged = merge_equal(pieces, np.array([4, 4, 4]))
    assert shapely.area(merged.shapes).tolist() == [200]
    assert merged.shapes[0].equals(shapely.box(0, 0, 20, 10))


def test_a_union_that_lost_ground_is_made_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a coverage's union has another area than its pieces have together, it is not believed."""
    right = shapely.coverage_union_all
    monkeypatch.setattr(shapely, "coverage_union_all", lambda shapes: right(shapes[1:]))
    row = np.array([shapely.box(x, 0, x + 10, 10) for x in (0, 10, 20)], dtype=object)
    merged = merge_equal(row, np.array([1, 1, 1]))
    assert shapely.bounds(merged.shapes).tolist() == [[0, 0, 30, 10]]


def test_the_order_of_pieces_does_not_show() -> None:
    """The same pieces in another order, with rings begun elsewhere, give the same bytes."""
    shapes = mesh()
    keys = np.arange(len(shapes)) % 4
    order = np.random.default_rng(1).permutation(len(shapes))
    one, other = merge_equal(shapes, keys), merge_equal(shapely.reverse(shapes[order]), keys[order])
    assert one.keys.tolist() == other.keys.tolist()
    for a, b in zip(for_file(one, FRAME.crs, WGS84).shapes, for_file(other, FRAME.crs, WGS84).shapes, strict=True):
        assert a.wkb == b.wkb


@pytest.mark.parametrize(("crs", "decimals"), CRS_OF_FILES)
def test_coordinates_are_rounded_and_shared_ones_stay_shared(crs: str, decimals: int) -> None:
    """Each coordinate has the decimals of its CRS and lies within half of the last one."""
    shapes = mesh()
    merged = merge_equal(shapes, np.arange(len(shapes)))
    written = for_file(merged, FRAME.crs, crs)
    points = shapely.get_coordinates(written.shapes)
    np.testing.assert_array_equal(points, np.round(points, decimals))
    exact = shapely.get_coordinates(move_shapes(merged.shapes, FRAME.crs, crs))
    assert np.abs(points - exact).max() <= 0.5000001 * 10.0**-decimals
    assert written.source.tolist() == list(range(len(shapes)))
    assert shapely.coverage_is_valid(written.shapes)
    assert_comes_back(merged, written, crs)


def test_there_is_no_minus_zero() -> None:
    """A hair west of Greenwich and south of the equator is 0 and not -0, which would be written as such."""
    written = for_file(numbered(shapely.box(-1e-12, -1e-12, 0.001, 0.001)), WGS84, WGS84)
    assert shapely.get_coordinates(written.shapes).min() == 0
    assert not np.signbit(shapely.get_coordinates(written.shapes)).any()


@pytest.mark.parametrize(("crs", "decimals"), CRS_OF_FILES)
def test_needles_thinner_than_the_last_decimal_leave_a_map_that_fits(crs: str, decimals: int) -> None:
    """Needles that rounding would flatten or turn over vanish or break; all others keep their place and area."""
    rng = np.random.default_rng(2)
    vanished = 0
    for _ in range(60):
        width, length = rng.uniform(1e-4, 2e-3), rng.uniform(5, 50)
        tip = (length * 0.6, width)
        needle = [
            shapely.Polygon([(0, 0), (length, 0), tip]),
            shapely.Polygon([(0, 0), tip, (length, 0), (length, 50), (0, 50)]),
            shapely.Polygon([(0, 0), (0, -50), (length, -50), (length, 0)]),
        ]
        place = rng.uniform(-400, 400, 2)
        angle = rng.uniform(0, 360)
        parts = [affinity.translate(affinity.rotate(one, angle, origin=(0, 0)), *place) for one in needle]
        merged = numbered(*parts)
        assert shapely.coverage_is_valid(merged.shapes)
        written = for_file(merged, FRAME.crs, crs)
        assert_comes_back(merged, written, crs)
        assert {1, 2} <= set(written.source.tolist())
        vanished += 0 not in written.source
    assert vanished > 0


def test_a_face_of_which_two_moved_polygons_hold_a_point_is_given_out_once() -> None:
    """Brought into degrees, a zone that tapers into a needle is invalid, and the needle lies in its neighbour too.

    From a field drawn at random: the second zone is 50 m of needle, less than 0.1 micrometre wide, and a triangle.
    """
    frame = frame_at(-116.3577, 46.0846)
    zones = [
        [(-328.442832, 61.071919), (-308.381499, 61.071919), (-287.393591, 24.399238), (-287.393591, -38.928081),
         (-308.777769, -38.928081), (-337.394087, 11.073907)],
        [(-328.442832, 61.071919), (-337.394087, 11.073907), (-308.777769, -38.928081), (-346.346054, -38.928081)],
        [(-308.381499, 61.071919), (-287.393591, 61.071919), (-287.393591, 24.399238)],
    ]  # fmt: skip
    merged = numbered(*map(shapely.Polygon, zones))
    assert shapely.coverage_is_valid(merged.shapes)
    written = for_file(merged, frame.crs, WGS84)
    assert_comes_back(merged, written, WGS84, frame)


def test_a_polygon_smaller_than_the_last_decimal_vanishes() -> None:
    """A speck of a tenth of a millimetre is not written, and its place goes to nobody."""
    speck = shapely.box(0, 0, 1e-4, 1e-4)
    written = for_file(numbered(shapely.box(10, 10, 20, 20), speck), FRAME.crs, WGS84)
    assert written.source.tolist() == [0]
    assert written.keys.tolist() == [0]
