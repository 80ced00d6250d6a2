"""An invented field whose areas are known by construction, its plan, and what a folder held before a run."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from support_cases import feature, moved, polygon, rectangle, write_field, write_geojson
from support_plans import plan_text

FIELD_HA = 10.5
WIDTH_M, HEIGHT_M = 420.0, 250.0
WEST_M, EAST_M = -210.0, 210.0

SPREADER = """
[[product]]
name = "Granular"
form = "granular"
use = "fertiliser"
min = "20 kg/ha"
max = "200 kg/ha"
step = "5 kg/ha"
"""
SECOND = """
[[product]]
name = "Second"
form = "granular"
use = "fertiliser"
min = "1 kg/ha"
max = "90 kg/ha"
step = "0.5 kg/ha"

[[rate]]
product = "Second"
by = "table"
table = { A = "10 kg/ha", B = "20.5 kg/ha", C = "0 kg/ha" }
"""


def bench(folder: Path, **changes: Any) -> str:
    """Write zones A, B, C (4.5, 3 and 3 ha; 85, 115 and 140 kg/ha) and boundary; return a plan for them."""
    write_field(folder)
    keys: dict[str, Any] = {"zones": "zones.geojson", "boundary": "boundary.geojson", "products": SPREADER}
    return plan_text(**(keys | changes))


def keep_out(name: str, **keys: str) -> str:
    """Return a ``[[keep_out]]`` table; keys as they stand in TOML."""
    return "".join(["\n[[keep_out]]\n", f'where = "{name}"\n', *(f"{key} = {value}\n" for key, value in keys.items())])


def write_points(path: Path, points: Sequence[tuple[float, float]]) -> Path:
    """Write points of local metres as GeoJSON."""
    geometries = [{"type": "Point", "coordinates": list(point)} for point in moved(list(points), "EPSG:4326")]
    return write_geojson(path, [feature(one) for one in geometries])


def write_line(path: Path, points: Sequence[tuple[float, float]]) -> Path:
    """Write a line of local metres as GeoJSON."""
    line = {"type": "LineString", "coordinates": [list(point) for point in moved(list(points), "EPSG:4326")]}
    return write_geojson(path, [feature(line)])


def write_box(path: Path, x0: float, y0: float, x1: float, y1: float) -> Path:
    """Write a rectangle of local metres as GeoJSON."""
    return write_geojson(path, [feature(polygon(rectangle(x0, y0, x1, y1)))])


def digests(folder: Path, *, without: str = "-bundle") -> dict[str, str]:
    """Return the digest of every file in a folder, those of bundles left out unless said."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not (without and any(part.endswith(without) for part in path.parts))
    }
