"""The formats that a sheet can be written in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

from vrx.exports.geojson import write_geojson
from vrx.exports.geopackage import write_geopackage
from vrx.exports.shapefile import write_shapefile
from vrx.model.receiver import Format
from vrx.model.sheet import Sheet

WRITERS: Final[Mapping[Format, Callable[[Sheet, Path], list[Path]]]] = {
    "shapefile": write_shapefile,
    "geojson": write_geojson,
    "geopackage": write_geopackage,
}


def write_sheet(sheet: Sheet, folder: Path, form: Format) -> list[Path]:
    """Write a sheet in one format and return its files, the one to open first."""
    return WRITERS[form](sheet, folder)
