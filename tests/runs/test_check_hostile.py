"""Maps made to do harm, or by accident as bad: one clear line each, in bounded time and memory."""

from __future__ import annotations

import json
import os
import socket
import struct
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import support_cases as cases
import support_formats as formats

COST = Path(__file__).parents[1] / "support_check_cost.py"
MOST_SECONDS = 10.0
MOST_BYTES = 1.5 * 2**30
GIVE_UP_SECONDS = 120


class Told(NamedTuple):
    """How a check ended, what it said, and what it took."""

    code: int
    said: str
    seconds: float
    peak_bytes: int


def checked(*words: str) -> Told:
    """Run ``vrx check`` in a process of its own; a hang ends it."""
    ran = subprocess.run(
        [sys.executable, str(COST), "check", *words],
        check=False,
        capture_output=True,
        text=True,
        timeout=GIVE_UP_SECONDS,
    )
    assert ran.returncode == 0, f"ended with {ran.returncode}:\n{ran.stderr[-2000:]}"
    *said, cost = ran.stdout.strip().splitlines()
    return Told(json.loads(cost)[0], "\n".join([*said, ran.stderr]), *json.loads(cost)[1:])


def the_line(told: Told) -> str:
    """Return the one line in which a map, or a call, is refused; its time and memory are held to the limits."""
    assert told.seconds < MOST_SECONDS
    assert told.peak_bytes < MOST_BYTES
    assert "Traceback" not in told.said
    assert "should not have happened" not in told.said
    if told.code == 2:
        (line,) = [one for one in told.said.splitlines() if one.strip()]
        return line
    assert told.code == 1, told.said
    assert told.said.count("[unreadable]") == 1
    return " ".join(told.said[: told.said.index("[unreadable]")].split())


# ---- zip files


def zip_bomb(folder: Path) -> Path:
    """One member of 64 MB of zeros in 0.3 MB."""
    path = folder / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("map.geojson", bytes(2**26))
    return path


def lying_zip_bomb(folder: Path) -> Path:
    """The same, where both headers say that the member has 1,000 bytes."""
    path = zip_bomb(folder)
    data = bytearray(path.read_bytes())
    central = data.rindex(b"PK\x01\x02")
    struct.pack_into("<I", data, central + 24, 1000)
    path.write_bytes(data)
    return path


def bomb_of_bombs(folder: Path) -> Path:
    """A map in a zip in a zip."""
    inner = zip_bomb(folder).read_bytes()
    path = folder / "nested.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("inner.zip", inner)
    return path


def large_member(folder: Path) -> Path:
    """A member of 600 MB that does not pack too well to be a bomb, but is more than any map."""
    path = folder / "large.zip"
    random = np.random.default_rng(5).bytes(2**20)
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("map.geojson", "w", force_zip64=True) as member,
    ):
        for at in range(600):
            member.write(random if at % 100 == 0 else bytes(2**20))
    return path


def climbing_zip(folder: Path) -> Path:
    path = folder / "climb.zip"
    with zipfile.ZipFile(cases.write_nested_zip(folder)) as source, zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            target.writestr(f"../../{Path(name).name}", source.read(name))
    return path


# ---- XML

LAUGHS = "".join(f'<!ENTITY l{at} "{f"&l{at - 1};" * 10}">' for at in range(1, 12))
ENTITIES = f'<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY l0 "lol">{LAUGHS}]><kml><name>&l11;</name></kml>'
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY out SYSTEM "file:///etc/hostname">]><kml><name>&out;</name></kml>'
)


def kml_of_entities(folder: Path) -> Path:
    (folder / "laughs.kml").write_text(ENTITIES)
    return folder / "laughs.kml"


def kmz_of_entities(folder: Path) -> Path:
    path = folder / "laughs.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", ENTITIES)
    return path


def kml_of_an_outside_entity(folder: Path) -> Path:
    (folder / "outside.kml").write_text(OUTSIDE)
    return folder / "outside.kml"


# ---- shapes and tables


def lying_polygon(folder: Path) -> Path:
    """A polygon of ten million vertices, by what its record says; it has five."""
    path = cases.write_plain(folder)
    data = bytearray(path.read_bytes())
    struct.pack_into("<i", data, 100 + 8 + 40, 10_000_000)
    path.write_bytes(data)
    return path


def real_polygon(folder: Path) -> Path:
    """A circle of ten million vertices: 160 MB."""
    count = 10_000_000
    turn = np.linspace(0.0, -2 * np.pi, count)
    points = np.column_stack((-96 + 0.0026 * np.cos(turn), 40.05 + 0.002 * np.sin(turn)))
    points[-1] = points[0]
    low, high = points.min(axis=0), points.max(axis=0)
    content = struct.pack("<i4d2ii", 5, *low, *high, 1, count, 0)
    words = (len(content) + points.nbytes) // 2
    head = struct.pack(">i20xi", 9994, 54 + words) + struct.pack("<ii8d", 1000, 5, *low, *high, 0, 0, 0, 0)
    path = cases.write_shapefile(folder, "circle", [[]], [["A", "85.00"]], crs="EPSG:4326")
    with path.open("wb") as file:
        file.write(head + struct.pack(">ii", 1, words) + content)
        points.tofile(file)
    return path


