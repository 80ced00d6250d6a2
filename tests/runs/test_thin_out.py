"""Thinning out: inner borders are simplified for a receiver's vertex limit, and nothing else moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from support_products import granular, product
from support_zone_maps import HA, plan_of, prescription_of, zone_map_of

from vrx.exports.sheets import make_sheets
from vrx.geo.area import grid_areas
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.model.zone_map import ZoneMap
from vrx.runs.thin_out import within_vertex_limit

SIDE_M = 200.0
RATES = {"A": 60, "B": 90, "O": 0}


def wavy(x: float, *, height_m: float, waves: int, points: int) -> NDArray[np.float64]:
    """Draw a border from south to north that swings around x, both ends on it."""
    along = np.linspace(0, SIDE_M, points)
    return np.column_stack((x + height_m * np.sin(along / SIDE_M * 2 * np.pi * waves), along))


def strips(lines: Sequence[NDArray[np.float64]]) -> NDArray[np.object_]:
    """Cut a field of 200 m height into strips along borders; the first and last are its outline."""
    return np.array(
        [shapely.Polygon([*left, *right[::-1]]) for left, right in pairwise(lines)],
        dtype=object,
    )


def straight(x: float, points: int = 2) -> NDArray[np.float64]:
    return np.column_stack((np.full(points, x), np.linspace(0, SIDE_M, points)))


def field(zones: str, *, height_m: float = 0.3, points: int = 120, kept_out: int | None = None) -> ZoneMap:
    """Draw strips 100 m wide with wavy borders between them and 40 points on the field's western outline."""
    lines = [wavy(0, height_m=2, waves=3, points=40)]
    lines += [wavy(100.0 * at, height_m=height_m, waves=2, points=points) for at in range(1, len(zones))]
    lines.append(straight(100.0 * len(zones)))
    names = sorted(set(zones))
    marks = [(0,) if at == kept_out else () for at in range(len(zones))]
    return zone_map_of(
        strips(lines),
        [(names.index(zone),) for zone in zones],
        names=names,
        kept_out=marks,
        keep_outs=[()] if kept_out is not None else [],
    )


def made(drawn: ZoneMap, most: int, **receiver: Any) -> tuple[Prescription, Plan]:
    plan = plan_of(granular(), receiver={"most_vertices": most, **receiver})
    return prescription_of(drawn, plan, RATES), plan


