"""A generator of small files that go wrong, for one invented field.

Burr Oak Bench lies across longitude 96 west, the edge between UTM zones 14 and 15. Its zones are rectangles in an
equal-area projection centred on the field, so that their areas are known by construction: see `AREA_HA`. Each
``write_...`` function puts its files into a folder and returns the path, or paths, to name in a plan.
"""

from __future__ import annotations

import json
import sqlite3
import struct
import zipfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import shapely

LONGITUDE, LATITUDE = -96.0, 40.05
FRAME = f"+proj=laea +lat_0={LATITUDE} +lon_0={LONGITUDE} +datum=WGS84 +units=m"
UTM = "EPSG:32614"

AREA_HA = {"A": 4.5, "B": 3.0, "C": 3.0}
"""True area of the zones: 180, 120 and 120 m wide and 250 m high, from west to east."""
RATES = {"A": 85, "B": 115, "C": 140}
EDGES_M = (-210.0, -30.0, 90.0, 210.0)
HEIGHT_M = 250.0
HOLE_HA = 0.2

Ring = list[tuple[float, float]]


def rectangle(x0: float, y0: float, x1: float, y1: float, *, clockwise: bool = False) -> Ring:
    """A closed ring in local metres, counterclockwise unless said."""
    ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
    return ring[::-1] if clockwise else ring


def zone_ring(zone: str) -> Ring:
    at = "ABC".index(zone)
    return rectangle(EDGES_M[at], 0.0, EDGES_M[at + 1], HEIGHT_M)


@cache
def _change(crs: str) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(FRAME, crs, always_xy=True)


def moved(ring: Ring, crs: str) -> Ring:
    """A ring of local metres in another CRS, x first."""
    x, y = _change(crs).transform(*zip(*ring, strict=True))
    return list(zip(x, y, strict=True))


def area_ha(shape: Any, crs: str) -> float:
    """Geodesic area of a shape on WGS 84, each ring by itself (Karney, through pyproj)."""
    geod = pyproj.Geod(ellps="WGS84")
    change = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    total = 0.0
    for part in shapely.get_parts(shape):
        for at, ring in enumerate([part.exterior, *part.interiors]):
            x, y = change.transform(*np.array(ring.coords).T[:2])
            total += (-1 if at else 1) * abs(geod.polygon_area_perimeter(x, y)[0])
    return total / 1e4


# ---- writers of our own: they can write what no library would


