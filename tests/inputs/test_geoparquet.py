from __future__ import annotations

import datetime as dt
import decimal
import json
import sys
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pyproj
import pytest
import shapely
from support_cases import RATES, UTM
from support_formats import write_parquet, zone_columns, zone_shapes

from vrx.errors import CrsError, InputError
from vrx.inputs.read import read_layer

NONE = object()


def written(
    path: Path, *, crs: Any = NONE, degrees: bool = False, columns: dict[str, Any] | None = None, **said: Any
) -> Path:
    """Write zones A, B, C by hand, with what the metadata are to say of their column of shapes."""
    about = {"encoding": "WKB", "geometry_types": [], **({} if crs is NONE else {"crs": crs}), **said}
    geo = {"version": "1.1.0", "primary_column": "shape", "columns": {"shape": about}}
    shapes = zone_shapes("EPSG:4326" if crs is NONE or degrees else UTM)
    table = pa.table({"zone": list(RATES), **(columns or {}), "shape": list(shapely.to_wkb(shapes))})
    pq.write_table(table.replace_schema_metadata({"geo": json.dumps(geo)}), path)
    return path


def test_as_geopandas_writes_it(tmp_path: Path) -> None:
    """Shapes to the bit, cells and CRS."""
    layer = read_layer(write_parquet(tmp_path))
    assert layer.crs == UTM
    assert [one.wkb for one in layer.shapes] == [one.wkb for one in zone_shapes()]
    assert {name: (one.kind, one.cells) for name, one in layer.columns.items()} == {
        "zone": ("text", tuple(RATES)),
        "rate": ("number", tuple(map(float, RATES.values()))),
    }
    assert layer.findings == ()


@pytest.mark.parametrize("name", ["fields_nl_cc0", "fields_dk_cc0", "fields_usca_3d_cc0", "ws_soy_yield"])
def test_open_data_as_geopandas_reads_it(shared: Path, tmp_path: Path, name: str) -> None:
    """Shapes and cells of open data, written and read by geopandas."""
    path = tmp_path / "z.parquet"
    geopandas.read_file(shared / "data" / f"{name}.gpkg").to_parquet(path)
    layer, theirs = read_layer(path), geopandas.read_parquet(path)
    assert [one.wkb for one in layer.shapes] == [one.wkb for one in shapely.force_2d(theirs.geometry.to_numpy())]
    assert list(layer.columns) == [column for column in theirs.columns if column != "geometry"]
    for column in layer.columns.values():
        for ours, value in zip(column.cells, theirs[column.name].tolist(), strict=True):
            if isinstance(value, str):
                assert ours == (value.strip() or None)
            elif isinstance(value, pd.Timestamp) and not pd.isna(value):
                assert dt.datetime.fromisoformat(str(ours)) == value.to_pydatetime()
            else:
                assert ours == (None if pd.isna(value) else value)
    assert pyproj.CRS(layer.crs) == theirs.crs


def test_every_kind_of_cell_comes_through(tmp_path: Path) -> None:
    """Whole numbers to the last digit, 32-bit and decimal numbers as they were typed, text, truth, dates, lists."""
    columns = {
        "int64": pa.array([2**53 + 1, None, -1]),
        "float32": pa.array([12.7, None, np.nan], pa.float32()),
        "float64": pa.array([12.7, np.inf, -9999.0]),
        "decimal": pa.array([decimal.Decimal("12.50"), None, decimal.Decimal("0.00")]),
        "text": pa.array(["Señal – norte", None, " "]),
        "coded": pa.array(["x", "y", "x"]).dictionary_encode(),
        "truth": pa.array([True, None, False]),
        "day": pa.array([dt.date(2031, 4, 5), None, None]),
        "bytes": pa.array([b"abc", None, b""]),
        "list": pa.array([[1, 2], None, []]),
        "none": pa.nulls(3),
    }
    layer = read_layer(written(tmp_path / "z.parquet", columns=columns))

    assert {name: column.cells for name, column in layer.columns.items()} == {
        "zone": tuple(RATES),
        "int64": (2**53 + 1, None, -1),
        "float32": (12.7, None, None),
        "float64": (12.7, "inf", -9999.0),
        "decimal": ("12.50", None, "0.00"),
        "text": ("Señal – norte", None, None),
        "coded": ("x", "y", "x"),
        "truth": (True, None, False),
        "day": ("2031-04-05", None, None),
        "bytes": ("(3 bytes)", None, "(0 bytes)"),
        "list": ("[1, 2]", None, "[]"),
        "none": (None, None, None),
    }
    numbers = [name for name, column in layer.columns.items() if column.kind == "number"]
    assert numbers == ["int64", "float32", "float64", "decimal"]