def geojson_polygon(folder: Path) -> Path:
    """A polygon of ten million vertices in GeoJSON: 240 MB."""
    path = folder / "circle.geojson"
    turn = np.linspace(0.0, 2 * np.pi, 100_000)
    x, y = (-96 + 0.0026 * np.cos(turn)).round(7), (40.05 + 0.002 * np.sin(turn)).round(7)
    arc = ",".join(f"[{one},{other}]" for one, other in zip(x.tolist(), y.tolist(), strict=True))
    with path.open("w") as file:
        file.write('{"type":"Feature","properties":{"rate":85},"geometry":{"type":"Polygon","coordinates":[[')
        file.write(",".join([arc] * 100))
        file.write("]]}}")
    return path


def nested_geojson(folder: Path) -> Path:
    path = folder / "deep.geojson"
    path.write_text('{"type":"FeatureCollection","features":' + "[" * 1_000_000 + "]" * 1_000_000 + "}")
    return path


def many_lists_geojson(folder: Path) -> Path:
    """Empty lists: three bytes each in the file, 64 in memory."""
    path = folder / "lists.geojson"
    path.write_text('{"type":"Polygon","coordinates":[' + "[]," * 30_000_000 + "[]]}")
    return path


def huge_sparse_file(folder: Path) -> Path:
    """A file of 50 GB of which the disk holds nothing."""
    path = cases.write_plain(folder)
    os.truncate(path, 50 * 10**9)
    return path


def lying_table(folder: Path) -> Path:
    """A table that says it has four thousand million records; it has three."""
    path = cases.write_plain(folder)
    data = bytearray(path.with_suffix(".dbf").read_bytes())
    struct.pack_into("<I", data, 4, 4_000_000_000)
    path.with_suffix(".dbf").write_bytes(data[:-40])
    return path


def cut_in_half(folder: Path) -> Path:
    path = cases.write_plain(folder)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    path.with_suffix(".shx").unlink()
    return path


def view_that_grows(folder: Path) -> Path:
    """A GeoPackage whose layer is a view that makes rows of a megabyte out of nothing."""
    import sqlite3

    path = cases.write_web_mercator(folder)
    db = sqlite3.connect(path)
    db.executescript(
        "DROP TABLE zones; CREATE VIEW zones AS WITH RECURSIVE n(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM n) "
        "SELECT fid, zeroblob(1000000) AS geom, 5 AS rate FROM n LIMIT 1000000;"
    )
    db.close()
    return path


def lying_raster(folder: Path) -> Path:
    """A GeoTIFF of 100,000 by 100,000 cells, by its header; 10,000 million bytes, and the file has none of them."""
    import rasterio

    path = folder / "empty.tif"
    shape = {"width": 100_000, "height": 100_000, "count": 1, "dtype": "uint8", "sparse_ok": True, "tiled": True}
    with rasterio.open(
        path, "w", driver="GTiff", crs=cases.FRAME, transform=rasterio.Affine(*formats.NORTH_UP), **shape
    ):
        pass
    return path


def raster_of_large_tiles(folder: Path) -> Path:
    """A packed GeoTIFF of few cells in one tile of 2,000 million bytes."""
    import rasterio

    path = folder / "tile.tif"
    tile = {"tiled": True, "blockxsize": 16_384, "blockysize": 16_384, "compress": "deflate", "sparse_ok": True}
    with rasterio.open(
        path, "w", driver="GTiff", crs=cases.FRAME, transform=rasterio.Affine(*formats.NORTH_UP),
        width=100, height=100, count=1, dtype="float64", **tile,
    ):  # fmt: skip
        pass
    return path