def shp_bytes(shapes: Sequence[list[Ring] | None], *, kind: int = 5) -> tuple[bytes, bytes]:
    """A ``.shp`` and its ``.shx``; None is a null shape, an empty list a polygon without parts."""
    body, index, at = b"", b"", 50
    for number, rings in enumerate(shapes, start=1):
        content = struct.pack("<i", 0) if rings is None else _polygon(rings, kind)
        index += struct.pack(">ii", at, len(content) // 2)
        body += struct.pack(">ii", number, len(content) // 2) + content
        at += 4 + len(content) // 2
    points = [point for rings in shapes for ring in rings or [] for point in ring] or [(0.0, 0.0)]
    low, high = np.min(points, axis=0), np.max(points, axis=0)

    def head(words: int) -> bytes:
        start = struct.pack(">i20xi", 9994, words) + struct.pack("<ii", 1000, kind)
        return start + struct.pack("<8d", *low[:2], *high[:2], 0, 0, 0, 0)

    return head(50 + len(body) // 2) + body, head(50 + len(index) // 2) + index


def _polygon(rings: list[Ring], kind: int) -> bytes:
    points = [point for ring in rings for point in ring]
    starts = np.cumsum([0, *(len(ring) for ring in rings)])[:-1]
    low = np.min(points, axis=0) if points else (0.0, 0.0)
    high = np.max(points, axis=0) if points else (0.0, 0.0)
    content = struct.pack("<i4d2i", kind, *low[:2], *high[:2], len(rings), len(points))
    content += b"".join(struct.pack("<i", start) for start in starts)
    content += b"".join(struct.pack("<2d", x, y) for x, y in points)
    if kind > 10:
        content += struct.pack("<2d", 312.0, 312.0) + struct.pack("<d", 312.0) * len(points)
    return content


def dbf_bytes(
    fields: Sequence[tuple[str, str, int, int]],
    rows: Sequence[Sequence[str]],
    *,
    deleted: Sequence[int] = (),
    encoding: str = "utf-8",
    driver: int = 0,
    count: int | None = None,
) -> bytes:
    """A ``.dbf``: fields are name, type, width, decimals; cells are written as they stand, numbers to the right."""
    width = 1 + sum(field[2] for field in fields)
    number = len(rows) if count is None else count
    head = struct.pack("<4BIHH17xB2x", 3, 80, 1, 1, number, 33 + 32 * len(fields), width, driver)
    for name, kind, size, decimals in fields:
        head += struct.pack("<11sc4xBB14x", name.encode(encoding), kind.encode(), size, decimals)
    body = b""
    for at, row in enumerate(rows, start=1):
        body += b"*" if at in deleted else b" "
        for (_, kind, size, _), cell in zip(fields, row, strict=True):
            raw = cell.encode(encoding)[:size]
            body += raw.rjust(size) if kind in "NF" else raw.ljust(size)
    return head + b"\r" + body + b"\x1a"


def write_shapefile(
    folder: Path,
    name: str,
    shapes: Sequence[list[Ring] | None],
    rows: Sequence[Sequence[str]],
    *,
    crs: str | None = UTM,
    prj: str = "",
    shx: bool = True,
    kind: int = 5,
    fields: Sequence[tuple[str, str, int, int]] = (("ZONE", "C", 20, 0), ("RATE", "N", 12, 2)),
    **more: Any,
) -> Path:
    """Write a shapefile; its ``.prj`` is ``prj``, or that of ``crs``, or left out where ``crs`` is None."""
    folder.mkdir(parents=True, exist_ok=True)
    shp, index = shp_bytes(shapes, kind=kind)
    path = folder / f"{name}.shp"
    path.write_bytes(shp)
    path.with_suffix(".dbf").write_bytes(dbf_bytes(fields, rows, **more))
    if shx:
        path.with_suffix(".shx").write_bytes(index)
    if prj or crs:
        path.with_suffix(".prj").write_text(prj or pyproj.CRS(crs).to_wkt("WKT1_ESRI"))
    return path


def _zones(crs: str) -> list[list[Ring] | None]:
    return [[moved(zone_ring(zone)[::-1], crs)] for zone in AREA_HA]


def _rows() -> list[list[str]]:
    return [[zone, f"{rate}.00"] for zone, rate in RATES.items()]


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def polygon(*rings: Ring, crs: str = "EPSG:4326", height: float | None = None) -> dict[str, Any]:
    """A GeoJSON polygon of rings in local metres."""
    more = [] if height is None else [height]
    return {"type": "Polygon", "coordinates": [[[x, y, *more] for x, y in moved(ring, crs)] for ring in rings]}


def write_geojson(path: Path, features: list[dict[str, Any]], **members: Any) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"type": "FeatureCollection", **members, "features": features}))
    return path


def _zone_features(crs: str = "EPSG:4326", height: float | None = None) -> list[dict[str, Any]]:
    return [
        feature(polygon(zone_ring(zone), crs=crs, height=height), zone=zone, rate=rate) for zone, rate in RATES.items()
    ]


def write_boundary(folder: Path) -> Path:
    whole = rectangle(EDGES_M[0], 0.0, EDGES_M[-1], HEIGHT_M)
    return write_geojson(folder / "boundary.geojson", [feature(polygon(whole), field="Burr Oak Bench")])


def gpkg_blob(wkb: bytes, srs: int) -> bytes:
    return b"GP\0\x01" + struct.pack("<i", srs) + wkb


