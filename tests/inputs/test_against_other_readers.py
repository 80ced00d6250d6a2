"""The same open data through our readers and through readers that share no code with them.

The data: official field parcels and other open sets, listed with their licences beside the shared folder's data.
"""

from __future__ import annotations

import csv
import json
import math
import warnings
from pathlib import Path

import fiona
import numpy as np
import pyogrio
import pyproj
import pytest
import shapefile as pyshp
import shapely
import support_cases as cases

from vrx.inputs.cells import read_numbers
from vrx.inputs.read import read_layer, read_table
from vrx.model.layer import Column, Layer

PACKAGES = [
    "fields_at_ccby",
    "fields_br_lem_ccby",
    "fields_dk_cc0",
    "fields_jecam_ccby",
    "fields_nl_cc0",
    "fields_nz_ccby",
    "fields_usca_3d_cc0",
    "meuse_area_rd",
    "ny8_utm18_5invalid",
    "ws_as_applied_s_rate",
    "ws_soy_yield",
    "ws_treatment_blocks",
]


def same_cells(column: Column, values: list[object]) -> bool:
    """Cells as another reader has them: empty for None and NaN, numbers by value, text without outer spaces."""

    def plain(value: object) -> object:
        if value is None or (isinstance(value, float) and math.isnan(value)):
            return None
        if isinstance(value, bool | np.bool_):
            return int(value)
        # GDAL writes a time in UTC in its own way
        return value.strip().replace("+00:00", "Z") or None if isinstance(value, str) else value

    return [plain(cell) for cell in column.cells] == [plain(value) for value in values]


def same_shapes(layer: Layer, shapes: list[object]) -> bool:
    ours = [None if shape is None else shape.wkb for shape in layer.shapes]
    theirs = [None if shape is None or shape.is_empty else shapely.force_2d(shape).wkb for shape in shapes]
    return ours == theirs


@pytest.mark.parametrize("name", PACKAGES)
def test_geopackages_as_fiona_reads_them(shared: Path, name: str) -> None:
    """Shapes to the bit, every cell, the record numbers and the CRS."""
    path = shared / "data" / f"{name}.gpkg"
    layer = read_layer(path)
    with fiona.open(path) as collection:
        rows = list(collection)
        theirs = pyproj.CRS(collection.crs.to_wkt())
    assert same_shapes(layer, [shapely.geometry.shape(row.geometry) for row in rows])
    assert layer.records.tolist() == [int(row.id) for row in rows]
    assert list(layer.columns) == list(rows[0].properties)
    for column in layer.columns.values():
        assert same_cells(column, [row.properties[column.name] for row in rows]), column.name
    assert pyproj.CRS(layer.crs).to_epsg() == theirs.to_epsg()


@pytest.mark.parametrize("name", ["colorado-counties", "gartner_soil_units", "rmnp_boundary"])
def test_geojson_as_pyogrio_reads_it(shared: Path, name: str) -> None:
    """Shapes to the bit and the number of columns, against GDAL."""
    path = shared / "data" / f"{name}.geojson"
    layer = read_layer(path)
    meta, _, wkb, columns = pyogrio.raw.read(path)
    assert same_shapes(layer, list(shapely.from_wkb(wkb)))
    numbers = [at for at, kind in enumerate(meta["dtypes"]) if np.dtype(kind).kind in "if"]
    for at in numbers:
        ours = read_numbers(layer.columns[meta["fields"][at]])
        assert ours.values == pytest.approx(columns[at].astype(float), nan_ok=True)


def test_a_shapefile_as_pyshp_reads_it(shared: Path) -> None:
    """500 plots of the Mercer and Hall wheat trial: coordinates to the bit, cells, and the mean of their yields."""
    path = shared / "data" / "wheat_noprj.shp"
    layer = read_layer(path, crs="EPSG:32630")
    with pyshp.Reader(str(path)) as reader:
        shapes = [shapely.geometry.shape(shape.__geo_interface__) for shape in reader.shapes()]
        names = [field[0] for field in reader.fields if field[0] != "DeletionFlag"]
        rows = [list(record) for record in reader.records()]
    assert len(layer.shapes) == 500
    assert all(ours.equals_exact(theirs) for ours, theirs in zip(layer.shapes, shapes, strict=True))
    assert list(layer.columns) == names
    for at, name in enumerate(names):
        if layer.columns[name].kind == "text":
            assert list(layer.columns[name].cells) == [row[at] for row in rows]
        else:
            assert read_numbers(layer.columns[name]).values.tolist() == [float(row[at]) for row in rows]
    # spData's help page for wheat, as the shared list of data sets gives it: mean 3.94864 lb
    assert round(float(read_numbers(layer.columns["yield"]).values.mean()), 5) == 3.94864


@pytest.mark.parametrize("name", ["fields_nl_cc0", "fields_br_lem_ccby", "ny8_utm18_5invalid", "meuse_area_rd"])
def test_shapefiles_that_gdal_writes(shared: Path, tmp_path: Path, name: str) -> None:
    """Open data written as a shapefile by GDAL comes back as GDAL itself reads it: area by area, hole by hole."""
    meta, _, wkb, columns = pyogrio.raw.read(shared / "data" / f"{name}.gpkg")
    path = tmp_path / "z.shp"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # GDAL shortens names
        pyogrio.raw.write(
            path, wkb, columns, meta["fields"], geometry_type="Polygon", crs=meta["crs"], driver="ESRI Shapefile"
        )
    layer = read_layer(path)
    back = shapely.from_wkb(pyogrio.raw.read(path)[2])
    assert pyproj.CRS(layer.crs).to_epsg() == pyproj.CRS(meta["crs"]).to_epsg()
    assert shapely.area(layer.shapes).tolist() == pytest.approx(shapely.area(back).tolist(), rel=1e-12)
    valid = shapely.is_valid(back)
    assert shapely.equals(layer.shapes[valid], back[valid]).all()
    assert layer.findings == ()


