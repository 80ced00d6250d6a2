"""Cutting ground: nothing lost, nothing counted twice, every piece knows what covers it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry
from support_messy_zones import FRAME, GRID_CRS, SHIFTS_M, Messy, faults, messy, only_polygons, there_and_back
from support_terrain import jagged_mesh

from vrx.errors import GeometryError
from vrx.geo import coverage
from vrx.geo.area import width_m
from vrx.geo.borders import shared_borders
from vrx.geo.coverage import SETTLE_WIDTH_M, Cut, cut, settle_slivers
from vrx.geo.crs import WGS84, move_shapes
from vrx.geo.noding import node_long_edges

SLOW = settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
FIELD = shapely.box(-400, -400, 400, 400)
NO_MARKS = np.array([], dtype=object)


def cut_of(ground: BaseGeometry, *shapes: BaseGeometry, marked: list[BaseGeometry] | None = None) -> Cut:
    """Cut, and check what holds for every cut."""
    case = Messy(ground=ground, polygons=np.array(shapes, dtype=object), marked=np.array(marked or [], dtype=object))
    found = cut(case.ground, case.polygons, case.marked)
    assert faults(found, case) == []
    return found


def areas_of(found: Cut) -> dict[tuple[tuple[int, ...], tuple[int, ...]], float]:
    """Return the area of each kind of ground."""
    total: dict[tuple[tuple[int, ...], tuple[int, ...]], float] = {}
    for shape, kind in zip(found.shapes, zip(found.covers, found.marks, strict=True), strict=True):
        total[kind] = total.get(kind, 0.0) + shape.area
    return total


def hectares(found: Cut) -> dict[tuple[int, ...], float]:
    said: dict[tuple[int, ...], float] = {}
    for (covers, _), area in areas_of(found).items():
        said[covers] = said.get(covers, 0.0) + area / 1e4
    return said


@settings(SLOW, max_examples=250)
@given(messy())
def test_a_cut_of_anything_is_the_ground_in_pieces(case: Messy) -> None:
    """Whatever the zones are, the pieces are a valid coverage of the ground, and tell the truth of what covers them."""
    assert faults(cut(case.ground, case.polygons, case.marked), case) == []


@SLOW
@given(messy())
def test_slivers_are_settled(case: Messy) -> None:
    """No sliver stays bare beside covered ground, none leaves a marked area, and no shape changes."""
    raw = cut(case.ground, case.polygons, case.marked)
    borders = shared_borders(raw.shapes)
    settled = settle_slivers(raw, borders)
    assert settled.shapes is raw.shapes
    thin = width_m(raw.shapes) < SETTLE_WIDTH_M
    for piece in range(len(raw.shapes)):
        if not thin[piece]:
            assert (settled.covers[piece], settled.marks[piece]) == (raw.covers[piece], raw.marks[piece])
            continue
        assert set(raw.marks[piece]) <= set(settled.marks[piece])
        near = borders.of(piece)
        if near and not thin[near[0]] and raw.covers[near[0]]:
            assert settled.covers[piece] == raw.covers[near[0]]
        if any(not thin[one] and raw.covers[one] for one in near):
            assert settled.covers[piece]


@settings(SLOW, max_examples=50)
@given(messy(), st.randoms(use_true_random=False))
def test_the_order_of_polygons_only_renames_them(case: Messy, random: object) -> None:
    """The same input cuts the same, byte for byte; in another order the same ground has the same covers."""
    found = cut(case.ground, case.polygons, case.marked)
    again = cut(case.ground, case.polygons, case.marked)
    assert [one.wkb for one in again.shapes] == [one.wkb for one in found.shapes]
    assert (again.covers, again.marks) == (found.covers, found.marks)
    order = np.array(sorted(range(len(case.polygons)), key=lambda _: random.random()))  # type: ignore[attr-defined]
    other = cut(case.ground, case.polygons[order], case.marked)
    renamed = Cut(
        shapes=other.shapes,
        covers=tuple(tuple(sorted(int(order[one]) for one in covers)) for covers in other.covers),
        marks=other.marks,
    )
    assert faults(renamed, case) == []
    before, after = areas_of(found), areas_of(renamed)
    # Of vertices within 2 cm of each other the first one stays where it is.
    hair = 2 * SETTLE_WIDTH_M * float(shapely.length(shapely.union_all(shapely.boundary(found.shapes))))
    for kind in before.keys() | after.keys():
        assert before.get(kind, 0.0) == pytest.approx(after.get(kind, 0.0), abs=hair)


HALVES = (shapely.box(-400, -400, 0, 400), shapely.box(0, -400, 400, 400))
HOLED = shapely.difference(FIELD, shapely.box(-100, -100, 100, 100))


@pytest.mark.parametrize(
    ("ground", "shapes", "expected"),
    [
        pytest.param(FIELD, HALVES, {(0,): 32, (1,): 32}, id="two halves"),
        pytest.param(FIELD, [FIELD], {(0,): 64}, id="a zone is the boundary"),
        pytest.param(FIELD, [FIELD, FIELD], {(0, 1): 64}, id="a polygon is there twice"),
        pytest.param(
            FIELD,
            [shapely.box(-400, -400, 100, 400), shapely.box(0, -400, 400, 400)],
            {(0,): 32, (0, 1): 8, (1,): 24},
            id="an overlap",
        ),
        pytest.param(
            FIELD,
            [shapely.box(-400, -400, -50, 400), shapely.box(0, -400, 400, 400)],
            {(0,): 28, (1,): 32, (): 4},
            id="a gap",
        ),
        pytest.param(
            FIELD,
            [shapely.box(-400, -400, 0, 0), shapely.box(0, 0, 400, 400)],
            {(0,): 16, (1,): 16, (): 32},
            id="polygons that share a point",
        ),
        pytest.param(
            FIELD,
            [shapely.box(-400, -400, 0, 400), shapely.box(0, -400, 400, 7), shapely.box(0, 7, 400, 400)],
            {(0,): 32, (1,): 16.28, (2,): 15.72},
            id="a T-junction",
        ),
        pytest.param(shapely.segmentize(FIELD, 61), HALVES, {(0,): 32, (1,): 32}, id="the boundary has more vertices"),
        pytest.param(
            HOLED, [shapely.box(-100, -400, 100, 400), FIELD], {(0, 1): 12, (1,): 48}, id="the hole touches a border"
        ),
        pytest.param(HOLED, [shapely.box(-100, -100, 100, 100), FIELD], {(1,): 60}, id="a zone fills the hole"),
        pytest.param(FIELD, [shapely.box(-20000, -20000, 20000, 20000)], {(0,): 64}, id="a zone as large as a county"),
        pytest.param(
            FIELD,
            [shapely.multipolygons([shapely.box(-400, -400, -300, 400), shapely.box(300, -400, 400, 400)])],
            {(0,): 16, (): 48},
            id="a zone in two parts",
        ),
        pytest.param(
            shapely.multipolygons([shapely.box(-400, -400, -10, 400), shapely.box(10, -400, 400, 400)]),
            HALVES,
            {(0,): 31.2, (1,): 31.2},
            id="a field in two parts",
        ),
        pytest.param(FIELD, [shapely.box(500, 500, 600, 600)], {(): 64}, id="no zone in the field"),
    ],
)
def test_areas_that_can_be_checked_in_the_head(
    ground: BaseGeometry, shapes: list[BaseGeometry], expected: dict[tuple[int, ...], float]
) -> None:
    """Each kind of ground has the area that the drawing says, in hectares."""
    assert hectares(cut_of(ground, *shapes)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("turn", [pytest.param(0, id="square on"), pytest.param(17, id="turned")])
@pytest.mark.parametrize("shift", SHIFTS_M)
def test_zones_shifted_by_a_hair(shift: float, turn: float) -> None:
    """Zones that miss each other and the boundary by a hair leave no long sliver, and no bare one in any case."""
    shapes = [affinity.translate(one, shift, -shift) for one in HALVES]
    shapes[1] = affinity.translate(shapes[1], shift, 0)
    ground, *shapes = (affinity.rotate(one, turn, origin=(0, 0)) for one in (FIELD, *shapes))
    found = cut_of(ground, *shapes)
    slivers = found.shapes[(width_m(found.shapes) < SETTLE_WIDTH_M) & (shapely.length(found.shapes) > 10)]
    if 3 * shift < SETTLE_WIDTH_M:  # no corner is further from where it belongs than the root of 5 shifts
        assert len(slivers) == 0
        assert set(found.covers) == {(0,), (1,)}
    settled = settle_slivers(found)
    wide = width_m(found.shapes) >= SETTLE_WIDTH_M
    assert all(covers for covers, is_wide in zip(settled.covers, wide, strict=True) if not is_wide)
    assert hectares(settled).get((0,), 0.0) == pytest.approx(32, rel=1e-9, abs=2 * 800 * shift / 1e4)


@pytest.mark.parametrize(
    ("crs", "decimals"),
    [
        pytest.param(WGS84, 7, id="degrees to 7 decimals"),
        pytest.param(WGS84, 8, id="degrees to 8 decimals"),
        pytest.param(WGS84, 9, id="degrees to 9 decimals"),
        pytest.param(GRID_CRS, 2, id="a grid to the centimetre"),
        pytest.param(GRID_CRS, 3, id="a grid to the millimetre"),
    ],
)
def test_zones_drawn_elsewhere(crs: str, decimals: int) -> None:
    """A mesh of zones rounded in another CRS fills the boundary drawn in the first without a sliver or a gap."""
    rng = np.random.default_rng(5)
    mesh = jagged_mesh(rng, rng.uniform(-400, 400, (40, 2)), (-400, -400, 400, 400), amplitude=0.05, spacing_m=20)
    # As a build does: vertices are put into long edges before they are brought into another CRS.
    ground = node_long_edges(np.array([FIELD, *mesh], dtype=object), longer_than=100, within=0.01)[0]
    zones = there_and_back(mesh, crs, decimals)
    found = cut_of(ground, *zones)
    settled = settle_slivers(found)
    assert () not in settled.covers
    assert (width_m(found.shapes) < SETTLE_WIDTH_M).sum() == 0
    assert hectares(settled) == pytest.approx(
        {(at,): shape.area / 1e4 for at, shape in enumerate(mesh)}, rel=1e-4, abs=1e-3
    )


def test_zones_clipped_exactly_to_the_boundary() -> None:
    """Zones cut along the boundary beforehand give the same pieces as those that reach across it."""
    ground = affinity.rotate(shapely.Point(0, 0).buffer(390, quad_segs=9), 11)
    rng = np.random.default_rng(8)
    mesh = jagged_mesh(rng, rng.uniform(-400, 400, (30, 2)), (-400, -400, 400, 400), amplitude=0.06, spacing_m=15)
    clipped = [only_polygons(shapely.intersection(one, ground)) for one in mesh]
    across, within = cut_of(ground, *mesh), cut_of(ground, *clipped)
    assert hectares(settle_slivers(within)) == pytest.approx(hectares(settle_slivers(across)), rel=1e-6, abs=1e-6)


def test_marked_ground_is_marked_to_its_edge() -> None:
    """A keep-out of a hectare across a border of zones marks one hectare, and its pieces keep their zones."""
    found = cut_of(FIELD, *HALVES, marked=[shapely.box(-50, -50, 50, 50)])
    assert areas_of(found) == pytest.approx(
        {((0,), ()): 315_000, ((1,), ()): 315_000, ((0,), (0,)): 5_000, ((1,), (0,)): 5_000}
    )


def test_a_sliver_takes_the_zone_beside_its_longest_border() -> None:
    """A strip 1 cm wide between two zones joins the one with which it shares more metres."""
    left = shapely.box(0, 0, 100, 100)
    strip = shapely.box(100, 0, 100.01, 100)
    lower, upper = shapely.box(100.01, 0, 200, 40), shapely.box(100.01, 40, 200, 100)
    strip = shapely.Polygon([(100, 0), (100.01, 0), (100.01, 40), (100.01, 100), (100, 100)])
    shapes = np.array([left, strip, lower, upper], dtype=object)
    raw = Cut(shapes=shapes, covers=((7,), (), (8,), (9,)), marks=((), (), (), ()))
    assert settle_slivers(raw).covers == ((7,), (7,), (8,), (9,))
    assert settle_slivers(raw, narrower_than_m=0.005).covers == raw.covers
    kept = Cut(shapes=shapes, covers=((7,), (5,), (8,), (9,)), marks=((), (3,), (), ()))
    assert settle_slivers(kept).marks == ((), (3,), (), ())


def test_a_sliver_between_a_zone_and_a_gap_is_the_zones() -> None:
    """A strip that shares 100 m with a gap and 40 m with a zone joins the zone; beside a gap alone, the gap."""
    strip = shapely.Polygon([(100, 0), (100.01, 0), (100.01, 40), (100.01, 100), (100, 100)])
    gap, zone, other = shapely.box(0, 0, 100, 100), shapely.box(100.01, 0, 200, 40), shapely.box(100.01, 40, 200, 100)
    shapes = np.array([gap, strip, zone, other], dtype=object)
    assert settle_slivers(Cut(shapes=shapes, covers=((), (), (8,), ()), marks=((),) * 4)).covers[1] == (8,)
    assert settle_slivers(Cut(shapes=shapes, covers=((), (5,), (), ()), marks=((),) * 4)).covers[1] == ()


def test_slivers_alone_stay_as_they_are() -> None:
    """Where everything is a sliver there is no neighbour to take it, and nothing changes."""
    shapes = np.array([shapely.box(0, 0, 0.01, 5)], dtype=object)
    raw = Cut(shapes=shapes, covers=((),), marks=((),))
    assert settle_slivers(raw) is raw


def test_a_face_that_is_hair_thin_half_way_up_is_not_lost() -> None:
    """Borders that meet at a needle's point there lost 4.5 m2 of ground, which the sum of areas would have shown."""
    ground = shapely.Polygon([(-70, -170), (-500, 70), (-0.18, 450), (132.727, -0.705)])
    zone = shapely.Polygon(
        [(130, 460), (20130, 460), (20130, -140), (130, -140), (130, 190), (0.905, 190), (0.905, 440), (130, 440)]
    )
    marked = [shapely.box(90, 7.652, 90.001, 300), shapely.box(120, -0.181, 600, 600)]
    marked = [only_polygons(shapely.intersection(one, ground)) for one in marked]
    cut_of(ground, zone, marked=marked)


