from __future__ import annotations

import json
from typing import Any

import pytest
import shapely
from support_cases import feature

from vrx.errors import CrsError, InputError
from vrx.inputs.geojson import read_geojson
from vrx.inputs.raw_layer import RawLayer

RING = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
HOLE = [[1, 1], [1, 2], [2, 2], [2, 1], [1, 1]]
SQUARE = {"type": "Polygon", "coordinates": [RING]}


def read(content: Any) -> RawLayer:
    return read_geojson(content if isinstance(content, bytes) else json.dumps(content).encode(), source="z.geojson")


def collection(*features: Any, **members: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features), **members}


@pytest.mark.parametrize(
    ("geometry", "wkt"),
    [
        pytest.param(SQUARE, "POLYGON ((0 0, 4 0, 4 4, 0 4, 0 0))", id="polygon"),
        pytest.param(
            {"type": "Polygon", "coordinates": [RING, HOLE]},
            "POLYGON ((0 0, 4 0, 4 4, 0 4, 0 0), (1 1, 1 2, 2 2, 2 1, 1 1))",
            id="hole",
        ),
        pytest.param(
            {"type": "MultiPolygon", "coordinates": [[RING, HOLE], [[[9, 9], [10, 9], [9, 10], [9, 9]]]]},
            "MULTIPOLYGON (((0 0, 4 0, 4 4, 0 4, 0 0), (1 1, 1 2, 2 2, 2 1, 1 1)), ((9 9, 10 9, 9 10, 9 9)))",
            id="several parts",
        ),
        pytest.param(
            {"type": "MultiPolygon", "coordinates": [[RING]]},
            "MULTIPOLYGON (((0 0, 4 0, 4 4, 0 4, 0 0)))",
            id="several parts of one",
        ),
        pytest.param({"type": "Point", "coordinates": [1, 2]}, "POINT (1 2)", id="point"),
        pytest.param({"type": "LineString", "coordinates": [[1, 2], [3, 4]]}, "LINESTRING (1 2, 3 4)", id="line"),
        pytest.param(
            {"type": "GeometryCollection", "geometries": [SQUARE, {"type": "Point", "coordinates": [9, 9]}]},
            "GEOMETRYCOLLECTION (POLYGON ((0 0, 4 0, 4 4, 0 4, 0 0)), POINT (9 9))",
            id="collection stays one",
        ),
        pytest.param(None, None, id="null"),
        pytest.param({"type": "Polygon", "coordinates": []}, None, id="no rings"),
        pytest.param({"type": "Point", "coordinates": []}, None, id="no position"),
        pytest.param({"type": "MultiPolygon", "coordinates": [[], [[]]]}, None, id="parts without rings"),
    ],
)
def test_geometries(geometry: Any, wkt: str | None) -> None:
    """Each geometry of RFC 7946 section 3.1 is read; one without coordinates is None."""
    raw = read(collection(feature(geometry), feature(SQUARE)))
    assert raw.shapes[0] == (wkt and shapely.from_wkt(wkt))
    assert raw.shapes[1].area == 16
    assert raw.records.tolist() == [1, 2]


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(collection(feature(SQUARE)), id="collection"),
        pytest.param(feature(SQUARE), id="feature"),
        pytest.param(SQUARE, id="bare geometry"),
        pytest.param(b"\xef\xbb\xbf" + json.dumps(SQUARE).encode(), id="byte order mark"),
    ],
)
def test_what_may_stand_at_the_top(content: Any) -> None:
    """A collection, a feature or a geometry; WGS 84 by the standard."""
    raw = read(content)
    assert raw.shapes[0].area == 16
    assert (raw.crs, raw.by_standard) == ("EPSG:4326", True)


def test_columns_are_numbers_where_all_values_are() -> None:
    """Truth values and mixtures are text; a key that a feature lacks, and a blank text, is an empty cell."""
    raw = read(
        collection(
            feature(None, whole=1, part=1.5, mixed=1, truth=True, text=" A ", deep={"a": [1]}),
            feature(None, whole=None, part=2, mixed="x", truth=False, text=" "),
            {"type": "Feature", "geometry": None, "properties": None},
        )
    )
    assert {name: (column.kind, column.cells) for name, column in raw.columns.items()} == {
        "whole": ("number", (1, None, None)),
        "part": ("number", (1.5, 2, None)),
        "mixed": ("text", (1, "x", None)),
        "truth": ("text", (True, False, None)),
        "text": ("text", ("A", None, None)),
        "deep": ("text", ('{"a": [1]}', None, None)),
    }


def test_bare_nan_is_a_text_in_a_number_column() -> None:
    """NaN and both infinities stay in sight, whatever the rest of the column is."""
    raw = read(
        b'{"type":"FeatureCollection","features":['
        b'{"type":"Feature","geometry":null,"properties":{"rate":NaN,"only":NaN}},'
        b'{"type":"Feature","geometry":null,"properties":{"rate":-Infinity,"only":null}},'
        b'{"type":"Feature","geometry":null,"properties":{"rate":1e999,"rate":90}}]}'
    )
    assert raw.columns["rate"].kind == raw.columns["only"].kind == "number"
    assert raw.columns["rate"].cells == ("NaN", "-Infinity", 90)
    assert raw.columns["only"].cells == ("NaN", None, None)