@pytest.mark.parametrize("name", ["fields_nl_cc0", "fields_dk_cc0", "ny8_utm18_5invalid", "ws_soy_yield"])
@pytest.mark.parametrize("index", ["YES", "NO"])
def test_flatgeobuf_as_fiona_reads_it(shared: Path, tmp_path: Path, name: str, index: str) -> None:
    """Open data written by GDAL: shapes to the bit, every cell and the order, as fiona's own GDAL reads them."""
    meta, _, wkb, columns = pyogrio.raw.read(shared / "data" / f"{name}.gpkg")
    path = tmp_path / "z.fgb"
    kind = meta["geometry_type"]
    pyogrio.raw.write(path, wkb, columns, meta["fields"], geometry_type=kind, crs=meta["crs"], SPATIAL_INDEX=index)
    layer = read_layer(path)
    with fiona.open(path) as collection:
        rows = list(collection)
    assert same_shapes(layer, [shapely.geometry.shape(row.geometry) for row in rows])
    assert list(layer.columns) == list(rows[0].properties)
    for column in layer.columns.values():
        assert same_cells(column, [row.properties[column.name] for row in rows]), column.name
    assert pyproj.CRS(layer.crs).to_epsg() == pyproj.CRS(meta["crs"]).to_epsg()


@pytest.mark.parametrize(
    ("name", "number", "column", "mean"),
    [
        pytest.param("lasrosas.corn.csv", 3443, "yield", None, id="maize trial with longitude and latitude"),
        pytest.param("gartner.corn.csv", 4949, "mass", None, id="yield monitor"),
        # 155 samples, of which the shared list of data sets says so
        pytest.param("meuse.csv", 155, "zinc", None, id="soil samples in x and y"),
        pytest.param("geor_ca20.csv", 178, "ca", 50.68, id="calcium: mean as published with the data"),
    ],
)
def test_tables_as_the_standard_library_reads_them(
    shared: Path, name: str, number: int, column: str, mean: float | None
) -> None:
    """Every cell is what Python's own csv module has, without outer spaces."""
    path = shared / "data" / name
    table = read_table(path)
    with path.open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert len(rows) == number
    for one in table.columns.values():
        assert list(one.cells) == [row[one.name].strip() or None for row in rows]
    if mean is not None:
        assert round(float(read_numbers(table.columns[column]).values.mean()), 2) == mean


def test_points_of_a_table_lie_where_its_help_page_says(shared: Path) -> None:
    """Corners of the Las Rosas trial as the help page of the data gives them (agridat 1.27, lasrosas.corn)."""
    layer = read_layer(shared / "data" / "lasrosas.corn.csv")
    points = shapely.get_coordinates(layer.shapes)
    for corner in ((-63.8488636, -33.0501258), (-63.84181819, -33.05229635)):
        # rows are 9.8 m apart: some point lies within two rows of a corner, and with x and y swapped none would
        assert np.abs(points - corner).max(axis=1).min() < 2 * 9.8 / 111_000 * 1.2


def test_our_own_messy_shapefiles_are_sound_to_another_reader(tmp_path: Path) -> None:
    """What the generator of cases writes is a shapefile to pyshp too, so the cases test what they say."""
    ring = cases.zone_ring("A")[::-1]
    path = cases.write_shapefile(tmp_path, "z", [[ring], None, [ring]], [["A", "85.00"], ["B", ""], ["C", "0.00"]])
    with pyshp.Reader(str(path)) as reader:
        kinds = [shape.shapeType for shape in reader.shapes()]
        rows = [list(record) for record in reader.records()]
    assert kinds == [5, 0, 5]
    assert rows == [["A", 85.0], ["B", None], ["C", 0.0]]


def test_empty_shapes_are_none_to_another_reader_too(tmp_path: Path) -> None:
    """GDAL finds no shape in the same two records of a file with a null shape and a polygon without parts."""
    path = cases.write_null_and_empty(tmp_path)
    theirs = shapely.from_wkb(pyogrio.raw.read(path)[2])
    missing = [shape is None or shape.is_empty for shape in theirs]
    assert missing == [False, False, True, True, False]
    assert [shape is None for shape in read_layer(path).shapes] == missing


def test_our_own_geopackages_are_sound_to_another_reader(tmp_path: Path) -> None:
    """GDAL reads the generator's GeoPackage with the same shapes, rates and CRS."""
    path = cases.write_web_mercator(tmp_path)
    with fiona.open(path) as collection:
        rows = list(collection)
        assert pyproj.CRS(collection.crs.to_wkt()).to_epsg() == 3857
    assert [row.properties["rate"] for row in rows] == [85.0, 115.0, 140.0]
    assert same_shapes(read_layer(path), [shapely.geometry.shape(row.geometry) for row in rows])


def test_strict_json_has_no_nan(tmp_path: Path) -> None:
    """The generator's file with NaN is one that a strict reader of JSON refuses."""

    def refuse(name: str) -> object:
        raise ValueError(name)

    with pytest.raises(ValueError, match="NaN"):
        json.loads(cases.write_nan(tmp_path).read_text(), parse_constant=refuse)
