"""Written GeoJSON: exact numbers, and what is refused."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from support_sheets import HOLED, SQUARES, jagged, sheet_of

from vrx.errors import OutputError
from vrx.exports.geojson import write_geojson


def test_the_file_is_named_after_the_sheet(tmp_path: Path) -> None:
    """One file, a feature a line, a line end at the end, and no letter beyond ASCII."""
    paths = write_geojson(sheet_of(), tmp_path)
    assert paths == [tmp_path / "vlei_2027_lime_k7mq.geojson"]
    lines = paths[0].read_bytes().decode("ascii").split("\n")
    assert len(lines) == 1 + 5 + 1 + 1
    assert lines[-1] == ""


def test_gdal_reads_the_rates_and_the_shapes(tmp_path: Path) -> None:
    """A reader that is not the writer finds the same rates, and every vertex to the last bit."""
    sheet = sheet_of([*SQUARES, HOLED, *jagged(50, 30)])
    got = pyogrio.read_dataframe(write_geojson(sheet, tmp_path)[0])
    assert list(got["RATE"]) == [float(sheet.columns[0].rate_text(at)) for at in range(56)]
    assert got.crs.to_epsg() == 4326
    assert set(got.geom_type) == {"Polygon"}
    wound = shapely.orient_polygons(sheet.shapes)
    assert (shapely.get_coordinates(got.geometry.to_numpy()) == shapely.get_coordinates(wound)).all()


def test_rates_are_written_as_decimals(tmp_path: Path) -> None:
    """The text of a rate is the rate's, and a JSON number."""
    sheet = sheet_of(SQUARES, {"A": [0, 5, 185, 200, -5], "B": [1, 2, 3, 4, 5]}, decimals=1)
    text = write_geojson(sheet, tmp_path)[0].read_text()
    assert re.findall(r'"A":([^,}]*)', text) == ["0.0", "0.5", "18.5", "20.0", "-0.5"]
    assert re.findall(r'"B":([^,}]*)', text) == ["0.1", "0.2", "0.3", "0.4", "0.5"]


# Whole multiples of 1e-8 degree, so that every number of digits comes up.
LATITUDES = st.integers(0, 90 * 10**8) | st.sampled_from([0, 1, 10, 10**8, 8123 * 10**6, 99999999, 100000001])
LONGITUDES = (
    st.integers(0, 180 * 10**8) | st.sampled_from([100 * 10**8, 10005 * 10**6, 180 * 10**8, 9 * 10**8]) | LATITUDES
)


@settings(max_examples=150)
@given(
    points=st.lists(st.tuples(LONGITUDES, LATITUDES), min_size=3, max_size=6), east=st.booleans(), north=st.booleans()
)
def test_coordinates_are_the_shortest_text_that_reads_back(
    tmp_path_factory: pytest.TempPathFactory, points: list[tuple[int, int]], east: bool, north: bool
) -> None:
    """Each coordinate is its decimal number, without a zero too many, without an exponent, at most 8 decimals.

    The expected text is made with the decimal module.
    """
    signs = (1 if east else -1, 1 if north else -1)
    shape = shapely.Polygon([(signs[0] * x / 10**8, signs[1] * y / 10**8) for x, y in points])
    text = write_geojson(sheet_of([shape]), tmp_path_factory.mktemp("written"))[0].read_text()
    ring = shapely.get_coordinates(shapely.orient_polygons(shape))
    written = re.findall(r"\[([^][,]+),([^][,]+)\]", text)
    assert [tuple(map(float, pair)) for pair in written] == [tuple(pair) for pair in ring.tolist()]
    wanted = [plain_decimals(round(number * 10**8)) for number in ring.ravel().tolist()]
    assert [number for pair in written for number in pair] == wanted


def plain_decimals(count: int) -> str:
    """Write a multiple of 1e-8 with one decimal at least."""
    text = f"{Decimal(count).scaleb(-8):f}"
    whole, _, part = text.partition(".")
    return f"{whole}.{part.rstrip('0') or '0'}"


