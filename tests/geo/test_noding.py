"""Long edges get the vertices that neighbours have on them, so that they bend together."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vrx.geo.crs import WGS84, frame_at, move_shapes
from vrx.geo.noding import bent_edges, node_edges, node_long_edges, straighten

DEGREE_M = 111_320.0


def three_zones(longitude: float, latitude: float, length_m: float) -> np.ndarray:
    """A zone south of an edge that runs east and west, and two north of it that meet half-way."""
    wide, high = length_m / DEGREE_M / np.cos(np.radians(latitude)), 200 / DEGREE_M
    west, middle, east = longitude - wide / 2, longitude, longitude + wide / 2
    return np.array(
        [
            shapely.box(west, latitude - high, east, latitude),
            shapely.box(west, latitude, middle, latitude + high),
            shapely.box(middle, latitude, east, latitude + high),
        ],
        dtype=object,
    )


def test_without_noding_a_t_junction_parts_by_the_bend() -> None:
    """The middle of an edge of 800 m along the parallel of 42 N lies 11 mm off it: L squared times tan over 8 R.

    Source: spherical geometry; 800^2 * tan(42) / (8 * 6,378,137) = 11.3 mm.
    """
    zones = three_zones(-93.6, 42.0, 800)
    local = move_shapes(zones, WGS84, frame_at(-93.6, 42.0).crs)
    off = local[0].distance(shapely.Point(shapely.get_coordinates(local[1])[0]))
    middle = shapely.Point(
        shapely.get_coordinates(move_shapes(np.array([shapely.Point(-93.6, 42.0)]), WGS84, frame_at(-93.6, 42.0).crs))[
            0
        ]
    )
    assert local[0].boundary.distance(middle) == pytest.approx(0.0113, abs=2e-4)
    assert off < 1
    assert not shapely.coverage_is_valid(local)


@pytest.mark.parametrize("latitude", [pytest.param(42.0, id="42 N"), pytest.param(-67.5, id="67 S")])
def test_with_noding_it_does_not_part_at_all(latitude: float) -> None:
    """After noding in degrees the zones are a valid coverage in the frame, and the edge has a vertex more."""
    zones = three_zones(-93.6, latitude, 800)
    noded = node_long_edges(zones, longer_than=100 / DEGREE_M, within=0.01 / DEGREE_M)
    assert shapely.get_num_coordinates(noded).tolist() == [6, 5, 5]
    assert shapely.coverage_is_valid(move_shapes(noded, WGS84, frame_at(-93.6, latitude).crs))
    assert noded[1] is zones[1]


def test_vertices_come_in_order_and_only_on_long_edges() -> None:
    """Vertices are inserted in order along the edge, in outlines and holes; short edges stay as they are."""
    holed = shapely.Polygon(shapely.box(0, 0, 100, 100).exterior, [shapely.box(20, 20, 80, 80).exterior.coords])
    vertices = np.array([[70, 0.0], [30, 0.0], [30, 20.0], [100, 50.0], [50, 50.0]])
    (noded,) = node_edges(np.array([holed], dtype=object), vertices, within=0.01)
    assert noded.exterior.coords[:] == [
        (100, 0), (100, 50), (100, 100), (0, 100), (0, 0), (30, 0), (70, 0), (100, 0),
    ]  # fmt: skip
    assert (30, 20) in noded.interiors[0].coords[:]
    assert noded.equals(holed)
    (short,) = node_edges(np.array([holed], dtype=object), vertices, within=0.01, longer_than=100)
    assert short is holed


def test_a_vertex_beside_the_edge_bends_it_and_one_at_its_end_does_not() -> None:
    """Within the distance the edge goes through the vertex; near an end the end stands for it."""
    square = np.array([shapely.box(0, 0, 100, 100)], dtype=object)
    (bent,) = node_edges(square, np.array([[50, -0.009]]), within=0.01)
    assert (50, -0.009) in bent.exterior.coords[:]
    assert node_edges(square, np.array([[50, -0.02], [0.009, 0], [100, 0]]), within=0.01)[0] is square[0]


def test_multipolygons_missing_ones_and_vertices_from_beside() -> None:
    """Parts keep together, what is missing stays missing, and vertices of another layer count too."""
    parts = shapely.multipolygons([shapely.box(0, 0, 100, 100), shapely.box(300, 0, 400, 100)])
    shapes = np.array([parts, None, shapely.box(100, 30, 200, 60)], dtype=object)
    noded = node_long_edges(shapes, longer_than=50, within=0.01, beside=[np.array([[350.0, 0.0]])])
    assert noded[1] is None
    assert noded[0].geom_type == "MultiPolygon"
    corners = {tuple(one) for one in shapely.get_coordinates(noded[0]).tolist()}
    assert {(100, 30), (100, 60), (350, 0)} <= corners
    assert noded[0].equals(parts)


@pytest.mark.parametrize(
    "shapes",
    [
        pytest.param([], id="no shapes"),
        pytest.param([None, None], id="all missing"),
        pytest.param([shapely.box(0, 0, 1, 1)], id="no long edge"),
    ],
)
def test_nothing_to_do(shapes: list[shapely.Polygon | None]) -> None:
    """Without long edges everything comes out as it went in."""
    given = np.array(shapes, dtype=object)
    assert node_long_edges(given, longer_than=50, within=0.01) is given
    assert node_edges(np.array([], dtype=object), np.zeros((0, 2)), within=0.01).tolist() == []


def test_vertices_on_a_bent_edge_are_put_onto_the_straight_one() -> None:
    """On a parallel of 42 N, 800 m long, a neighbour's vertex moves by the bend: 11 mm in the middle, less elsewhere.

    Source: spherical geometry; of the bend at the middle 4 s (1 - s) is left at the share s of the edge.
    """
    south = three_zones(-93.6, 42.0, 800)[0]
    west, _, east, _ = south.bounds
    crs = frame_at(-93.6, 42.0).crs
    points = [shapely.Point(west + (east - west) * share, 42.0) for share in (0.25, 0.5, 1.0)]
    beside = shapely.Point(-93.6, 42.0 + 0.02 / DEGREE_M)
    edges = bent_edges(np.array([south, None], dtype=object), WGS84, crs, longer_than=100 / DEGREE_M)
    drawn = move_shapes(np.array([*points, beside], dtype=object), WGS84, crs)
    moved = shapely.distance(drawn, straighten(drawn, edges, within=0.01))
    assert moved == pytest.approx([0.0113 * 0.75, 0.0113, 0, 0], abs=2e-4)


def test_edges_that_run_straight_or_are_short_are_none_to_straighten() -> None:
    """A meridian through the middle of the frame stays straight, and so does, within a millimetre, what is short."""
    square = np.array([shapely.box(-93.6, 42.0, -93.5995, 42.01)], dtype=object)
    crs = frame_at(-93.6, 42.0).crs
    assert len(bent_edges(square, WGS84, crs, longer_than=0).ends) == 0
    row = np.array([shapely.box(-93.61, 42.0, -93.6, 42.0001)], dtype=object)
    assert len(bent_edges(row, WGS84, crs, longer_than=0).ends) == 2
    assert len(bent_edges(row, WGS84, crs, longer_than=0.02).ends) == 0