def write_geopackage(
    path: Path, layers: dict[str, list[tuple[bytes | None, str, float | str | None]]], *, srs: int, definition: str = ""
) -> Path:
    """Write layers of well-known binary, zone and rate."""
    path.parent.mkdir(parents=True, exist_ok=True)
    db = sqlite3.connect(path)
    db.executescript(
        """PRAGMA application_id = 0x47504B47; PRAGMA user_version = 10300;
        CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY,
            organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL,
            description TEXT);
        CREATE TABLE gpkg_contents (table_name TEXT PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT,
            description TEXT, last_change DATETIME, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE,
            srs_id INTEGER);
        CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, geometry_type_name TEXT,
            srs_id INTEGER, z TINYINT, m TINYINT);"""
    )
    for number, name, organization, text in (
        (-1, "Undefined cartesian SRS", "NONE", "undefined"),
        (0, "Undefined geographic SRS", "NONE", "undefined"),
        (srs, "own", "NONE" if definition else "EPSG", definition or f"EPSG:{srs}"),
    ):
        row = (name, number, organization, number, text)
        db.execute("INSERT OR IGNORE INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, '')", row)
    for name, rows in layers.items():
        table = '"' + name.replace('"', '""') + '"'
        db.execute(f"CREATE TABLE {table} (fid INTEGER PRIMARY KEY, geom BLOB, zone TEXT, rate REAL)")
        contents = "INSERT INTO gpkg_contents (table_name, data_type, srs_id) VALUES (?, 'features', ?)"
        db.execute(contents, (name, srs))
        db.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'POLYGON', ?, 0, 0)", (name, srs))
        for wkb, zone, rate in rows:
            blob = None if wkb is None else gpkg_blob(wkb, srs)
            db.execute(f"INSERT INTO {table} (geom, zone, rate) VALUES (?, ?, ?)", (blob, zone, rate))
    db.commit()
    db.close()
    return path


# ---- the cases


def write_plain(folder: Path) -> Path:
    """Nothing wrong: zones A, B, C in UTM 14N."""
    return write_shapefile(folder, "bench", _zones(UTM), _rows())


def write_field(folder: Path) -> tuple[Path, Path]:
    """Nothing wrong, in GeoJSON: zones and boundary."""
    return write_geojson(folder / "zones.geojson", _zone_features()), write_boundary(folder)


def write_no_prj(folder: Path) -> Path:
    return write_shapefile(folder, "bench", _zones(UTM), _rows(), crs=None)


def write_odd_prj(folder: Path) -> Path:
    """A ``.prj`` under a name of its own, with a datum that can be read."""
    wkt = (
        'GEOGCS["GCS_Bench_Survey_Local",DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],'
        'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
    )
    return write_shapefile(folder, "bench", _zones("EPSG:4326"), _rows(), prj=wkt)


def write_swapped(folder: Path) -> Path:
    """GeoJSON with latitude first."""
    features = _zone_features()
    for one in features:
        one["geometry"]["coordinates"] = [[[y, x] for x, y in ring] for ring in one["geometry"]["coordinates"]]
    return write_geojson(folder / "swapped.geojson", features)


def write_state_plane_feet(folder: Path) -> Path:
    """US survey feet of the state plane (EPSG:26852)."""
    return write_shapefile(folder, "bench", _zones("EPSG:26852"), _rows(), crs="EPSG:26852")


def write_web_mercator(folder: Path) -> Path:
    rows = [
        (shapely.Polygon(moved(zone_ring(zone), "EPSG:3857")).wkb, zone, float(rate)) for zone, rate in RATES.items()
    ]
    return write_geopackage(folder / "web.gpkg", {"zones": rows}, srs=3857)


