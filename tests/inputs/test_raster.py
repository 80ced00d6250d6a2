from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from support_cases import AREA_HA, FRAME, RATES, area_ha
from support_formats import NORTH_UP, raster_of_rates, write_raster, write_raster_of_rates

from vrx.errors import CrsError, InputError
from vrx.inputs.raster import read_raster
from vrx.inputs.read import read_layer
from vrx.model.layer import Layer


def areas(layer: Layer) -> dict[Any, float]:
    """Hectares on the ellipsoid by value."""
    found: dict[Any, float] = {}
    for value, shape in zip(layer.columns["value"].cells, layer.shapes, strict=True):
        found[value] = found.get(value, 0.0) + area_ha(shape, layer.crs)
    return found


def zones(bands: Any, folder: Path, band: str = "", **more: Any) -> Layer:
    return read_layer(write_raster(folder / "z.tif", bands, **more), layer=band)


def test_zones_of_rates(tmp_path: Path) -> None:
    """Three blocks of cells are three zones with the areas that they were drawn with."""
    layer = read_layer(write_raster_of_rates(tmp_path))
    assert layer.columns["value"].cells == tuple(RATES.values())
    assert layer.columns["value"].kind == "number"
    true = {float(RATES[zone]): hectares for zone, hectares in AREA_HA.items()}
    assert areas(layer) == pytest.approx(true, rel=1e-6)
    assert [finding.id for finding in layer.findings] == ["crs-unknown"]  # a projection without a code


@pytest.mark.parametrize(
    "place",
    [
        pytest.param((8.0, 6.0, 0.0, 6.0, -8.0, 0.0), id="turned by a 3-4-5 triangle"),
        pytest.param((0.0, 10.0, 0.0, 10.0, 0.0, 0.0), id="rows run north"),
        pytest.param((10.0, 3.0, 0.0, 0.0, -10.0, 0.0), id="sheared"),
    ],
)
def test_all_six_terms_place_a_cell(tmp_path: Path, place: tuple[float, ...]) -> None:
    """Corners and areas are those of the terms, worked out by hand, and the rotation is said."""
    layer = zones(np.array([[1, 2], [1, 3]], dtype=np.uint8), tmp_path, place=place)
    a, b, c, d, e, f = place
    assert shapely.area(layer.shapes) == pytest.approx(np.array([2, 1, 1]) * abs(a * e - b * d))
    third = {(c + a * x + b * y, f + d * x + e * y) for x, y in ((1, 1), (2, 1), (2, 2), (1, 2))}
    drawn = dict(zip(layer.columns["value"].cells, layer.shapes, strict=True))
    assert set(drawn[3].exterior.coords) == third
    (said,) = [finding for finding in layer.findings if finding.id == "raster-rotated"]
    assert "rotated" in said.message
    assert said.severity == "note"


def test_rows_that_run_south_to_north_are_not_rotated(tmp_path: Path) -> None:
    """A grid counted from its southern edge lies where it should, and nothing is said."""
    layer = zones(np.array([[1], [2]], dtype=np.uint8), tmp_path, place=(10.0, 0.0, 0.0, 0.0, 10.0, 0.0))
    assert [shape.bounds for shape in layer.shapes] == [(0, 0, 10, 10), (0, 10, 10, 20)]
    assert [finding.id for finding in layer.findings] == ["crs-unknown"]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    cells=hnp.arrays(np.int16, st.tuples(st.integers(1, 9), st.integers(1, 9)), elements=st.integers(0, 3)),
    place=st.sampled_from([NORTH_UP, (8.0, 6.0, 500_000.1, 6.0, -8.0, 4_000_000.3), (0.1, 0.03, 7.7, 0.02, 0.3, -3.3)]),
)
def test_zones_form_a_valid_coverage(tmp_path: Path, cells: Any, place: tuple[float, ...]) -> None:
    """Whatever the cells: valid polygons that share their borders' vertices, each cell in the one of its value."""
    if not cells.any():
        return
    layer = zones(cells, tmp_path, nodata=0, place=place)
    assert shapely.is_valid(layer.shapes).all()
    assert shapely.coverage_is_valid(layer.shapes)
    rows, columns = np.nonzero(np.ones_like(cells))
    a, b, c, d, e, f = place
    x = c + a * (columns + 0.5) + b * (rows + 0.5)
    y = f + d * (columns + 0.5) + e * (rows + 0.5)
    assert shapely.area(layer.shapes).sum() == pytest.approx(np.count_nonzero(cells) * abs(a * e - b * d), rel=1e-6)
    seen = np.zeros(cells.size, dtype=int)
    for value, shape in zip(layer.columns["value"].cells, layer.shapes, strict=True):
        seen[shapely.contains_xy(shape, x, y)] += int(value)  # type: ignore[arg-type]
    assert seen.reshape(cells.shape).tolist() == cells.tolist()


