"""GeoJSON against RFC 7946 (August 2016): what is written breaks none of its rules, what is read follows them.

The rules are known from pages and errata that quote the RFC, the examples of its appendix A from memory; section
numbers as given there.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import shapely
from support_sheets import HOLED, SQUARES, jagged, sheet_of

from vrx.exports.geojson import write_geojson
from vrx.inputs.geojson import read_geojson

pytestmark = pytest.mark.source("RFC7946", "sections 3.1, 3.2, 3.3, 4, 7, 11.2 and appendix A")

# --- what is written


def broken_rules(text: str) -> list[str]:
    """List the rules that a FeatureCollection of polygons breaks."""

    def refuse(word: str) -> None:
        raise ValueError(f"{word} is not JSON")

    found: list[str] = []
    collection = json.loads(text, parse_constant=refuse)
    if collection.get("type") != "FeatureCollection" or not isinstance(collection.get("features"), list):
        return ["3.3: a FeatureCollection has a list of features"]
    if "crs" in collection:
        found.append("4: no crs member")
    if set(collection) & {"coordinates", "geometries", "geometry", "properties"}:
        found.append("7.1: members of other types")
    for feature in collection["features"]:
        found += broken_rules_of_feature(feature)
    return found


def broken_rules_of_feature(feature: dict[str, Any]) -> list[str]:
    found = []
    if feature.get("type") != "Feature" or not {"geometry", "properties"} <= set(feature):
        found.append("3.2: a Feature has geometry and properties")
    geometry = feature["geometry"]
    if geometry["type"] != "Polygon" or set(geometry) != {"type", "coordinates"}:
        return [*found, "3.1.6: a polygon, and no foreign member"]
    for number, ring in enumerate(geometry["coordinates"]):
        if len(ring) < 4 or ring[0] != ring[-1]:
            found.append("3.1.6: a ring is closed and has four or more positions")
        if not all(len(position) == 2 for position in ring):
            found.append("3.1.1: longitude and latitude")
        if not all(-180 <= x <= 180 and -90 <= y <= 90 for x, y, *_ in ring):
            found.append("4: WGS 84, longitude first")
        area = sum(x1 * y2 - x2 * y1 for (x1, y1, *_), (x2, y2, *_) in pairwise(ring))
        if (area > 0) != (number == 0):
            found.append("3.1.6: outer ring counterclockwise, holes clockwise")
    return found


@pytest.mark.parametrize(
    "shapes",
    [
        pytest.param(SQUARES, id="squares"),
        pytest.param([HOLED], id="a hole"),
        pytest.param([shapely.reverse(HOLED)], id="wound the other way"),
        pytest.param([shapely.force_3d(HOLED, 3.0)], id="heights"),
        pytest.param(jagged(40, 60), id="jagged"),
    ],
)
def test_no_rule_is_broken(tmp_path: Path, shapes: list[shapely.Polygon]) -> None:
    """What is written breaks no rule, and holds nothing but type, features, properties and geometry."""
    text = write_geojson(sheet_of(shapes), tmp_path)[0].read_text(encoding="utf-8")
    assert broken_rules(text) == []
    collection = json.loads(text)
    assert set(collection) == {"type", "features"}
    assert all(set(feature) == {"type", "properties", "geometry"} for feature in collection["features"])
    assert all(set(feature["properties"]) == {"RATE"} for feature in collection["features"])


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        pytest.param('{"type":"FeatureCollection",', '{"type":"FeatureCollection","crs":{},', "4: no crs", id="crs"),
        pytest.param("[20.501,-33.25],", "", "closed", id="an open ring"),
        pytest.param("[20.501,-33.25]", "[20.501,-33.25,7.0]", "longitude and latitude", id="a height"),
        pytest.param("20.501,-33.25", "-33.25,200.501", "longitude first", id="latitude first"),
        pytest.param('"type":"Polygon"', '"type":"MultiPolygon"', "a polygon", id="several parts"),
    ],
)
def test_the_checker_sees_a_broken_rule(tmp_path: Path, old: str, new: str, rule: str) -> None:
    """The rules above are able to fail."""
    text = write_geojson(sheet_of(SQUARES[:1]), tmp_path)[0].read_text()
    assert old in text
    assert any(rule in broken for broken in broken_rules(text.replace(old, new, 1)))
    with pytest.raises(ValueError, match="NaN"):
        broken_rules(text.replace("18.5", "NaN"))


def test_the_checker_sees_a_ring_wound_wrong() -> None:
    """The ring (0,0)(1,0)(1,1)(0,1)(0,0) has the signed area +1 and is an outer ring; reversed it is none."""
    ring = [[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    assert broken_rules_of_feature(feature) == []
    feature["geometry"]["coordinates"] = [ring[::-1]]
    assert broken_rules_of_feature(feature) == ["3.1.6: outer ring counterclockwise, holes clockwise"]


# --- what is read

EXAMPLES: list[Any] = [
    pytest.param({"type": "Point", "coordinates": [100.0, 0.0]}, "POINT (100 0)", id="A.1 point"),
    pytest.param(
        {"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]},
        "LINESTRING (100 0, 101 1)",
        id="A.2 line",
    ),
    pytest.param(
        {"type": "Polygon", "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]]},
        "POLYGON ((100 0, 101 0, 101 1, 100 1, 100 0))",
        id="A.3 polygon",
    ),
    pytest.param(
        {
            "type": "Polygon",
            "coordinates": [
                [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]],
            ],
        },
        "POLYGON ((100 0, 101 0, 101 1, 100 1, 100 0), (100.8 0.8, 100.8 0.2, 100.2 0.2, 100.2 0.8, 100.8 0.8))",
        id="A.3 polygon with a hole",
    ),
    pytest.param(
        {"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]},
        "MULTIPOINT ((100 0), (101 1))",
        id="A.4 points",
    ),
    pytest.param(
        {"type": "MultiLineString", "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]},
        "MULTILINESTRING ((100 0, 101 1), (102 2, 103 3))",
        id="A.5 lines",
    ),
    pytest.param(
        {
            "type": "MultiPolygon",
            "coordinates": [
                [[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
                [
                    [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                    [[100.2, 0.2], [100.2, 0.8], [100.8, 0.8], [100.8, 0.2], [100.2, 0.2]],
                ],
            ],
        },
        "MULTIPOLYGON (((102 2, 103 2, 103 3, 102 3, 102 2)), ((100 0, 101 0, 101 1, 100 1, 100 0), "
        "(100.2 0.2, 100.2 0.8, 100.8 0.8, 100.8 0.2, 100.2 0.2)))",
        id="A.6 polygons",
    ),
    pytest.param(
        {
            "type": "GeometryCollection",
            "geometries": [
                {"type": "Point", "coordinates": [100.0, 0.0]},
                {"type": "LineString", "coordinates": [[101.0, 0.0], [102.0, 1.0]]},
            ],
        },
        "GEOMETRYCOLLECTION (POINT (100 0), LINESTRING (101 0, 102 1))",
        id="A.7 collection",
    ),
]


@pytest.mark.parametrize(("geometry", "wkt"), EXAMPLES)
def test_the_examples_of_appendix_a(geometry: Any, wkt: str) -> None:
    """Each example is read as the shape it shows, longitude first, in WGS 84 (section 4)."""
    raw = read_geojson(json.dumps(geometry).encode(), source="example.geojson")
    assert raw.shapes[0].equals_exact(shapely.from_wkt(wkt))
    assert raw.crs == "EPSG:4326"


def test_rings_wound_the_other_way_are_not_rejected() -> None:
    """Section 3.1.6: parsers should not reject polygons that do not follow the right-hand rule."""
    ring = [[0, 0], [0, 1], [1, 1], [1, 0], [0, 0]]
    content = json.dumps({"type": "Polygon", "coordinates": [ring]}).encode()
    assert read_geojson(content, source="z.geojson").shapes[0].area == 1


def test_unlocated_features_have_a_null_geometry() -> None:
    """Section 3.2: a feature without a place has null for its geometry; its properties may be null too."""
    content = b'{"type": "Feature", "geometry": null, "properties": null}'
    raw = read_geojson(content, source="z.geojson")
    assert raw.shapes.tolist() == [None]
    assert raw.columns == {}


def test_positions_may_have_more_than_two_numbers() -> None:
    """Section 3.1.1: a third number is the height, more may be ignored."""
    content = b'{"type": "Polygon", "coordinates": [[[0,0,5,9],[1,0,5,9],[1,1,5,9],[0,0,5,9]]]}'
    assert read_geojson(content, source="z.geojson").shapes[0].wkt == "POLYGON ((0 0, 1 0, 1 1, 0 0))"