def border(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    return shapely.line_merge(shapely.intersection(one.boundary, other.boundary))


def vertices_on(shapes: NDArray[np.object_], line: BaseGeometry) -> set[tuple[float, float]]:
    """Return the vertices of shapes that lie on a line."""
    points = np.unique(shapely.get_coordinates(shapes), axis=0)
    return {tuple(point) for point in points[shapely.dwithin(shapely.points(points), line, 1e-9)].tolist()}


def test_within_the_limit_nothing_is_touched() -> None:
    """A map that the receiver loads stays the object that it was."""
    prescription, plan = made(field("AB"), 2000)
    assert within_vertex_limit(prescription, plan) is prescription


def test_the_limit_is_met_by_inner_borders_alone() -> None:
    """A and B swap slivers along their border; the outline keeps every vertex, and the coverage stays valid."""
    drawn = field("AB")
    prescription, plan = made(drawn, 100)
    thinner = within_vertex_limit(prescription, plan)
    shapes = thinner.zone_map.shapes
    assert shapely.get_num_coordinates(shapes).max() <= 100
    assert shapely.coverage_is_valid(shapes)
    before, after = shapely.union_all(drawn.shapes), shapely.union_all(shapes)
    assert vertices_on(shapes, before.boundary) == vertices_on(drawn.shapes, before.boundary)
    assert after.equals(before)
    assert thinner.zone_map.area_m2.sum() == pytest.approx(drawn.area_m2.sum(), rel=1e-12)
    assert make_sheets(thinner, plan).findings == ()


def test_areas_are_measured_anew() -> None:
    """Both areas belong to the new shapes, so that the ledger counts what is written."""
    prescription, plan = made(field("AB"), 100)
    after = within_vertex_limit(prescription, plan).zone_map
    assert after.area_m2.tolist() == shapely.area(after.shapes).tolist()
    frame = after.ground.frame
    assert after.grid_m2.tolist() == grid_areas(after.shapes, frame, after.ground.grid_crs).tolist()


@pytest.mark.parametrize(
    ("zones", "kept_out"),
    [
        pytest.param("ABO", None, id="ground at rate 0"),
        pytest.param("ABA", 2, id="a keep-out"),
    ],
)
def test_borders_of_untreated_ground_stay(zones: str, kept_out: int | None) -> None:
    """The border between B and what gets nothing keeps its 120 vertices; that between A and B does not."""
    drawn = field(zones, kept_out=kept_out)
    prescription, plan = made(drawn, 150)
    thinner = within_vertex_limit(prescription, plan).zone_map
    assert shapely.get_num_coordinates(thinner.shapes).max() <= 150
    fixed = border(drawn.shapes[1], drawn.shapes[2])
    assert len(vertices_on(thinner.shapes, fixed)) == len(vertices_on(drawn.shapes, fixed)) == 120
    assert thinner.shapes[2].equals_exact(drawn.shapes[2], 0)
    free = border(drawn.shapes[0], drawn.shapes[1])
    assert len(vertices_on(thinner.shapes, free)) < 40
    assert thinner.area_m2[2] == drawn.area_m2[2]


def test_ground_that_one_product_may_not_treat_stays_for_all() -> None:
    """A border that is inner for one product and a keep-out's for the other keeps its vertices."""
    drawn = field("ABA", kept_out=2)
    (only,) = drawn.ground.keep_outs
    drawn = replace(drawn, ground=replace(drawn.ground, keep_outs=(replace(only, products=("Liquid A",)),)))
    plan = plan_of(granular(), product(), receiver={"most_vertices": 150})
    prescription = prescription_of(drawn, plan, RATES, {"A": 10, "B": 12})
    thinner = within_vertex_limit(prescription, plan)
    fixed = border(drawn.shapes[1], drawn.shapes[2])
    assert thinner is not prescription
    assert len(vertices_on(thinner.zone_map.shapes, fixed)) == 120


def test_a_border_between_equal_rates_costs_nothing() -> None:
    """Equal neighbours are one polygon in the file: the vertices between them do not count."""
    drawn = field("AA")
    prescription, plan = made(drawn, 100)
    assert shapely.get_num_coordinates(drawn.shapes).max() > 100
    assert within_vertex_limit(prescription, plan) is prescription


def test_a_hole_has_no_vertices_to_count() -> None:
    """A keep-out that is left out of the file can't be too much for its reader."""
    drawn = field("AB", kept_out=1)
    assert within_vertex_limit(*made(drawn, 150, keep_outs="hole")).zone_map is drawn
    assert shapely.get_num_coordinates(drawn.shapes[1]) <= 150


def test_columns_in_one_file_are_counted_together() -> None:
    """Two products with one wavy border each: neither map has a polygon of 250 vertices, their common map has."""
    drawn = field("ABC")
    both = ({"A": 60, "B": 90, "C": 90}, {"A": 10, "B": 10, "C": 12})
    apart = plan_of(granular(), product(), receiver={"most_vertices": 230})
    together = plan_of(
        granular(), product(), receiver={"most_vertices": 230, "files": "one column a product", "formats": ["geojson"]}
    )
    first = prescription_of(drawn, apart, *both)
    assert within_vertex_limit(first, apart) is first
    second = within_vertex_limit(prescription_of(drawn, together, *both), together)
    assert shapely.get_num_coordinates(second.zone_map.shapes).max() <= 230
    assert not [one for one in make_sheets(second, together).findings if one.severity == "stop"]


def test_a_limit_that_can_not_be_met_stops_with_nothing_simplified() -> None:
    """The outline alone has 40 vertices: a receiver of 30 can't load it, whatever is done inside."""
    prescription, plan = made(field("AB"), 30)
    same = within_vertex_limit(prescription, plan)
    assert same is prescription
    (stop,) = make_sheets(same, plan).findings
    assert (stop.id, stop.severity) == ("too-many-vertices", "stop")
    # Simplifying is no remedy any more: it was tried, and an outline is never simplified.
    assert "Divide the zone, or draw boundary and keep-outs with fewer vertices" in stop.remedy
    assert "most_vertices" in stop.remedy


@pytest.mark.parametrize(
    ("swing_m", "severity"),
    [
        pytest.param(0.05, "note", id="a border that swings by 5 cm"),
        pytest.param(1.5, "caution", id="a border that swings by 1.5 m"),
    ],
)
def test_a_zone_that_changes_by_more_than_half_a_percent_is_a_caution(swing_m: float, severity: str) -> None:
    """The finding names the zone that changes most, by how much, and the ground that changes hands."""
    middle = straight(10.0, 200)
    middle[:, 0] += swing_m * np.abs(np.sin(np.linspace(0, 20 * np.pi, 200)))
    middle[[0, -1], 0] = 10.0
    drawn = zone_map_of(strips([straight(0.0), middle, straight(200.0)]), [(0,), (1,)], names=["A", "B"])
    prescription, plan = made(drawn, 12)
    thinner = within_vertex_limit(prescription, plan)
    (finding,) = [one for one in thinner.findings if one.id == "borders-simplified"]
    change = thinner.zone_map.area_m2[0] / drawn.area_m2[0] - 1
    assert finding.severity == severity
    assert bool(abs(change) > 0.005) is (severity == "caution")
    assert f"zone A changes most, by {change * 100:+.3f} %" in finding.message
    assert "12 vertices a polygon" in finding.message


def test_the_same_map_is_thinned_in_the_same_way() -> None:
    """Same input, same vertices."""
    found = [shapely.to_wkb(within_vertex_limit(*made(field("ABA"), 120)).zone_map.shapes).tolist() for _ in range(2)]
    assert found[0] == found[1]
    assert field("AB").area_m2.sum() == pytest.approx(4 * HA, rel=0.02)