def test_cells_that_touch_at_a_corner_are_zones_of_their_own(tmp_path: Path) -> None:
    """A chessboard has no two cells that hang together."""
    layer = zones(np.indices((4, 4)).sum(axis=0).astype(np.uint8) % 2 + 1, tmp_path)
    assert len(layer.shapes) == 16


@pytest.mark.parametrize(
    ("cells", "more", "values"),
    [
        pytest.param(np.array([[12.7, 0.1]], dtype=np.float32), {}, (12.7, 0.1), id="32-bit numbers as typed"),
        pytest.param(np.array([[12.7, 1 / 3]]), {}, (12.7, 1 / 3), id="64-bit numbers to the last digit"),
        pytest.param(np.array([[0, 255]], dtype=np.uint8), {}, (0, 255), id="bytes; a true 0 is a value"),
        pytest.param(np.array([[-5, 70_000]], dtype=np.int32), {}, (-5, 70_000), id="whole numbers"),
        pytest.param(np.array([[7, 9]], dtype=np.uint16), {"nodata": 9}, (7,), id="nodata is no zone"),
        pytest.param(np.array([[7, np.nan]]), {}, (7,), id="NaN is no zone"),
        pytest.param(np.array([[7, np.nan]]), {"nodata": np.nan}, (7,), id="NaN as nodata"),
    ],
)
def test_values_come_through(tmp_path: Path, cells: Any, more: dict[str, Any], values: tuple[float, ...]) -> None:
    """As they were written; what is declared to be no data is left out."""
    assert zones(cells, tmp_path, **more).columns["value"].cells == values


def test_scale_and_offset_are_applied_as_decimals(tmp_path: Path) -> None:
    """Cells of 127 and 3 by 0.1 and 20 are 32.7 and 20.3, not 20.300000000000001."""
    path = write_raster(tmp_path / "z.tif", np.array([[127, 3]], dtype=np.int16))
    with rasterio.open(path, "r+") as raster:
        raster.scales, raster.offsets = (0.1,), (20.0,)
    assert read_layer(path).columns["value"].cells == (32.7, 20.3)


def test_a_mask_leaves_cells_out(tmp_path: Path) -> None:
    """A band that says how clear the others are is no band of rates, and what it hides is no zone."""
    bands = np.array([[[80, 110, 0]], [[255, 255, 0]]], dtype=np.uint8)
    path = write_raster(tmp_path / "z.tif", bands, photometric="minisblack", alpha="yes")
    assert read_layer(path).columns["value"].cells == (80, 110)


@pytest.mark.parametrize("code", [-9999.0, -3.4028234663852886e38])
def test_codes_that_are_not_declared_are_left_out_and_said(tmp_path: Path, code: float) -> None:
    """One cell of four holds a code for no data: a caution with the value, how many cells, and what to do."""
    layer = zones(np.array([[80, 80], [code, 110]], dtype=np.float32), tmp_path)
    assert layer.columns["value"].cells == (80, 110)
    (said,) = [finding for finding in layer.findings if finding.id == "raster-no-data"]
    assert said.severity == "caution"
    assert f"{np.float32(code)!s}".removesuffix(".0") in said.message
    assert "in 1 of 4 cells (25.0 %)" in said.message
    assert "nodata" in said.message
    declared = zones(np.array([[80, 80], [code, 110]], dtype=np.float32), tmp_path, nodata=code)
    assert "raster-no-data" not in [finding.id for finding in declared.findings]


def test_one_of_several_bands_can_be_named(tmp_path: Path) -> None:
    """By number or by name; without either they are listed."""
    bands = np.array([[[1]], [[2]], [[3]]], dtype=np.uint8)
    path = write_raster(tmp_path / "z.tif", bands)
    with rasterio.open(path, "r+") as raster:
        raster.set_band_description(2, "Nitrogen")
    for band, value in (("1", 1), ("band 3", 3), ("nitrogen", 2)):
        assert read_layer(path, layer=band).columns["value"].cells == (value,)
    for band in ("", "z.tif"):
        with pytest.raises(InputError, match=r"several bands: 1, 2 'Nitrogen', 3\. Say which"):
            read_layer(path, layer=band)
    with pytest.raises(InputError, match="no band '4'; its bands are 1, 2 'Nitrogen', 3"):
        read_layer(path, layer="4")


