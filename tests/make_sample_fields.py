"""Write the data of the sample fields: ``python tests/make_sample_fields.py [FOLDER]``.

The plans and stories in ``sample_fields/`` are written by hand; the shapes and tables beside them come from
here. Every place is real farmland, every name and number is invented, and the same seeds give the same files.
"""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

import fiona
import numpy as np
import shapely
from pyproj import Transformer
from support_terrain import jagged_mesh, joined_by_class, spread_seeds, wavy_line, wavy_ring

DATE = "2026-11-25"
Record = tuple[shapely.Geometry, Mapping[str, object]]
Shift = Callable[[np.ndarray], np.ndarray]


def main(folder: Path) -> None:
    """Write all data files below a folder that is laid out as ``sample_fields``."""
    for make in (quail_bench, bergwind, przy_torze, lange_ager):
        (folder / make.__name__).mkdir(parents=True, exist_ok=True)
        make(folder / make.__name__)


# --- Quail Bench: US units, a soil survey, a waterway and a well -------------------------------------------


def quail_bench(folder: Path) -> None:
    """Write boundary, soil survey, waterway and well of a bench in the inland north-west of the USA."""
    rng = np.random.default_rng(260_317)
    place = shift_to(543_200.0, 5_098_900.0)
    corners = [
        (-420.0, -330.0), (60.0, -345.0), (75.0, -235.0), (205.0, -228.0), (215.0, -340.0), (395.0, -322.0),
        (452.0, -120.0), (418.0, 90.0), (470.0, 300.0), (150.0, 352.0), (-240.0, 338.0), (-402.0, 190.0),
        (-438.0, -60.0),
    ]  # fmt: skip
    boundary = shapely.Polygon(wavy_ring(rng, corners, amplitude=0.006, spacing_m=18.0))
    write_geojson(folder / "boundary.geojson", [(boundary, {"field": "Quail Bench"})], place, "EPSG:32611")

    units = (
        ("Alv", "Alder silt loam, 0 to 2 percent slopes, channelled", 5.1, 25.2),
        ("Cbl", "Crowfoot silty clay loam, 2 to 8 percent slopes", 4.2, 24.0),
        ("Hvs", "Hatchery silt loam, 2 to 8 percent slopes", 3.4, 19.5),
        ("Lnd", "Linden silt loam, 8 to 15 percent slopes", 2.6, 16.5),
        ("Mrk", "Marrow loam, 8 to 15 percent slopes, eroded", 1.9, 12.5),
        ("Shk", "Shakepoint gravelly loam, 15 to 25 percent slopes", 1.2, 8.0),
        ("Tst", "Tollgate stony loam, 3 to 12 percent slopes", 1.6, 10.5),
    )
    box = (-620.0, -520.0, 640.0, 540.0)
    faces = jagged_mesh(rng, spread_seeds(rng, box, 8, 6), box, amplitude=0.05, spacing_m=16.0)
    x, y = shapely.get_coordinates(shapely.centroid(faces)).T
    # Height above the waterway, which runs from the north-west to the south-east.
    height = np.abs(0.55 * x + 0.83 * y + 25.0) / 100.0 + 0.9 * np.sin(x / 210.0) + rng.normal(0.0, 0.3, len(faces))
    kinds = np.digitize(height, np.quantile(height, [0.14, 0.32, 0.52, 0.7, 0.84, 0.93]))
    soils = [
        (shape, dict(zip(("musym", "muname", "om_pct", "cec_meq"), units[kind], strict=True)))
        for kind, shape in joined_by_class(faces, kinds)
    ]
    write_vector(
        folder / "soil_survey.gpkg", soils, place, source="EPSG:32611", target="EPSG:4326", geometry="Polygon",
        properties={"musym": "str:8", "muname": "str:80", "om_pct": "float", "cec_meq": "float"}, decimals=7,
    )  # fmt: skip

    bed = np.array([(-520.0, 385.0), (-330.0, 214.0), (-180.0, 98.0), (-40.0, -8.0), (110.0, -92.0), (280.0, -178.0),
                    (520.0, -330.0)])  # fmt: skip
    line = shapely.LineString(wavy_line(rng, bed, amplitude=0.03, spacing_m=20.0))
    write_vector(
        folder / "waterway.shp", [(line, {"KIND": "grassed"})], place, source="EPSG:32611",
        target="EPSG:32611", geometry="LineString", properties={"KIND": "str:12"}, decimals=2,
    )  # fmt: skip
    write_geojson(folder / "well.geojson", [(shapely.Point(262.0, 214.0), {"use": "house well"})], place, "EPSG:32611")


