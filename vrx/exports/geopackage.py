"""Writing a sheet as a GeoPackage (OGC 12-128)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import shapely

from vrx.errors import OutputError
from vrx.exports.limits import GEOPACKAGE_COLUMNS
from vrx.exports.rings import oriented_polygons
from vrx.geo.crs import parse_crs
from vrx.model.sheet import RateColumn, Sheet, TextColumn

_WHOLE_DIGITS = 18  # what an integer of 64 bits holds for certain, with its sign


def write_geopackage(sheet: Sheet, folder: Path) -> list[Path]:
    """Write a sheet as a GeoPackage of one layer and return its file.

    The layer bears the sheet's name and description; a rate without decimals is an integer, any other a real number.
    Of the other columns text stays text, and whole numbers stay whole.

    Raises
    ------
    OutputError
        A shape is not a single polygon, or a column is named as one that every GeoPackage has.
    CrsError
        The sheet's CRS is unknown.
    OSError
        No room, no right to write ...
    """
    for name in (*(column.name for column in sheet.columns), *(label.name for label in sheet.labels)):
        if name.lower() in GEOPACKAGE_COLUMNS:
            raise OutputError(
                f"Column name {name!r} is one that every GeoPackage has already.",
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
        "properties": {
            **{column.name: "float" if column.decimals else "int64" for column in sheet.columns},
            **{label.name: _type(label) for label in sheet.labels},
        },
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
    labels = {label.name: _others(label) for label in sheet.labels}
    for at, polygon in enumerate(polygons):
        cells = {column.name: _number(column, at) for column in sheet.columns}
        others = {name: cells[at] for name, cells in labels.items()}
        yield {"type": "Feature", "geometry": shapely.geometry.mapping(polygon), "properties": {**cells, **others}}


def _number(column: RateColumn, at: int) -> int | float:
    count = int(column.counts[at])
    return count / 10**column.decimals if column.decimals else count


def _type(label: TextColumn) -> str:
    if label.kind == "text":
        return "str"
    whole = all(cell is None or (cell.lstrip("-").isdigit() and len(cell) <= _WHOLE_DIGITS) for cell in label.cells)
    return "int64" if whole else "float"


def _others(label: TextColumn) -> list[int | float | str | None]:
    if label.kind == "text":
        return list(label.cells)
    number = int if _type(label) == "int64" else float
    return [None if cell is None else number(cell) for cell in label.cells]