def test_heights_are_left_out_and_said_once() -> None:
    """Positions of three numbers lose the third."""
    high = {"type": "Polygon", "coordinates": [[[*point, 300.5] for point in RING]]}
    raw = read(collection(feature(high), feature(SQUARE), feature(high)))
    assert shapely.area(raw.shapes).tolist() == [16, 16, 16]
    assert not shapely.has_z(raw.shapes).any()
    assert [finding.id for finding in raw.findings] == ["has-z"]


@pytest.mark.parametrize(
    ("name", "crs", "ids"),
    [
        pytest.param("urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326", [], id="CRS84 is silent"),
        pytest.param("urn:ogc:def:crs:EPSG::4326", "EPSG:4326", [], id="4326 is silent"),
        pytest.param("EPSG:32614", "EPSG:32614", ["crs-member"], id="a code"),
        pytest.param("urn:ogc:def:crs:EPSG::26914", "EPSG:26914", ["crs-member"], id="a urn"),
    ],
)
def test_the_old_crs_member(name: str, crs: str, ids: list[str]) -> None:
    """The member of 2008 is followed, and said where it is not WGS 84."""
    raw = read(collection(crs={"type": "name", "properties": {"name": name}}))
    assert raw.crs == crs
    assert [finding.id for finding in raw.findings] == ids


@pytest.mark.parametrize(
    "member",
    [
        pytest.param({"type": "name", "properties": {"name": "EPSG:999999"}}, id="no such code"),
        pytest.param({"type": "link", "properties": {"href": "crs.wkt"}}, id="a link"),
        pytest.param("EPSG:4326", id="a text"),
    ],
)
def test_a_crs_member_that_is_not_known_is_refused(member: Any) -> None:
    """A CRS that can't be told is not guessed."""
    with pytest.raises(CrsError, match="crs member"):
        read(collection(crs=member))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"", ("not valid JSON",), id="empty file"),
        pytest.param(b'{"type": "FeatureCollection", "features": [', ("not valid JSON", "line 1"), id="cut short"),
        pytest.param(b"[" * 100_000, ("not valid JSON",), id="nested without end"),
        pytest.param('{"type": "Höhe"}'.encode("cp1252"), ("not UTF-8",), id="another encoding"),
        pytest.param(json.dumps(SQUARE).encode("utf-16"), ("not UTF-8",), id="UTF-16"),
        pytest.param(b"[1, 2]", ("no type",), id="a list"),
        pytest.param(b'{"a": 1}', ("no type",), id="no type"),
        pytest.param({"type": "Topology"}, ("TopoJSON",), id="TopoJSON"),
        pytest.param({"type": "FeatureCollection"}, ("no list of features",), id="no features"),
        pytest.param(collection(feature(None), 7), ("Feature 2",), id="a number for a feature"),
        pytest.param(collection(feature({"type": "Circle"})), ("feature 1", "Circle"), id="unknown geometry"),
        pytest.param(collection(feature({"type": "Polygon"})), ("feature 1", "no coordinates"), id="no coordinates"),
        pytest.param(
            collection(feature(SQUARE), feature({"type": "Polygon", "coordinates": [[[0, 0], ["1", 0], [1, 1]]]})),
            ("feature 2", "no number"),
            id="a text for a coordinate",
        ),
        pytest.param(
            collection(feature({"type": "Polygon", "coordinates": [[[0, 0], [True, 0], [1, 1]]]})),
            ("feature 1", "no number"),
            id="a truth value for a coordinate",
        ),
        pytest.param(
            collection(feature({"type": "Polygon", "coordinates": [[[0, 0], [1], [1, 1]]]})),
            ("feature 1", "fewer than two"),
            id="half a position",
        ),
        pytest.param(
            collection(feature({"type": "Polygon", "coordinates": [[0, 1, 2]]})), ("feature 1",), id="no positions"
        ),
        pytest.param(
            collection(feature({"type": "Polygon", "coordinates": ["01", "23"]})), ("feature 1",), id="text for rings"
        ),
        pytest.param(
            collection(feature({"type": "LineString", "coordinates": [[0, 0]]})), ("feature 1",), id="half a line"
        ),
        pytest.param(
            collection(feature({"type": "Point", "coordinates": [None, 0]})), ("feature 1", "no number"), id="null"
        ),
    ],
)
def test_what_is_no_geojson_is_refused_in_a_line(content: Any, words: tuple[str, ...]) -> None:
    """One line says what is wrong and in which feature."""
    with pytest.raises(InputError) as caught:
        read(content)
    assert all(word in str(caught.value) for word in words)
    assert "\n" not in str(caught.value)


def test_every_bad_feature_is_named() -> None:
    """All features with a bad geometry are told at once."""
    bad = feature({"type": "Polygon", "coordinates": [[["x", 0], [1, 0], [1, 1]]]})
    with pytest.raises(InputError, match=r"feature 1 .*; feature 3 "):
        read(collection(bad, feature(SQUARE), bad))
