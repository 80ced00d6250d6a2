"""Files cut short or with wrong bytes give a layer or an error in words, and nothing else."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path

import pytest
import support_cases as cases
import support_formats as formats
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from vrx.errors import VrxError
from vrx.inputs.cells import read_numbers
from vrx.inputs.read import read_layer


def stored_zip(folder: Path) -> Path:
    """A zip that is not packed, so that a wrong byte reaches what is in it."""
    packed = cases.write_nested_zip(folder)
    path = folder / "stored.zip"
    with zipfile.ZipFile(packed) as source, zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            target.writestr(name, source.read(name))
    return path


WRITERS: dict[str, tuple[Callable[[Path], Path], str]] = {
    "shp": (cases.write_hole_wound_wrong, ".shp"),
    "shp-without-shx": (cases.write_null_and_empty, ".shp"),
    "dbf": (cases.write_cp1252, ".dbf"),
    "shx": (cases.write_plain, ".shx"),
    "prj": (cases.write_plain, ".prj"),
    "geojson": (cases.write_heights_and_parts, ".geojson"),
    "gpkg": (cases.write_web_mercator, ".gpkg"),
    "fgb": (formats.write_flatgeobuf, ".fgb"),
    "fgb without index": (formats.write_flatgeobuf_without_index, ".fgb"),
    "kml": (formats.write_kml, ".kml"),
    "kmz": (formats.write_kmz, ".kmz"),
    "stored kmz": (partial(formats.write_kmz, compression=zipfile.ZIP_STORED), ".kmz"),
    "parquet": (formats.write_parquet, ".parquet"),
    "parquet without a second schema": (formats.write_plain_parquet, ".parquet"),
    "tif": (formats.write_raster_of_rates, ".tif"),
    "packed tif": (formats.write_packed_raster, ".tiff"),
    "csv": (cases.write_semicolon_csv, ".csv"),
    "zip": (cases.write_nested_zip, ".zip"),
    "stored zip": (stored_zip, ".zip"),
}


@pytest.fixture(scope="module", params=WRITERS)
def sound(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    write, suffix = WRITERS[request.param]
    return write(tmp_path_factory.mktemp("sound")), suffix


def attempt(path: Path, suffix: str, damaged: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in path.parent.glob(f"{path.stem}.*"):
            (folder / part.name).write_bytes(damaged if part.suffix == suffix else part.read_bytes())
        try:
            layer = read_layer(folder / path.name)
        except VrxError as err:
            if not str(err).strip() or "\n" in err.problem:
                pytest.fail(f"not an error in words: {err!r}")
            return
        assert len(layer.shapes) == len(layer.records)
        for column in layer.columns.values():
            read_numbers(column)


@settings(max_examples=60, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_wrong_bytes_never_surprise(sound: tuple[Path, str], data: st.DataObject) -> None:
    """A few bytes changed, anywhere, within two seconds."""
    path, suffix = sound
    whole = bytearray(path.with_suffix(suffix).read_bytes())
    places = st.integers(0, len(whole) - 1) | st.integers(0, min(200, len(whole) - 1))
    for at, value in data.draw(st.lists(st.tuples(places, st.integers(0, 255)), min_size=1, max_size=6)):
        whole[at] = value
    attempt(path, suffix, bytes(whole))


@settings(max_examples=30, deadline=2000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_cut_files_never_surprise(sound: tuple[Path, str], data: st.DataObject) -> None:
    """Cut short at any byte, within two seconds."""
    path, suffix = sound
    whole = path.with_suffix(suffix).read_bytes()
    attempt(path, suffix, whole[: data.draw(st.integers(0, len(whole) - 1))])


@settings(max_examples=60, deadline=2000)
@given(
    content=st.binary(max_size=400),
    suffix=st.sampled_from([".shp", ".geojson", ".gpkg", ".fgb", ".kml", ".kmz", ".parquet", ".tif", ".zip", ".csv"]),
)
def test_noise_is_refused_or_read(content: bytes, suffix: str) -> None:
    """Bytes without sense under any name."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / f"noise{suffix}"
        path.write_bytes(content)
        attempt(path, suffix, content)


@pytest.mark.parametrize("write", ["shp", "geojson"])
@pytest.mark.parametrize("at", [0, 1, 4])
@pytest.mark.parametrize("hole", [False, True])
def test_nan_is_refused_wherever_it_stands_in_a_ring(at: int, hole: bool, write: str, tmp_path: Path) -> None:
    """NaN equals nothing, so a ring that begins or ends with it can't be closed: the record is told."""
    rings = [cases.rectangle(0, 0, 100, 100, clockwise=True), cases.rectangle(10, 10, 20, 20)]
    rings = [cases.moved(ring, "EPSG:4326") for ring in rings]
    rings[hole][at] = (float("nan"), 40.0)
    if write == "shp":
        path = cases.write_shapefile(tmp_path, "wild", [rings], [["A", "1"]], crs="EPSG:4326")
    else:
        one = cases.feature({"type": "Polygon", "coordinates": rings}, zone="A")
        path = cases.write_geojson(tmp_path / "wild.geojson", [one])
    with pytest.raises(VrxError, match="Coordinates of record 1 are not finite numbers"):
        read_layer(path)


@pytest.mark.parametrize("far", [1e160, 1e308, float("inf"), float("nan")])
def test_numbers_that_overflow_are_told_by_us_alone(far: float, tmp_path: Path) -> None:
    """Rings with a vertex of 1e160 or NaN: an error or a layer, and no warning of a library (which fails a test)."""
    ring = cases.rectangle(0, 0, 100, 100)
    wild = [(far, y) if at == 1 else (x, y) for at, (x, y) in enumerate(ring)]
    rows = [["A", "1"]]
    path = cases.write_shapefile(
        tmp_path, "wild", [[wild, ring, [(x / 2, y / 2) for x, y in ring]]], rows, crs=cases.UTM
    )
    with suppress(VrxError):
        assert read_layer(path).records.tolist() == [1]