def test_a_face_that_gets_lost_is_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces that do not add up to the ground are thrown away, and the ground is noded on a coarser grid."""
    faces_of, lost = coverage._faces, []

    def forgetful(shapes: NDArray[np.object_], grid_m: float) -> NDArray[np.object_]:
        faces = faces_of(shapes, grid_m)
        lost.append(grid_m)
        return faces[1:] if grid_m < 1e-8 else faces

    monkeypatch.setattr(coverage, "_faces", forgetful)
    assert hectares(cut_of(FIELD, *HALVES)) == pytest.approx({(0,): 32, (1,): 32}, rel=1e-9)
    assert lost == [1e-9, 1e-9, 1e-7]


@pytest.mark.parametrize(
    "answer",
    [pytest.param(None, id="no valid coverage"), pytest.param(GEOSException("side conflict"), id="GEOS raises")],
)
def test_when_nothing_helps_a_person_is_told(monkeypatch: pytest.MonkeyPatch, answer: Exception | None) -> None:
    """Every grid is tried, and then a GeometryError says what to do; an error of GEOS goes no further."""
    tried = []

    def never(*args: object, grid_m: float) -> None:
        tried.append(grid_m)
        if answer is not None:
            raise answer

    monkeypatch.setattr(coverage, "_cut", never)
    with pytest.raises(GeometryError, match="fit together") as caught:
        cut(FIELD, np.array(HALVES, dtype=object), NO_MARKS)
    assert "simplify" in caught.value.remedy
    assert tried == [1e-9, 1e-9, 1e-7, 1e-5]


@pytest.mark.parametrize("grid_m", [pytest.param(grid_m, id=f"{grid_m:g} m") for grid_m in (1e-7, 1e-5)])
@settings(SLOW, max_examples=15)
@given(case=messy())
def test_coarser_grids_give_the_ground_in_pieces(grid_m: float, case: Messy) -> None:
    """Noded on a coarser grid, pieces are a valid coverage too, and their areas add up within the grid's rounding."""
    polygons = case.polygons[:-1]
    parts, owner = shapely.get_parts(polygons, return_index=True)
    found = coverage._cut(case.ground, parts, owner, np.ones(len(parts), dtype=bool), case.marked, grid_m=grid_m)
    assert found is not None
    assert shapely.coverage_is_valid(found.shapes)
    assert shapely.area(found.shapes).sum() == pytest.approx(
        case.ground.area, rel=1e-9, abs=grid_m * case.ground.length
    )


def test_the_frame_of_these_tests_is_a_place_on_earth() -> None:
    """The ground lies in the grid's zone, so that bringing it there and back loses nothing."""
    back = move_shapes(move_shapes(np.array([FIELD]), FRAME.crs, GRID_CRS), GRID_CRS, FRAME.crs)
    assert shapely.hausdorff_distance(back[0], FIELD) < 1e-6