def write_two_utm_zones(folder: Path) -> tuple[Path, Path]:
    """The half west of longitude 96 in UTM 14, the other in UTM 15; 5.25 ha each."""
    west, east = rectangle(-210.0, 0.0, 0.0, HEIGHT_M), rectangle(0.0, 0.0, 210.0, HEIGHT_M)
    return (
        write_shapefile(folder, "west", [[moved(west[::-1], "EPSG:32614")]], [["West", "95.00"]], crs="EPSG:32614"),
        write_shapefile(folder, "east", [[moved(east[::-1], "EPSG:32615")]], [["East", "120.00"]], crs="EPSG:32615"),
    )


def write_legacy_crs(folder: Path) -> Path:
    member = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32614"}}
    return write_geojson(folder / "old.geojson", _zone_features("EPSG:32614"), crs=member)


def write_bad_cells(folder: Path) -> Path:
    """A true zero, then a blank, asterisks, a no-data code, words and a decimal comma in a number field."""
    cells = ("0.00", "", "*" * 12, "-9999.00", "NULL", "1.#QNAN", "12,5", "85.00")
    ring = [moved(zone_ring("A")[::-1], UTM)]
    rows = [[f"Z{at}", cell] for at, cell in enumerate(cells, start=1)]
    return write_shapefile(folder, "bench", [ring] * len(cells), rows)


def write_text_rates(folder: Path) -> Path:
    cells = ("12,5", "12 gal", "12.5 ", "n/a", "1,250")
    ring = [moved(zone_ring("A")[::-1], UTM)]
    rows = [[f"Z{at}", cell] for at, cell in enumerate(cells, start=1)]
    fields = (("ZONE", "C", 20, 0), ("RATE", "C", 12, 0))
    return write_shapefile(folder, "bench", [ring] * len(cells), rows, fields=fields)


def write_cp1252(folder: Path) -> Path:
    """Names in Windows-1252, and no file that says so."""
    names = ("Señal – norte", "Fossé d’eau", "Hügel")
    rows = [[name, f"{rate}.00"] for name, rate in zip(names, RATES.values(), strict=True)]
    return write_shapefile(folder, "bench", _zones(UTM), rows, encoding="cp1252")


def write_deleted_record(folder: Path) -> Path:
    """Record 2 is deleted in the table, its shape still there."""
    shapes, rows = _zones(UTM), _rows()
    shapes.insert(1, [moved(rectangle(-210.0, 0.0, 210.0, 90.0)[::-1], UTM)])
    rows.insert(1, ["OLD", "999.00"])
    return write_shapefile(folder, "bench", shapes, rows, deleted=(2,))


def write_no_shx(folder: Path) -> Path:
    return write_shapefile(folder, "bench", _zones(UTM), _rows(), shx=False)


def write_null_and_empty(folder: Path) -> Path:
    """Record 3 has a null shape, record 4 a polygon without parts."""
    shapes, rows = _zones(UTM), _rows()
    shapes[2:2] = [None, []]
    rows[2:2] = [["NOWHERE1", "300.00"], ["NOWHERE2", "310.00"]]
    return write_shapefile(folder, "bench", shapes, rows)


def write_hole_wound_wrong(folder: Path) -> Path:
    """The whole field less a hole of `HOLE_HA`, both rings clockwise."""
    whole = rectangle(EDGES_M[0], 0.0, EDGES_M[-1], HEIGHT_M, clockwise=True)
    hole = rectangle(-20.0, 100.0, 20.0, 150.0, clockwise=True)
    return write_shapefile(folder, "bench", [[moved(whole, UTM), moved(hole, UTM)]], [["A", "85.00"]])


def write_bowtie(folder: Path) -> Path:
    """Zone A crosses itself: two triangles, 2.25 ha together; B and C are sound."""
    features = _zone_features()
    tie = [(-210.0, 0.0), (-30.0, 250.0), (-30.0, 0.0), (-210.0, 250.0), (-210.0, 0.0)]
    features[0]["geometry"] = polygon(tie)
    return write_geojson(folder / "bowtie.geojson", features)