# --- Bergwind: metric, southern hemisphere, seed and granular fertiliser ---------------------------


def bergwind(folder: Path) -> None:
    """Write boundary, zones, dam and seed rates of a barley field in the south of South Africa."""
    rng = np.random.default_rng(340_219)
    place = shift_to(364_300.0, 6_214_600.0)
    corners = [
        (-510.0, -250.0), (-190.0, -365.0), (240.0, -330.0), (515.0, -160.0), (480.0, 150.0), (250.0, 325.0),
        (-80.0, 290.0), (-300.0, 365.0), (-540.0, 120.0),
    ]  # fmt: skip
    boundary = shapely.Polygon(wavy_ring(rng, corners, amplitude=0.012, spacing_m=22.0))
    write_geojson(folder / "boundary.geojson", [(boundary, {"name": "Bergwind"})], place, "EPSG:32734")

    names = ("Stony crest", "Upper slope", "Middle slope", "Lower slope", "Valley floor")
    nitrogen_kg_ha = (0.0, 32.0, 46.5, 58.0, 71.0)
    box = (-700.0, -520.0, 700.0, 520.0)
    faces = jagged_mesh(rng, spread_seeds(rng, box, 9, 7), box, amplitude=0.05, spacing_m=25.0)
    x, y = shapely.get_coordinates(shapely.centroid(faces)).T
    # A long slope from the crest in the north-west down to the valley in the south-east, with a spur.
    height = (y - 0.7 * x) / 260.0 + 0.8 * np.sin(x / 190.0 + 1.0) + rng.normal(0.0, 0.25, len(faces))
    inside = shapely.contains_xy(boundary, x, y)
    kinds = np.digitize(-height, np.quantile(-height[inside], [0.09, 0.3, 0.56, 0.82]))
    zones = [
        (shape, {"zone": names[kind], "N_kg_ha": nitrogen_kg_ha[kind], "depth_cm": 25 + 15 * kind})
        for kind, shape in joined_by_class(faces, kinds)
    ]
    write_geojson(folder / "zones.geojson", zones, place, "EPSG:32734")

    water = [(-236.0, -118.0), (-178.0, -142.0), (-131.0, -109.0), (-139.0, -58.0), (-196.0, -37.0), (-241.0, -70.0)]
    dam = shapely.Polygon(wavy_ring(rng, water, amplitude=0.05, spacing_m=6.0))
    write_geojson(folder / "dam.geojson", [(dam, {"kind": "stock dam"})], place, "EPSG:32734")

    write_csv(
        folder / "seed_rates.csv",
        ("zone", "seeds_per_m2", "remark"),
        [
            ("Stony crest", 0, "no depth to drill into"),
            ("Upper slope", 175, "shallow, dries early"),
            ("Middle slope", 215, ""),
            ("Lower slope", 245, ""),
            ("Valley floor", 290, "tillers late"),
        ],
    )


# --- Przy Torze: deliberately messy, across the edge of a UTM zone ----------------------------------------


def przy_torze(folder: Path) -> None:
    """Write a messy zone layer without CRS and a boundary in the UTM zone on the other side of 18 degrees east."""
    rng = np.random.default_rng(180_527)
    # Local metres are UTM 34N here; longitude 18 east lies in the middle of the field.
    place = shift_to(297_100.0, 5_837_900.0)
    west = wavy_ring(
        rng, [(-410, -260), (-30, -285), (-25, 255), (-230, 300), (-430, 120)], amplitude=0.01, spacing_m=25
    )
    east = wavy_ring(rng, [(-13, -286), (330, -270), (405, 40), (300, 280), (-8, 256)], amplitude=0.01, spacing_m=25)
    pond = shapely.Point(-215.0, 40.0).buffer(34.0, quad_segs=5)
    boundary = shapely.MultiPolygon([shapely.Polygon(west).difference(pond), shapely.Polygon(east)])
    write_vector(
        folder / "boundary.shp", [(with_heights(boundary), {"POLE": "Przy Torze"})], place, source="EPSG:32634",
        target="EPSG:32633", geometry="3D Polygon", properties={"POLE": "str:20"}, decimals=2,
    )  # fmt: skip
    records = messy_zones(rng, pond)
    write_vector(
        folder / "strefy.shp", [(with_heights(shape), cells) for shape, cells in records], place, source="EPSG:32634",
        target="EPSG:32634", geometry="3D Polygon",
        properties={"STREFA": "str:12", "P_MG": "str:8", "JEDN_HA": "float:6.2"}, decimals=2,
    )  # fmt: skip
    (folder / "strefy.prj").unlink()