def test_no_crs_is_longitude_and_latitude(tmp_path: Path) -> None:
    """As the standard has it where the key is left out; the same where it is named."""
    absent = read_layer(written(tmp_path / "a.parquet"))
    assert (absent.crs, absent.findings) == ("EPSG:4326", ())
    named = {"type": "GeographicCRS", "name": "WGS 84 (CRS84)", "id": {"authority": "OGC", "code": "CRS84"}}
    said = read_layer(written(tmp_path / "b.parquet", crs=named, degrees=True))
    assert (said.crs, said.findings) == ("EPSG:4326", ())


def test_a_crs_of_null_is_unknown(tmp_path: Path) -> None:
    """Null says that nobody knows; the plan can settle it."""
    path = written(tmp_path / "z.parquet", crs=None)
    with pytest.raises(CrsError, match="geo metadata say that it is not known"):
        read_layer(path)
    assert read_layer(path, crs=UTM).crs == UTM


@pytest.mark.parametrize("said", [pyproj.CRS(UTM).to_json_dict(), pyproj.CRS(UTM).to_wkt()])
def test_a_crs_in_json_or_in_text(tmp_path: Path, said: Any) -> None:
    """PROJJSON, as today; WKT, as before version 1."""
    assert read_layer(written(tmp_path / "z.parquet", crs=said)).crs == UTM


def test_bounds_and_an_index_are_no_columns(tmp_path: Path) -> None:
    """What only repeats the shapes, and the index of a data frame, are left out; so is a second column of shapes."""
    frame = geopandas.GeoDataFrame(zone_columns(), geometry=zone_shapes(), crs=UTM, index=[7, 8, 9])
    frame["centre"] = frame.geometry.centroid
    frame.to_parquet(tmp_path / "z.parquet", write_covering_bbox=True, index=True)
    assert "bbox" in pq.read_schema(tmp_path / "z.parquet").names
    assert list(read_layer(tmp_path / "z.parquet").columns) == ["zone", "rate"]


def test_missing_shapes_stay_and_damaged_ones_are_named(tmp_path: Path) -> None:
    """A row without a shape has None; a shape cut short is named by its row."""
    path = written(tmp_path / "z.parquet")
    table = pq.read_table(path)
    wkb = table.column("shape").to_pylist()
    for second, words in ((None, ""), (wkb[1][:-9], "shape of feature 2 can't be read")):
        changed = table.set_column(1, "shape", pa.array([wkb[0], second, wkb[2]]))
        pq.write_table(changed, path)
        if words:
            with pytest.raises(InputError, match=words):
                read_layer(path)
        else:
            assert [one is None for one in read_layer(path).shapes] == [False, True, False]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param({"encoding": "polygon"}, "encoding 'polygon'; WKB is read", id="another encoding"),
        pytest.param({"encoding": None}, "encoding 'None'", id="no encoding"),
        pytest.param({"crs": 4326}, "CRS in its geo metadata can't be read", id="a CRS that is a number"),
        pytest.param({"crs": {"type": "nonsense"}}, "CRS in its geo metadata can't be read", id="nonsense"),
    ],
)
def test_what_the_metadata_may_not_say(tmp_path: Path, change: dict[str, Any], words: str) -> None:
    """Refused in a line."""
    path = written(tmp_path / "z.parquet", **change)
    with pytest.raises((InputError, CrsError), match=words):
        read_layer(path)


@pytest.mark.parametrize(
    ("geo", "words"),
    [
        pytest.param(None, "no geo metadata", id="plain Parquet"),
        pytest.param(b"{", "can't be read", id="no JSON"),
        pytest.param(b"[" * 100_000, "can't be read", id="deep JSON"),
        pytest.param(b'{"columns": 3}', "can't be read", id="no columns"),
        pytest.param(b'{"columns": {}}', "no primary column", id="no primary column"),
        pytest.param(
            b'{"columns": {"g": {"encoding": "WKB"}}, "primary_column": "g"}', "'g', is not there", id="not there"
        ),
        pytest.param(
            b'{"columns": {"zone": {"encoding": "WKB"}}, "primary_column": "zone"}', "no well-known binary", id="text"
        ),
    ],
)
def test_what_is_no_geoparquet_is_refused(tmp_path: Path, geo: bytes | None, words: str) -> None:
    """Refused in a line."""
    table = pa.table({"zone": ["A"]}).replace_schema_metadata(None if geo is None else {"geo": geo})
    pq.write_table(table, tmp_path / "z.parquet")
    with pytest.raises(InputError, match=words) as caught:
        read_layer(tmp_path / "z.parquet")
    assert "\n" not in str(caught.value)


def test_too_many_rows_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Before they are read."""
    monkeypatch.setattr("vrx.inputs.geoparquet._MOST_ROWS", 2)
    with pytest.raises(InputError, match="3 rows"):
        read_layer(write_parquet(tmp_path))


def test_without_pyarrow_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line, with the command."""
    path = write_parquet(tmp_path)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InputError) as caught:
        read_layer(path)
    assert str(caught.value) == (
        "bench.parquet: GeoParquet is read with pyarrow, which is not installed. "
        "Install it with: pip install 'vrx[parquet]' - or have the layer saved as a GeoPackage."
    )
