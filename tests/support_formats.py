"""The zones of Burr Oak Bench in other formats, written by libraries that the readers share no code with."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely
from support_cases import AREA_HA, RATES, UTM, moved, zone_ring


def zone_shapes(crs: str = UTM) -> np.ndarray[Any, Any]:
    return np.array([shapely.Polygon(moved(zone_ring(zone), crs)) for zone in AREA_HA], dtype=object)


def write_with_gdal(path: Path, shapes: Any, columns: dict[str, Any], *, crs: str | None = UTM, **more: Any) -> Path:
    """Write a layer with GDAL; columns are arrays, or pairs of an array and a mask of the cells that are empty."""
    path.parent.mkdir(parents=True, exist_ok=True)
    pairs = [column if isinstance(column, tuple) else (column, None) for column in columns.values()]
    pyogrio.raw.write(
        path,
        shapely.to_wkb(shapes),
        [values for values, _ in pairs],
        list(columns),
        field_mask=[mask for _, mask in pairs],
        crs=crs,
        geometry_type=more.pop("geometry_type", "Polygon"),
        **more,
    )
    return path


def zone_columns() -> dict[str, Any]:
    return {"zone": np.array(list(RATES), dtype=object), "rate": np.array(list(RATES.values()), dtype=np.float64)}


def write_flatgeobuf(folder: Path) -> Path:
    return write_with_gdal(folder / "bench.fgb", zone_shapes(), zone_columns(), driver="FlatGeobuf")


def write_flatgeobuf_without_index(folder: Path) -> Path:
    path = folder / "plain.fgb"
    return write_with_gdal(path, zone_shapes(), zone_columns(), driver="FlatGeobuf", SPATIAL_INDEX="NO")
