"""Written shapefiles, read by readers that are not the writer."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapefile
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from support_sheets import HOLED, SQUARES, column_of, jagged, sheet_of

from vrx.errors import CrsError, OutputError
from vrx.exports.shapefile import write_shapefile

with np.errstate(invalid="ignore"):
    NOT_A_NUMBER = shapely.from_wkt("POLYGON((0 0, 1 0, 1 nan, 0 0))")
ENDINGS = [".shp", ".shx", ".dbf", ".prj", ".cpg"]


def raw_cells(dbf: bytes) -> list[list[str]]:
    """Cut the records of a .dbf by the widths in its header, as text, blanks kept."""
    header, record = int.from_bytes(dbf[8:10], "little"), int.from_bytes(dbf[10:12], "little")
    widths = [dbf[at + 16] for at in range(32, header - 1, 32)]
    found = []
    for number in range(int.from_bytes(dbf[4:8], "little")):
        row = dbf[header + number * record : header + (number + 1) * record]
        assert row[:1] == b" "
        ends = np.cumsum([1, *widths])
        found.append([row[a:b].decode("ascii") for a, b in pairwise(ends)])
    return found


def signed_area(ring: list[tuple[float, float]]) -> float:
    """Shoelace formula: above 0 is counterclockwise."""
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(ring)) / 2


def test_the_five_files_are_written_and_named(tmp_path: Path) -> None:
    """The .shp comes first, and nothing else lies in the folder."""
    paths = write_shapefile(sheet_of(), tmp_path)
    assert paths == [tmp_path / f"vlei_2027_lime_k7mq{ending}" for ending in ENDINGS]
    assert sorted(tmp_path.iterdir()) == sorted(paths)


def test_pyshp_reads_the_rates_and_the_shapes(tmp_path: Path) -> None:
    """A reader in plain Python finds the rates as they are, in order, and every vertex to the last bit."""
    sheet = sheet_of([*SQUARES, HOLED])
    shp = write_shapefile(sheet, tmp_path)[0]
    with shapefile.Reader(str(shp)) as reader:
        assert reader.shapeType == shapefile.POLYGON
        field = reader.fields[-1]
        assert (field.name, str(field.field_type), field.size, field.decimal) == ("RATE", "N", 4, 1)
        assert [record["RATE"] for record in reader.iterRecords()] == [18.5, 19.0, 19.5, 20.0, 20.5, 21.0]
        for got, wanted in zip(reader.iterShapes(), sheet.shapes, strict=True):
            assert shapely.equals(shapely.geometry.shape(got.__geo_interface__), wanted)
            assert {tuple(point) for point in got.points} == set(map(tuple, shapely.get_coordinates(wanted)))


def test_gdal_reads_the_rates_and_the_shapes(tmp_path: Path) -> None:
    """GDAL finds the same rates, shapes, CRS and encoding, and no part twice."""
    sheet = sheet_of([*SQUARES, HOLED])
    shp = write_shapefile(sheet, tmp_path)[0]
    got = pyogrio.read_dataframe(shp)
    assert list(got["RATE"]) == [18.5, 19.0, 19.5, 20.0, 20.5, 21.0]
    assert set(got.geom_type) == {"Polygon"}
    assert not got.has_z.any()
    assert shapely.equals(got.geometry.to_numpy(), sheet.shapes).all()
    assert got.crs.to_epsg() == 4326
    info = pyogrio.read_info(shp)
    assert (info["encoding"], list(info["fields"])) == ("UTF-8", ["RATE"])


def test_whole_rates_are_whole_numbers(tmp_path: Path) -> None:
    """A column without decimals comes back as integers, also beyond 32 bits."""
    shp = write_shapefile(sheet_of(counts=[0, 85000, 102500, 98000, 5_000_000_000], decimals=0), tmp_path)[0]
    got = pyogrio.read_dataframe(shp, read_geometry=False)["RATE"]
    assert got.dtype.kind == "i"
    assert list(got) == [0, 85000, 102500, 98000, 5_000_000_000]


def test_outer_rings_run_clockwise_and_holes_counterclockwise(tmp_path: Path) -> None:
    """The direction holds whichever way the polygon came."""
    for shape in (HOLED, shapely.reverse(HOLED)):
        shp = write_shapefile(sheet_of([shape]), tmp_path)[0]
        with shapefile.Reader(str(shp)) as reader:
            points, parts = reader.shape(0).points, [*reader.shape(0).parts, None]
        rings = [points[a:b] for a, b in pairwise(parts)]
        assert [signed_area(ring) < 0 for ring in rings] == [True, False]
        assert all(ring[0] == ring[-1] for ring in rings)


def test_heights_are_left_out(tmp_path: Path) -> None:
    """A polygon with Z is written flat, as shape type 5."""
    shp = write_shapefile(sheet_of([shapely.force_3d(HOLED, 7.0)]), tmp_path)[0]
    with shapefile.Reader(str(shp)) as reader:
        assert reader.shapeType == shapefile.POLYGON
        assert not reader.shape(0).__geo_interface__["coordinates"][0][0][2:]


@pytest.mark.parametrize("code", [4326, 32734, 2052, 26849, 3857, 5070])
def test_the_prj_is_the_crs(tmp_path: Path, code: int) -> None:
    """PROJ reads the .prj, one line of WKT1, as the CRS of the sheet, whatever the EPSG code."""
    sheet = sheet_of(crs=f"EPSG:{code}")
    text = write_shapefile(sheet, tmp_path)[3].read_text(encoding="ascii")
    assert "\n" not in text
    assert text.startswith(("GEOGCS[", "PROJCS["))
    # GIS drawings have x first by the format's custom, whatever the registry says of the axes.
    assert CRS.from_wkt(text).equals(CRS.from_epsg(code), ignore_axis_order=True)


def test_the_cpg_says_utf_8(tmp_path: Path) -> None:
    """The .cpg holds UTF-8 and no line end."""
    assert write_shapefile(sheet_of(), tmp_path)[4].read_bytes() == b"UTF-8"


@pytest.mark.parametrize(
    ("counts", "decimals", "cells"),
    [
        pytest.param([0, 5, 185], 1, [" 0.0", " 0.5", "18.5"], id="right aligned, all decimals"),
        pytest.param([85000, 102500], 0, [" 85000", "102500"], id="as wide as the widest"),
        pytest.param([-5, 3], 1, ["-0.5", " 0.3"], id="a sign"),
        pytest.param([1, 10**15 - 1], 9, ["     0.000000001", "999999.999999999"], id="15 digits"),
        pytest.param([0], 0, ["0"], id="one digit"),
    ],
)
def test_a_cell_is_the_text_of_the_rate(tmp_path: Path, counts: list[int], decimals: int, cells: list[str]) -> None:
    """Width and decimals follow from the values, and no digit is lost."""
    paths = write_shapefile(sheet_of(SQUARES[: len(counts)], counts, decimals=decimals), tmp_path)
    assert [row[0] for row in raw_cells(paths[2].read_bytes())] == cells


@settings(max_examples=60)
@given(
    decimals=st.integers(0, 9),
    rows=st.lists(st.tuples(*[st.integers(-(10**15) + 1, 10**15 - 1)] * 2), min_size=1, max_size=8),
)
def test_rates_come_back_exactly(tmp_path_factory: pytest.TempPathFactory, decimals: int, rows: list) -> None:
    """Any rates of up to 15 digits, in two columns, are the text in the cell and the number for a reader."""
    first, second = zip(*rows, strict=True)
    sheet = sheet_of(jagged(len(rows), 5), {"RATE_A": first, "RATE_B": second}, decimals=decimals)
    paths = write_shapefile(sheet, tmp_path_factory.mktemp("written"))
    texts = [[column.rate_text(at) for column in sheet.columns] for at in range(len(rows))]
    assert [[cell.strip() for cell in row] for row in raw_cells(paths[2].read_bytes())] == texts
    with shapefile.Reader(str(paths[0])) as reader:
        assert [list(map(float, record)) for record in reader.iterRecords()] == [list(map(float, row)) for row in texts]


def test_columns_keep_their_order_and_width(tmp_path: Path) -> None:
    """Columns of two products stand in their order, each as wide as it needs."""
    sheet = sheet_of(counts={"RATE_LIME": [1, 2, 3, 4, 5], "RATE_N": [100, 0, 0, 0, 0]}, decimals=0)
    info = pyogrio.read_info(write_shapefile(sheet, tmp_path)[0])
    assert list(info["fields"]) == ["RATE_LIME", "RATE_N"]
    assert raw_cells((tmp_path / f"{sheet.name}.dbf").read_bytes())[0] == ["1", "100"]


def test_a_rate_of_too_many_digits_is_refused(tmp_path: Path) -> None:
    """16 digits are an error and no file, not a shorter number."""
    with pytest.raises(OutputError, match="more than 15 digits"):
        write_shapefile(sheet_of(SQUARES[:1], [10**15], decimals=0), tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("names", [("RATE_KG_HA_N",), ("Höhe",), ("1",), ("RATE", "Rate"), ()], ids=repr)
def test_names_that_a_shapefile_lacks_are_refused(tmp_path: Path, names: tuple[str, ...]) -> None:
    """Names over ten characters, not plain, twice or none at all are an error and no file."""
    sheet = replace(sheet_of(), columns=tuple(column_of([1, 2, 3, 4, 5], name=name) for name in names))
    with pytest.raises(OutputError):
        write_shapefile(sheet, tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        pytest.param(shapely.MultiPolygon(SQUARES[::2]), "single polygon", id="several parts"),
        pytest.param(shapely.Polygon(), "empty", id="empty"),
        pytest.param(shapely.LineString([(0, 0), (1, 1)]), "single polygon", id="a line"),
        pytest.param(NOT_A_NUMBER, "finite", id="not a number"),
    ],
)
def test_a_shape_that_is_no_single_polygon_is_refused(tmp_path: Path, shape: shapely.Geometry, words: str) -> None:
    """The error names the record."""
    with pytest.raises(OutputError, match=f"Shape 2 .*{words}"):
        write_shapefile(sheet_of([SQUARES[0], shape]), tmp_path)


def test_rates_and_shapes_are_of_one_number(tmp_path: Path) -> None:
    """A column with a rate too few is an error."""
    with pytest.raises(OutputError, match="2 rates for 5 polygons"):
        write_shapefile(sheet_of(counts=[1, 2]), tmp_path)


def test_an_unknown_crs_is_refused(tmp_path: Path) -> None:
    """A CRS that PROJ does not know is an error and no file."""
    with pytest.raises(CrsError):
        write_shapefile(sheet_of(crs="EPSG:1"), tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_sheet_without_shapes_can_be_read(tmp_path: Path) -> None:
    """No polygon makes an empty layer, not a broken one."""
    shp = write_shapefile(sheet_of([], []), tmp_path)[0]
    with shapefile.Reader(str(shp)) as reader:
        assert len(reader) == 0
    assert len(pyogrio.read_dataframe(shp)) == 0