def write_spur(folder: Path) -> Path:
    """Zone C has an edge that runs out 60 m to the east and back: no area, a line."""
    features = _zone_features()
    spur = [(90.0, 0.0), (210.0, 0.0), (210.0, 100.0), (270.0, 100.0), (210.0, 100.0), (210.0, 250.0), (90.0, 250.0)]
    features[2]["geometry"] = polygon([*spur, spur[0]])
    return write_geojson(folder / "spur.geojson", features)


def write_overlap(folder: Path) -> tuple[Path, Path]:
    """Zone A reaches 15 m into B: 0.375 ha; returns zones and boundary."""
    features = _zone_features()
    features[0]["geometry"] = polygon(rectangle(-210.0, 0.0, -15.0, HEIGHT_M))
    return write_geojson(folder / "overlap.geojson", features), write_boundary(folder)


def write_gap_and_sliver(folder: Path) -> tuple[Path, Path]:
    """A gap of 10 m (0.25 ha) between A and B, one of 0.2 m (0.005 ha) between B and C; zones and boundary."""
    features = _zone_features()
    features[0]["geometry"] = polygon(rectangle(-210.0, 0.0, -40.0, HEIGHT_M))
    features[2]["geometry"] = polygon(rectangle(90.2, 0.0, 210.0, HEIGHT_M))
    return write_geojson(folder / "gap.geojson", features), write_boundary(folder)


def write_heights_and_parts(folder: Path) -> Path:
    """A height on every point; zone C in two parts, 2.45 ha together."""
    features = _zone_features(height=312.5)
    parts = [rectangle(90.0, 0.0, 210.0, 100.0), rectangle(110.0, 125.0, 210.0, 250.0)]
    coordinates = [polygon(part, height=312.5)["coordinates"] for part in parts]
    features[2]["geometry"] = {"type": "MultiPolygon", "coordinates": coordinates}
    return write_geojson(folder / "heights.geojson", features)


def write_nan(folder: Path) -> Path:
    """Bare NaN and Infinity for the rates of B and C."""
    features = _zone_features()
    features[1]["properties"]["rate"], features[2]["properties"]["rate"] = float("nan"), float("inf")
    return write_geojson(folder / "nan.geojson", features)


def write_semicolon_csv(folder: Path) -> Path:
    """Points in a table with byte order mark, semicolons, decimal commas, a units row and mixed line ends."""
    lines = ["Longitude;Latitude;Clay", "(deg);(deg);(%)"]
    for at in range(8):
        ((x, y),) = moved([(-200.0 + 50 * at, 125.0)], "EPSG:4326")
        lines.append(f"{x:.6f};{y:.6f};{18 + at / 4:.2f}".replace(".", ","))
    text = "".join(line + ("\n" if at % 3 else "\r\n") + ("\n" if at == 4 else "") for at, line in enumerate(lines))
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "points.csv"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    return path


def write_nested_zip(folder: Path) -> Path:
    """A zipped shapefile in a folder of a folder, its endings in capitals, with the ghosts some systems add."""
    folder.mkdir(parents=True, exist_ok=True)
    shp, shx = shp_bytes(_zones(UTM))
    wkt = pyproj.CRS(UTM).to_wkt("WKT1_ESRI").encode()
    dbf = dbf_bytes((("ZONE", "C", 20, 0), ("RATE", "N", 12, 2)), _rows())
    path = folder / "season.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for suffix, data in (("SHP", shp), ("SHX", shx), ("DBF", dbf), ("PRJ", wkt)):
            archive.writestr(f"To send/2031 spring/BENCH.{suffix}", data)
            archive.writestr(f"__MACOSX/To send/2031 spring/._BENCH.{suffix}", b"\0\x05\x16\x07ghost")
        archive.writestr("To send/.DS_Store", b"ghost")
        archive.writestr("To send/read me.txt", b"Zones for this spring.")
    return path
