"""Written GeoPackages, read by readers that are not the writer."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pyogrio
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from support_sheets import HOLED, SQUARES, jagged, sheet_of

from vrx.errors import CrsError, OutputError
from vrx.exports.geopackage import write_geopackage


def test_gdal_reads_layer_rates_and_shapes(tmp_path: Path) -> None:
    """One layer named after the sheet, with rates, CRS and every vertex to the last bit."""
    sheet = sheet_of([*SQUARES, HOLED, *jagged(20, 30)])
    (path,) = write_geopackage(sheet, tmp_path)
    assert path == tmp_path / "vlei_2027_lime_k7mq.gpkg"
    assert [name for name, _ in pyogrio.list_layers(path)] == [sheet.name]
    got = pyogrio.read_dataframe(path)
    assert list(got["RATE"]) == [float(sheet.columns[0].rate_text(at)) for at in range(26)]
    assert got.crs.to_epsg() == 4326
    wound = shapely.orient_polygons(sheet.shapes)
    assert (shapely.get_coordinates(got.geometry.to_numpy()) == shapely.get_coordinates(wound)).all()
    assert not got.has_z.any()


def test_sqlite_finds_the_same_without_gdal(tmp_path: Path) -> None:
    """Plain SQL finds the rates and, behind the 8 + 32 bytes of the header, the polygons as WKB."""
    sheet = sheet_of([*SQUARES, HOLED])
    (path,) = write_geopackage(sheet, tmp_path)
    with closing(sqlite3.connect(path)) as database:
        rows = database.execute(f'SELECT geom, "RATE" FROM "{sheet.name}" ORDER BY fid').fetchall()
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert [rate for _, rate in rows] == [18.5, 19.0, 19.5, 20.0, 20.5, 21.0]
    shapes = [shapely.from_wkb(blob[8 + 32 :]) for blob, _ in rows]
    assert shapely.equals(shapes, sheet.shapes).all()


def test_the_description_travels(tmp_path: Path) -> None:
    """Product, unit, field and season are in the file's table of contents, letters as they are."""
    sheet = sheet_of(description="Düngekalk, kg/ha, Vlei, 2027 = a; b")
    (path,) = write_geopackage(sheet, tmp_path)
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("SELECT identifier, description FROM gpkg_contents").fetchall() == [
            (sheet.name, sheet.description)
        ]


def test_the_only_time_in_the_file_is_the_sheets_date(tmp_path: Path) -> None:
    """The last change is the date of the sheet at midnight UTC."""
    (path,) = write_geopackage(sheet_of(date="1980-01-01"), tmp_path)
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("SELECT last_change FROM gpkg_contents").fetchall() == [("1980-01-01T00:00:00.000Z",)]


def test_whole_rates_are_integers(tmp_path: Path) -> None:
    """A column without decimals is an integer column, beyond 32 bits too."""
    rates = [0, 85000, 102500, 98000, 5_000_000_000]
    (path,) = write_geopackage(sheet_of(counts=rates, decimals=0), tmp_path)
    with closing(sqlite3.connect(path)) as database:
        assert database.execute(f'SELECT "RATE", typeof("RATE") FROM "{sheet_of().name}"').fetchall() == [
            (rate, "integer") for rate in rates
        ]


@settings(max_examples=15)
@given(decimals=st.integers(1, 9), counts=st.lists(st.integers(-(10**15) + 1, 10**15 - 1), min_size=1, max_size=8))
def test_rates_come_back_exactly(tmp_path_factory: pytest.TempPathFactory, decimals: int, counts: list[int]) -> None:
    """A rate of up to 15 digits is the double that its decimal text stands for."""
    sheet = sheet_of(jagged(len(counts), 5), counts, decimals=decimals)
    (path,) = write_geopackage(sheet, tmp_path_factory.mktemp("written"))
    got = pyogrio.read_dataframe(path, read_geometry=False)["RATE"]
    assert list(got) == [float(sheet.columns[0].rate_text(at)) for at in range(len(counts))]


@pytest.mark.parametrize("code", [32734, 2052, 26849])
def test_other_crs_are_kept(tmp_path: Path, code: int) -> None:
    """A sheet in another CRS comes back in it."""
    box = shapely.box(500000, 6000000, 500100, 6000100)
    (path,) = write_geopackage(sheet_of([box], crs=f"EPSG:{code}"), tmp_path)
    got = pyogrio.read_dataframe(path)
    assert got.crs.to_epsg() == code
    assert got.geometry[0].equals(box)


def test_what_can_not_be_written_is_refused(tmp_path: Path) -> None:
    """Several parts, a column named as the shape's own and an unknown CRS are errors, and no file is there."""
    with pytest.raises(OutputError, match="single polygon"):
        write_geopackage(sheet_of([shapely.MultiPolygon(SQUARES[::2])]), tmp_path)
    with pytest.raises(OutputError, match="every GeoPackage"):
        write_geopackage(sheet_of(counts={"Geom": [1, 2, 3, 4, 5]}), tmp_path)
    with pytest.raises(CrsError):
        write_geopackage(sheet_of(crs="EPSG:1"), tmp_path)
    assert not list(tmp_path.iterdir())