def test_no_coordinate_of_many_is_longer_than_8_decimals(tmp_path: Path) -> None:
    """20,000 vertices: none has a ninth decimal, a trailing zero that it does not need, or an exponent."""
    sheet = sheet_of(jagged(400, 50))
    text = write_geojson(sheet, tmp_path)[0].read_text()
    numbers = re.findall(r"[-\d.e+]+", "".join(re.findall(r'"coordinates":(.*)\}\}', text)))
    assert len(numbers) == 2 * 400 * 51
    assert all(re.fullmatch(r"-?(0|[1-9]\d{0,2})\.(0|\d{0,7}[1-9])", number) for number in numbers)


@pytest.mark.parametrize(
    ("shape", "crs", "words"),
    [
        pytest.param(SQUARES[0], "EPSG:32734", "WGS 84", id="another CRS"),
        pytest.param(shapely.box(500000, 1, 500100, 2), "EPSG:4326", "longitude", id="metres"),
        pytest.param(shapely.box(20, 89, 21, 91), "EPSG:4326", "longitude", id="beyond the pole"),
        pytest.param(shapely.box(-179.9, -17, 179.9, -16), "EPSG:4326", "antimeridian", id="the short way round"),
        pytest.param(shapely.MultiPolygon(SQUARES[::2]), "EPSG:4326", "single polygon", id="several parts"),
    ],
)
def test_what_geojson_can_not_hold_is_refused(tmp_path: Path, shape: shapely.Geometry, crs: str, words: str) -> None:
    """The error says why, and no file is there."""
    with pytest.raises(OutputError, match=words):
        write_geojson(sheet_of([shape], crs=crs), tmp_path)
    assert not list(tmp_path.iterdir())


def test_coordinates_that_were_not_rounded_are_refused(tmp_path: Path) -> None:
    """A ninth decimal is never dropped silently: it could open a gap."""
    with pytest.raises(OutputError, match="more than 8 decimals"):
        write_geojson(sheet_of([shapely.box(20, -34, 20.123456789, -33)], coordinate_decimals=9), tmp_path)


def test_two_columns_of_one_name_are_refused(tmp_path: Path) -> None:
    """In JSON the second would hide the first."""
    with pytest.raises(OutputError, match="one name"):
        write_geojson(sheet_of(counts={"RATE": [1, 2, 3, 4, 5], "rate": [1, 2, 3, 4, 5]}), tmp_path)


def test_the_edges_of_the_earth_are_written(tmp_path: Path) -> None:
    """180 degrees and the pole are places, and so are numbers without a digit before the point."""
    shape = shapely.Polygon([(-180, -90), (-0.5, -90), (-0.00000001, 90), (-180, 90)])
    text = write_geojson(sheet_of([shape]), tmp_path)[0].read_text()
    ring = json.loads(text)["features"][0]["geometry"]["coordinates"][0]
    assert {tuple(point) for point in ring} == {(-180, -90), (-0.5, -90), (-1e-8, 90), (-180, 90)}
    assert "-0.00000001,90.0" in text


def test_a_sheet_without_shapes_is_an_empty_collection(tmp_path: Path) -> None:
    """No polygon makes a collection of none."""
    assert json.loads(write_geojson(sheet_of([], []), tmp_path)[0].read_text()) == {
        "type": "FeatureCollection",
        "features": [],
    }


def test_shapes_are_not_changed_by_writing(tmp_path: Path) -> None:
    """The sheet is the same before and after."""
    sheet = sheet_of([*SQUARES, HOLED])
    before = shapely.to_wkb(sheet.shapes).tolist()
    write_geojson(sheet, tmp_path)
    assert shapely.to_wkb(sheet.shapes).tolist() == before
    assert np.asarray(sheet.columns[0].counts).tolist() == [185 + 5 * at for at in range(6)]
