"""What RFC 7946 says of GeoJSON, against the reader. The examples are those of its appendix A, from memory."""

from __future__ import annotations

import json
from typing import Any

import pytest
import shapely

from vrx.inputs.geojson import read_geojson

pytestmark = pytest.mark.source("RFC 7946, The GeoJSON Format (August 2016)", "sections 3.1, 4 and appendix A")

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