def messy_zones(rng: np.random.Generator, pond: shapely.Polygon) -> list[Record]:
    """Return zones with everything that goes wrong in a hand-drawn layer, each fault once."""
    names = ("Górka", "Stok", "Równina", "Łąka")
    phosphorus = ("5,8", "9,4", "12,6", "17,1")
    units_ha = (1.25, 1.18, 1.10, 1.02)
    box = (-560.0, -420.0, 540.0, 440.0)
    faces = jagged_mesh(rng, spread_seeds(rng, box, 6, 5), box, amplitude=0.05, spacing_m=24.0)
    x, y = shapely.get_coordinates(shapely.centroid(faces)).T
    height = np.sin(x / 180.0) + np.cos(y / 150.0 + 0.5) + rng.normal(0.0, 0.2, len(faces))
    kinds = np.digitize(-height, np.quantile(-height, [0.25, 0.5, 0.75]))

    def cells(kind: int) -> dict[str, object]:
        return {"STREFA": names[kind], "P_MG": phosphorus[kind], "JEDN_HA": units_ha[kind]}

    parts = [(shape.difference(pond), kind) for kind, shape in joined_by_class(faces, kinds)]
    by_size = sorted(range(len(parts)), key=lambda at: -parts[at][0].area)
    shrunk, grown, swapped = by_size[1], by_size[2], by_size[3]
    parts[shrunk] = (parts[shrunk][0].buffer(-0.3, join_style="mitre"), parts[shrunk][1])  # slivers of no zone
    parts[grown] = (parts[grown][0].buffer(0.4, join_style="mitre"), parts[grown][1])  # slivers of two zones
    parts[swapped] = (two_vertices_swapped(parts[swapped][0]), parts[swapped][1])  # a loop in the border
    gap = shapely.Point(215.0, -140.0).buffer(24.0, quad_segs=4)  # ground that nobody drew
    parts = [(shape if at == swapped else shape.difference(gap), kind) for at, (shape, kind) in enumerate(parts)]

    lonely = [at for at in by_size if names[parts[at][1]] == "Równina"][:2]  # two parts in one record
    merged = shapely.MultiPolygon([poly for at in lonely for poly in shapely.get_parts(parts[at][0])])
    records: list[Record] = [(merged, cells(parts[lonely[0]][1]))]
    records += [(shape, cells(kind)) for at, (shape, kind) in enumerate(parts) if at not in lonely]
    records.append((shapely.box(90.0, 60.0, 175.0, 150.0), cells(0)))  # drawn on top: overlaps with other rates
    records.append((shapely.Polygon([(-120, -190), (-60, -130), (-60, -190), (-120, -130)]), cells(3)))  # a bow-tie
    records.append(records[1])  # the same record twice
    return records


def two_vertices_swapped(shape: shapely.Polygon) -> shapely.Polygon:
    """Return a polygon whose ring crosses itself once: two neighbouring vertices in the wrong order."""
    ring = shapely.get_coordinates(shape.exterior)
    holes = [shapely.get_coordinates(hole) for hole in shape.interiors]
    inside = np.flatnonzero((np.abs(ring[:, 0]) < 380) & (np.abs(ring[:, 1]) < 230))
    for at in inside[(inside > 0) & (inside < len(ring) - 2)]:
        order = np.arange(len(ring))
        order[[at, at + 1]] = order[[at + 1, at]]
        crossed = shapely.Polygon(ring[order], holes)
        if not crossed.is_valid:  # on a straight stretch the line only runs back and forth
            return crossed
    raise ValueError("no vertex of this ring lies inside the field")


