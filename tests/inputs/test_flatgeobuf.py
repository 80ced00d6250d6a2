from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from support_cases import RATES, UTM
from support_formats import (
    write_flatgeobuf,
    write_flatgeobuf_without_index,
    write_with_gdal,
    zone_columns,
    zone_shapes,
)

from vrx.errors import CrsError, InputError
from vrx.inputs.cells import read_numbers
from vrx.inputs.flatgeobuf import read_flatgeobuf
from vrx.inputs.read import read_layer


def written(folder: Path, shapes: Any, columns: dict[str, Any] | None = None, **more: Any) -> Path:
    columns = {"zone": np.array([str(at) for at in range(len(shapes))], dtype=object)} if columns is None else columns
    path = folder / "z.fgb"
    return write_with_gdal(path, shapes, columns, driver="FlatGeobuf", **({"SPATIAL_INDEX": "NO"} | more))


@pytest.mark.parametrize("write", [write_flatgeobuf, write_flatgeobuf_without_index])
def test_with_and_without_an_index(tmp_path: Path, write: Any) -> None:
    """An index is stepped over; zones keep their rates whatever order it has put them in."""
    layer = read_layer(write(tmp_path))
    assert layer.crs == UTM
    assert dict(zip(layer.columns["zone"].cells, layer.columns["rate"].cells, strict=True)) == RATES
    drawn = dict(zip(RATES, zone_shapes(), strict=True))
    assert all(
        shape.equals(drawn[str(zone)]) for zone, shape in zip(layer.columns["zone"].cells, layer.shapes, strict=True)
    )
    assert layer.findings == ()


def test_every_kind_of_cell_comes_through(tmp_path: Path) -> None:
    """Whole numbers to the last digit, 32-bit numbers as they were typed, text, truth, times, and no value as none."""
    none = np.array([False, True, False])
    columns = {
        "int16": np.array([-3, 0, 3], dtype=np.int16),
        "uint8": np.array([0, 128, 255], dtype=np.uint8),
        "int32": (np.array([-(2**31), 1, 2**31 - 1], dtype=np.int32), none),
        "int64": np.array([2**53 + 1, 0, -(2**53) - 1], dtype=np.int64),
        "float32": (np.array([12.3, 1, 0.1], dtype=np.float32), none),
        "float64": (np.array([12.3, 1, -9999.0]), none),
        "text": np.array(["Señal – norte", None, " x "], dtype=object),
        "truth": (np.array([True, True, False]), none),
        "time": np.array(["2031-04-05T06:07:08"] * 3, dtype="datetime64[ms]"),
    }
    layer = read_layer(written(tmp_path, zone_shapes(), columns))
    cells = {name: column.cells for name, column in layer.columns.items()}
    assert cells == {
        "int16": (-3, 0, 3),
        "uint8": (0, 128, 255),
        "int32": (-(2**31), None, 2**31 - 1),
        "int64": (2**53 + 1, 0, -(2**53) - 1),
        "float32": (12.3, None, 0.1),
        "float64": (12.3, None, -9999.0),
        "text": ("Señal – norte", None, "x"),
        "truth": (True, None, False),
        "time": ("2031-04-05T06:07:08",) * 3,
    }
    assert [name for name, column in layer.columns.items() if column.kind == "number"] == list(columns)[:6]
    assert [bad.kind for bad in read_numbers(layer.columns["float64"]).bad] == ["empty", "no-data-code"]


PARTS = shapely.MultiPolygon([shapely.box(0, 0, 9, 9).difference(shapely.box(2, 2, 4, 4)), shapely.box(20, 0, 30, 9)])


@pytest.mark.parametrize(
    "shape",
    [
        pytest.param(shapely.Point(500_000, 4_000_000), id="a point"),
        pytest.param(shapely.MultiPoint([(0, 0), (1, 1)]), id="points"),
        pytest.param(shapely.LineString([(0, 0), (5, 5), (9, 0)]), id="a line"),
        pytest.param(shapely.MultiLineString([[(0, 0), (5, 5)], [(9, 0), (9, 9), (8, 8)]]), id="lines"),
        pytest.param(PARTS.geoms[0], id="a hole"),
        pytest.param(PARTS, id="parts and a hole"),
        pytest.param(shapely.MultiPolygon([shapely.box(0, 0, 1, 1)]), id="one part"),
        pytest.param(shapely.GeometryCollection([PARTS, shapely.Point(0, 0)]), id="a collection"),
    ],
)
def test_every_kind_of_shape_comes_through(tmp_path: Path, shape: Any) -> None:
    """As drawn, where the header says the kind and where each feature does."""
    for kind in (shape.geom_type, "Unknown"):
        path = written(tmp_path, np.array([shape, shape]), geometry_type=kind)
        assert [one.wkt for one in read_flatgeobuf(path.read_bytes(), source="z").shapes] == [shape.wkt] * 2


def test_heights_are_noted_and_missing_shapes_are_none(tmp_path: Path) -> None:
    """Heights are left out with a note; a feature without a shape stays."""
    flat = zone_shapes()[0]
    shapes = np.array([shapely.force_3d(flat, 3.0), None])
    layer = read_layer(written(tmp_path, shapes, geometry_type="Polygon Z"))
    assert [finding.id for finding in layer.findings] == ["has-z"]
    assert layer.shapes[0].equals(flat)
    assert not shapely.has_z(layer.shapes[0])
    assert layer.shapes[1] is None


def test_no_crs_is_settled_by_the_plan(tmp_path: Path) -> None:
    """A header without a CRS is refused, and read with the one that the plan says."""
    with pytest.warns(UserWarning, match="crs"):
        path = written(tmp_path, zone_shapes(), zone_columns(), crs=None)
    with pytest.raises(CrsError, match="no CRS"):
        read_layer(path)
    assert read_layer(path, crs=UTM).crs == UTM


@pytest.mark.parametrize("keep", [7, 11, 60, 0.5, 0.8, -1])
def test_a_file_cut_short_is_one_clear_line(tmp_path: Path, keep: float) -> None:
    """Wherever it ends, with an index too: refused, in a line that says so."""
    path = write_flatgeobuf(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: int(keep * len(data)) if 0 < keep < 1 else int(keep)])
    with pytest.raises(InputError, match=r"cut short|no FlatGeobuf") as caught:
        read_layer(path)
    assert "\n" not in str(caught.value)


def test_a_feature_whose_points_lie_elsewhere_is_named(tmp_path: Path) -> None:
    """The last offset of the file led astray: the feature is named."""
    path = write_flatgeobuf_without_index(tmp_path)
    data = bytearray(path.read_bytes())
    ring = data.rindex(struct.pack("<d", zone_shapes()[-1].exterior.coords[0][0])) - 4 * 16  # it ends where it begins
    assert data[ring - 4 : ring] == struct.pack("<I", 10)
    data[ring - 4 : ring] = struct.pack("<I", 2**28)
    path.write_bytes(data)
    with pytest.raises(InputError, match=r"feature 3: a list of .* leads outside"):
        read_layer(path)