def test_a_picture_beside_a_layer_is_not_taken_for_one(tmp_path: Path) -> None:
    """In a folder a raster is meant where nothing else is, or where it is named."""
    write_raster_of_rates(tmp_path)
    assert len(read_layer(tmp_path).shapes) == 3
    from support_cases import write_plain

    write_plain(tmp_path)
    assert "ZONE" in read_layer(tmp_path).columns
    assert "value" in read_layer(tmp_path, layer="rates.tif").columns


def test_no_crs_is_settled_by_the_plan(tmp_path: Path) -> None:
    """A raster without a CRS is refused, and read with the one that the plan says."""
    path = write_raster(tmp_path / "z.tif", raster_of_rates(), crs=None, place=(10.0, 0.0, 5e5, 0.0, -10.0, 4e6))
    with pytest.raises(CrsError, match="no CRS"):
        read_layer(path)
    assert read_layer(path, crs="EPSG:32614").crs == "EPSG:32614"


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize(
    ("write", "words"),
    [
        pytest.param(lambda path: path.write_bytes(b""), "file is empty", id="empty"),
        pytest.param(lambda path: path.write_bytes(b"\x89PNG\r\n\x1a\n"), "no GeoTIFF", id="another picture"),
        pytest.param(
            lambda path: write_raster(path, raster_of_rates(), place=(1.0, 0.0, 0.0, 0.0, 1.0, 0.0)),
            "has no geotransform",
            id="no place",
        ),
        pytest.param(
            lambda path: write_raster(path, np.zeros((2, 2), dtype=np.complex64)), "no rates or classes", id="complex"
        ),
        pytest.param(lambda path: write_raster(path, np.zeros((2, 2)), nodata=0), "No cell of it", id="nothing in it"),
    ],
)
def test_what_is_no_raster_of_rates_is_refused(tmp_path: Path, write: Any, words: str) -> None:
    """In a line."""
    write(tmp_path / "z.tif")
    with pytest.raises(InputError, match=words) as caught:
        read_layer(tmp_path / "z.tif")
    assert "\n" not in str(caught.value)


def test_too_many_cells_are_refused_before_they_are_read(tmp_path: Path) -> None:
    """The header alone says it: the file holds no cell of its 10,000 million."""
    path = tmp_path / "z.tif"
    about = {"count": 1, "height": 100_000, "width": 100_000, "dtype": "uint8", "crs": FRAME}
    with rasterio.open(path, "w", "GTiff", **about, transform=rasterio.Affine(*NORTH_UP), SPARSE_OK=True):
        pass
    assert path.stat().st_size < 2**21
    with pytest.raises(InputError, match="100000 by 100000 cells; 25 million are read at most"):
        read_layer(path)


@pytest.mark.parametrize(
    "size",
    [pytest.param(300, id="90,000 pieces"), pytest.param(1500, id="too many borders to try")],
)
def test_values_that_change_from_cell_to_cell_are_refused(tmp_path: Path, size: int) -> None:
    """A picture, or an index that is no classes, would be a zone a cell: refused, with what to do."""
    noise = np.random.default_rng(3).random((size, size))
    with pytest.raises(InputError, match=f"{size**2} of them in {size**2} cells make more than 50000 zones.*classes"):
        read_raster(write_raster(tmp_path / "z.tif", noise).read_bytes(), source="z.tif")


def test_libraries_stay_silent_about_a_damaged_header(tmp_path: Path) -> None:
    """A unit that PROJ does not know: whatever comes of it, nothing but our own words reaches a person."""
    path = write_raster_of_rates(tmp_path)
    data = bytearray(path.read_bytes())
    metres = data.index((3076).to_bytes(2, "little"))  # ProjLinearUnitsGeoKey
    data[metres + 6 : metres + 8] = (31_000).to_bytes(2, "little")
    path.write_bytes(data)
    script = f"from vrx.inputs.raster import read_raster\nread_raster(open({str(path)!r}, 'rb').read(), source='z')"
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    said = [line for line in ran.stderr.splitlines() if "proj" in line.lower() and not line.startswith((" ", "vrx."))]
    assert not said