def with_heights(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a shape with a height on each vertex, as a receiver writes it."""
    points = shapely.get_coordinates(shape)
    return shapely.set_coordinates(
        shapely.force_3d(shape), np.column_stack((points, (96.0 + points[:, 0] / 150.0).round(2)))
    )


# --- What all of them use -----------------------------------------------------------------------------------


# --- Lange Ager: straight edges and round numbers, so that every figure can be done by hand -----------------


def lange_ager(folder: Path) -> None:
    """Write a field of 600 m x 400 m in Jutland, with soils west and east, growth south and north, and a hollow."""
    # Metres of an equal-area projection centred on the field: what is drawn as 24 ha is 24 ha of true ground.
    place, local = shift_to(0.0, 0.0), "+proj=laea +lat_0=56.3 +lon_0=9.2 +datum=WGS84 +units=m"
    west, south, east, north = -300.0, -200.0, 300.0, 200.0
    write_geojson(folder / "boundary.geojson", [(shapely.box(west, south, east, north), {})], place, local, 9)
    soils = [
        (shapely.box(west, south, 0.0, north), {"soil": "sand", "clay_pct": 6}),
        (shapely.box(0.0, south, east, north), {"soil": "clay", "clay_pct": 18}),
    ]
    write_geojson(folder / "soil.geojson", soils, place, local, 9)
    growth = [
        (shapely.box(west, south, east, 0.0), {"growth": "thin"}),
        (shapely.box(west, 0.0, east, north), {"growth": "thick"}),
    ]
    write_geojson(folder / "growth.geojson", growth, place, local, 9)
    hollow = shapely.box(-200.0, -120.0, -100.0, -60.0)
    write_geojson(folder / "wet_hollow.geojson", [(hollow, {})], place, local, 9)


def shift_to(easting: float, northing: float) -> Shift:
    """Return the move from a field's own metres to a projected CRS."""
    return lambda points: points + np.array([easting, northing])


def moved(shape: shapely.Geometry, place: Shift, source: str, target: str, decimals: int) -> shapely.Geometry:
    """Return a shape in the target CRS, rounded as it is to be written."""
    to_target = Transformer.from_crs(source, target, always_xy=True)

    def change(points: np.ndarray) -> np.ndarray:
        x, y = to_target.transform(*place(points[:, :2]).T)
        return np.column_stack((np.round(x, decimals), np.round(y, decimals), *points[:, 2:].T))

    return shapely.transform(shape, change, include_z=bool(shapely.has_z(shape)))


def write_geojson(path: Path, records: Iterable[Record], place: Shift, source: str, decimals: int = 7) -> None:
    """Write RFC 7946 GeoJSON: a feature a line, outer rings counterclockwise."""
    lines = []
    for shape, cells in records:
        placed = shapely.orient_polygons(moved(shape, place, source, "EPSG:4326", decimals))
        geometry = json.loads(shapely.to_geojson(placed))
        lines.append(
            json.dumps({"type": "Feature", "properties": dict(cells), "geometry": geometry}, ensure_ascii=False)
        )
    text = '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"
    path.write_text(text, encoding="utf-8", newline="\n")


def write_vector(
    path: Path, records: Sequence[Record], place: Shift, *, source: str, target: str, geometry: str,
    properties: Mapping[str, str], decimals: int,
) -> None:  # fmt: skip
    """Write a shapefile or GeoPackage with the project's date instead of today's."""
    path.unlink(missing_ok=True)
    options: dict[str, str] = {"encoding": "utf-8"}
    driver = "GPKG"
    if path.suffix == ".shp":
        driver, options["DBF_DATE_LAST_UPDATE"] = "ESRI Shapefile", DATE
    features = [
        {"geometry": shapely.geometry.mapping(moved(shape, place, source, target, decimals)), "properties": dict(cells)}
        for shape, cells in records
    ]
    schema = {"geometry": geometry, "properties": dict(properties)}
    with (
        fiona.Env(OGR_CURRENT_DATE=f"{DATE}T00:00:00.000Z"),
        fiona.open(path, "w", driver=driver, crs=target, schema=schema, **options) as layer,
    ):
        layer.writerecords(features)


def write_csv(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table with a header (RFC 4180, but plain line feeds)."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[1] / "sample_fields")
