"""Writing a sheet as a GeoPackage (OGC 12-128)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import shapely

from vrx.errors import OutputError
from vrx.exports.limits import GEOPACKAGE_COLUMNS
from vrx.exports.rings import oriented_polygons
from vrx.geo.crs import parse_crs
from vrx.model.sheet import RateColumn, Sheet


def write_geopackage(sheet: Sheet, folder: Path) -> list[Path]:
    """Write a sheet as a GeoPackage of one layer and return its file.

    The layer bears the sheet's name and description; a rate without decimals is an integer, any other a real number.

    Raises
    ------
    OutputError
        A shape is not a single polygon, or a column is named as one that every GeoPackage has.
    CrsError
        The sheet's CRS is unknown.
    OSError
        No room, no right to write ...
    """
    for column in sheet.columns:
        if column.name.lower() in GEOPACKAGE_COLUMNS:
            raise OutputError(
                f"Column name {column.name!r} is one that every GeoPackage has already.",
                remedy="Give the column another name.",
                where=sheet.name,
            )
    path = folder / f"{sheet.name}.gpkg"
    path.write_bytes(_contents(sheet))
    return [path]


def _contents(sheet: Sheet) -> bytes:
    # These load a whole GDAL, which a map in the other formats does not need.
    import fiona  # noqa: PLC0415 - slow to load
    from fiona.io import MemoryFile  # noqa: PLC0415 - slow to load

    schema = {
        "geometry": "Polygon",
        "properties": {column.name: "float" if column.decimals else "int64" for column in sheet.columns},
    }
    # In memory first: Python then says when the disk is full. The only clock in the file is its last change.
    with fiona.Env(OGR_CURRENT_DATE=f"{sheet.date}T00:00:00.000Z"), MemoryFile(ext="gpkg") as memory:
        with memory.open(
            driver="GPKG",
            layer=sheet.name,
            crs_wkt=parse_crs(sheet.crs).to_wkt(),
            schema=schema,
            DESCRIPTION=sheet.description,
        ) as layer:
            layer.writerecords(_records(sheet))
        memory.seek(0)
        return bytes(memory.read())


def _records(sheet: Sheet) -> Iterator[dict[str, object]]:
    polygons = oriented_polygons(sheet, outer_clockwise=False)
    for at, polygon in enumerate(polygons):
        rates = {column.name: _number(column, at) for column in sheet.columns}
        yield {"type": "Feature", "geometry": shapely.geometry.mapping(polygon), "properties": rates}


def _number(column: RateColumn, at: int) -> int | float:
    count = int(column.counts[at])
    return count / 10**column.decimals if column.decimals else count
