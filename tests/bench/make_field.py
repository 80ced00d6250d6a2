"""Make a seeded field for benchmarks: ``python tests/bench/make_field.py FOLDER [--polygons 2000] [--acres 160]``.

160 acres in the inland north-west of the USA, about 2,000 jagged soil polygons (3 % reach over their
neighbours, 2 % leave gaps around them), as shapefile, GeoJSON and GeoPackage in longitude and latitude, with
a plan for it. All invented.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from make_sample_fields import Record, shift_to, write_geojson, write_vector
from support_terrain import jagged_mesh, spread_seeds, wavy_ring

ACRE_M2 = 4046.8564224
UTM = "EPSG:32611"
RATES_LB_AC = {1: 92.0, 2: 104.5, 3: 117.3, 4: 131.0, 5: 143.8, 6: 171.0}
PROPERTIES = {"musym": "str:8", "zone": "int32:9", "om": "float:6.2", "rate": "float:9.3"}

PLAN = """\
units = "us"
date = 2027-03-01
overlaps = "lowest"

[field]
name = "Bench field"
season = 2027
crop = "spring wheat"
boundary = "boundary.{end}"

[[product]]
name = "Urea 46-0-0"
form = "granular"
use = "fertiliser"
min = "90 lb/ac"
max = "160 lb/ac"
step = "5 lb/ac"

[zones]
from = "soils.{end}"
name = "{name}"

[[rate]]
product = "Urea 46-0-0"
{rate}

[receiver]
most_features = 100000
most_vertices = 1000000
"""


def make_field(
    folder: Path,
    *,
    polygons: int = 2000,
    acres: float = 160.0,
    formats: Sequence[str] = ("geojson", "shp", "gpkg"),
    seed: int = 20_271_103,
) -> None:
    """Write boundary, soils (each in some formats) and plans into a folder.

    Polygons under 20 m2 are left out, so many polygons need many acres. ``plan.toml`` has a rate for each of six zones,
    ``plan_polygons.toml`` a rate for every polygon.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    place = shift_to(543_200.0, 5_098_900.0)
    boundary = field_of(rng, acres)
    soils = soils_of(rng, boundary, polygons)
    fields: list[Record] = [(boundary, {"name": "Bench field"})]
    if "geojson" in formats:
        write_geojson(folder / "boundary.geojson", fields, place, UTM)
        write_geojson(folder / "soils.geojson", soils, place, UTM)
    for end in (one for one in formats if one != "geojson"):
        write_vector(
            folder / f"boundary.{end}", fields, place, source=UTM, target="EPSG:4326", geometry="Polygon",
            properties={"name": "str:20"}, decimals=8,
        )  # fmt: skip
        write_vector(
            folder / f"soils.{end}", soils, place, source=UTM, target="EPSG:4326", geometry="Polygon",
            properties=PROPERTIES, decimals=8,
        )  # fmt: skip
    table = "".join(f'{zone} = "{rate} lb/ac"\n' for zone, rate in RATES_LB_AC.items())
    by_zone = PLAN.format(end="shp", name="zone", rate=f'by = "table"\n\n[rate.table]\n{table}')
    by_polygon = PLAN.format(end="shp", name="", rate='by = "column"\ncolumn = "rate"\nunit = "lb/ac"')
    (folder / "plan.toml").write_text(by_zone, encoding="utf-8")
    (folder / "plan_polygons.toml").write_text(by_polygon, encoding="utf-8")


def field_of(rng: np.random.Generator, acres: float) -> shapely.Polygon:
    """Return a field of some acres with uneven sides, a bay and a pond, in metres around its middle."""
    half = 1.06 * np.sqrt(acres * ACRE_M2) / 2
    corners = [
        (-half, -half), (0.2 * half, -half), (0.24 * half, -0.5 * half), (0.32 * half, -half), (half, -0.94 * half),
        (0.95 * half, half), (-0.97 * half, 0.93 * half),
    ]  # fmt: skip
    outline = shapely.Polygon(wavy_ring(rng, corners, amplitude=0.006, spacing_m=13.0))
    pond = shapely.Polygon(wavy_ring(rng, [(60, 90), (130, 80), (150, 150), (80, 170)], amplitude=0.04, spacing_m=8.0))
    field = outline.difference(pond)
    scale = np.sqrt(acres * ACRE_M2 / field.area)
    return shapely.transform(field, lambda points: points * scale)


def soils_of(rng: np.random.Generator, field: shapely.Polygon, polygons: int) -> list[Record]:
    """Return soil polygons that reach beyond a field, some of them too large and some too small."""
    west, south, east, north = field.bounds
    box = (west - 90.0, south - 90.0, east + 90.0, north + 90.0)
    side = round(np.sqrt(polygons))
    cell = (box[2] - box[0]) / side
    shapes = jagged_mesh(rng, spread_seeds(rng, box, side, polygons // side), box, amplitude=0.04, spacing_m=cell / 15)
    shapes = shapes[shapely.area(shapes) > 20.0]
    x, y = shapely.get_coordinates(shapely.centroid(shapes)).T
    height = np.sin(x / 170.0) + np.cos(y / 210.0) + rng.normal(0.0, 0.25, len(shapes))
    zones = np.digitize(height, [-1.2, -0.5, 0.0, 0.5, 1.2]) + 1
    order = rng.permutation(len(shapes))
    too_large, too_small = np.split(order, [round(0.03 * len(order))])
    too_small = too_small[: round(0.02 * len(order))]
    shapes[too_large] = shapely.buffer(shapes[too_large], rng.uniform(0.2, 1.0, len(too_large)), join_style="mitre")
    shapes[too_small] = shapely.buffer(shapes[too_small], -rng.uniform(0.1, 0.5, len(too_small)), join_style="mitre")
    whole = [max(shapely.get_parts(shape), key=shapely.area) for shape in shapes]
    matter = rng.uniform(1.0, 6.0, len(shapes)).round(2)
    rates = (80.0 + 12.3 * zones + rng.normal(0.0, 2.0, len(shapes))).round(3)
    symbols = rng.integers(1, 13, len(shapes))
    return [
        (shape, {"musym": f"M{symbol:02d}", "zone": int(zone), "om": float(om), "rate": float(rate)})
        for shape, symbol, zone, om, rate in zip(whole, symbols, zones, matter, rates, strict=True)
    ]


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    options.add_argument("--polygons", type=int, default=2000)
    options.add_argument("--acres", type=float, default=160.0)
    asked = options.parse_args()
    make_field(asked.folder, polygons=asked.polygons, acres=asked.acres)