def parquet_of_one_long_text(folder: Path) -> Path:
    """A GeoParquet of 4,000 rows that share one text of a megabyte, packed to a few kilobytes."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    table = pq.read_table(formats.write_parquet(folder))
    rows = 4000
    grown = pa.table(
        {
            "geometry": pa.array([table.column("geometry")[0].as_py()] * rows, pa.binary()),
            "note": pa.DictionaryArray.from_arrays(pa.array([0] * rows, pa.int32()), pa.array(["x" * 10**6])),
        }
    )
    path = folder / "long.parquet"
    with pq.ParquetWriter(path, grown.schema, compression="zstd", store_schema=False) as writer:
        writer.write_table(grown)
        writer.add_key_value_metadata({"geo": table.schema.metadata[b"geo"].decode()})
    (folder / "bench.parquet").unlink()
    return path


@pytest.mark.slow
@pytest.mark.parametrize(
    ("write", "words"),
    [
        pytest.param(zip_bomb, "more than a map takes", id="zip bomb"),
        pytest.param(lying_zip_bomb, "damaged", id="zip bomb that lies of its size"),
        pytest.param(bomb_of_bombs, "No layer is in it", id="zip in a zip"),
        pytest.param(large_member, "more than a map takes", id="zip with a member of 600 MB"),
        pytest.param(climbing_zip, "leads outside the zip file", id="path traversal"),
        pytest.param(kml_of_entities, "entities", id="KML of entities that grow"),
        pytest.param(kmz_of_entities, "entities", id="the same in a KMZ"),
        pytest.param(kml_of_an_outside_entity, "entities", id="KML that names a file"),
        pytest.param(lying_polygon, "more points than it has room for", id="ten million vertices, stated only"),
        pytest.param(real_polygon, "10000000 vertices", id="ten million vertices"),
        pytest.param(geojson_polygon, "MB of memory", id="ten million vertices in GeoJSON"),
        pytest.param(nested_geojson, "not valid JSON", id="GeoJSON a million lists deep"),
        pytest.param(many_lists_geojson, "MB of memory", id="GeoJSON of empty lists"),
        pytest.param(huge_sparse_file, "50,000 MB, more than a map takes", id="shapefile of 50 GB"),
        pytest.param(lying_table, "4000000000 records", id="DBF with a lying count"),
        pytest.param(cut_in_half, "cut short", id="half a .shp"),
        pytest.param(view_that_grows, "holds more than 537 MB", id="GeoPackage with a view that grows"),
        pytest.param(lying_raster, "25 million are read at most", id="GeoTIFF of ten thousand million cells"),
        pytest.param(raster_of_large_tiles, "tiles are larger", id="GeoTIFF of a tile of 2 GB"),
        pytest.param(parquet_of_one_long_text, "more than a map takes", id="GeoParquet of one text many times"),
    ],
)
def test_hostile_maps_are_refused_in_a_line(write: Callable[[Path], Path], words: str, tmp_path: Path) -> None:
    """Refused by name, in under ten seconds and 1.5 GiB, with nothing written beside it."""
    folder = tmp_path / "stick"
    folder.mkdir()
    path = write(folder)
    before = sorted(folder.iterdir())
    told = checked(str(path))
    assert sorted(tmp_path.iterdir()) == [folder]
    assert sorted(folder.iterdir()) == before
    for one in folder.iterdir():
        one.unlink()
    assert words in the_line(told)


def fifo(folder: Path) -> Path:
    os.mkfifo(folder / "pipe.geojson")
    return folder / "pipe.geojson"


def a_socket(folder: Path) -> Path:
    # Named from its folder, since a socket's path may have about a hundred letters only.
    here = Path.cwd()
    os.chdir(folder)
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind("socket.shp")
    finally:
        os.chdir(here)
    return folder / "socket.shp"


def folder_of_no_map(folder: Path) -> Path:
    (folder / "notes").mkdir()
    (folder / "notes" / "read me.md").write_text("Nothing here.")
    return folder / "notes"


def empty_folder(folder: Path) -> Path:
    (folder / "stick").mkdir()
    return folder / "stick"


def folder_named_as_a_map(folder: Path) -> Path:
    (folder / "map.shp").mkdir()
    return folder / "map.shp"


def fifo_as_a_part(folder: Path) -> Path:
    """A sound .shp beside whose name a pipe lies: it would be waited for without end."""
    path = cases.write_plain(folder)
    path.with_suffix(".dbf").unlink()
    os.mkfifo(path.with_suffix(".dbf"))
    return path


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no pipes and devices among files")
@pytest.mark.parametrize(
    ("place", "words"),
    [
        pytest.param(fifo, "neither a file nor a folder", id="a pipe"),
        pytest.param(a_socket, "neither a file nor a folder", id="a socket"),
        pytest.param(lambda _: Path("/dev/zero"), "neither a file nor a folder", id="a device without end"),
        pytest.param(lambda _: Path("/dev/null"), "neither a file nor a folder", id="a device of nothing"),
        pytest.param(folder_of_no_map, "No layer is in it", id="a folder without a map"),
        pytest.param(empty_folder, "No layer is in it", id="an empty folder"),
        pytest.param(folder_named_as_a_map, "No layer is in it", id="a folder named as a map"),
        pytest.param(fifo_as_a_part, "neither a file nor a folder", id="a pipe for a .dbf"),
        pytest.param(lambda folder: folder / "gone.shp", "no such file", id="nothing"),
    ],
)
def test_what_is_no_file_is_told(place: Callable[[Path], Path], words: str, tmp_path: Path) -> None:
    """A pipe, socket, device or folder is not waited for, and is told in a line."""
    told = checked(str(place(tmp_path)))
    assert words in the_line(told)
    assert told.peak_bytes < 2**28
