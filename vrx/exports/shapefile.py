"""Writing a sheet as a Shapefile: .shp, .shx, .dbf, .prj and .cpg.

The bytes are written here rather than by a library because each of them has to be known: the cell text must be the
rate's, digit by digit (general writers cut a number that is too wide without an error), the only date is the
plan's, and a full disk must be an error.

Sources: ESRI Shapefile Technical Description (J-7855, July 1998) for .shp and .shx; the dBASE III table format for
.dbf; .prj holds the CRS as well-known text in the form ESRI gave it.
"""

from __future__ import annotations

import struct
from datetime import date
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import OutputError
from vrx.exports.limits import loadable_column, number_fits
from vrx.exports.rings import oriented_polygons
from vrx.geo.crs import parse_crs
from vrx.model.sheet import RateColumn, Sheet, TextColumn

_FILE_CODE: Final = 9994
_VERSION: Final = 1000
_POLYGON: Final = 5
_HEADER_BYTES: Final = 100
_MOST_BYTES: Final = 2**31 - 1  # readers that count bytes in 32 bits end here
_MOST_COLUMNS: Final = 255
MOST_TEXT_BYTES: Final = 254
"""The width of a text column in dBASE III."""


def write_shapefile(sheet: Sheet, folder: Path) -> list[Path]:
    """Write a sheet as a Shapefile and return its files, the ``.shp`` first.

    Polygons are single-part and without heights, outer rings clockwise. A column of rates is numeric (``N``), as wide
    as its widest rate, with the decimals of the column; each cell is :meth:`RateColumn.rate_text` set to the right.
    Other columns are as wide as their widest cell, texts in UTF-8, empty cells blank.

    Raises
    ------
    OutputError
        A column name, a rate or the whole that a Shapefile can't hold, or a shape that is no single polygon.
    CrsError
        The sheet's CRS is unknown.
    OSError
        No room, no right to write ...
    """
    _check_columns(sheet)
    shp, shx = _shapes(oriented_polygons(sheet, outer_clockwise=True))
    contents = {
        ".shp": shp,
        ".shx": shx,
        ".dbf": _table(sheet),
        ".prj": _well_known_text(sheet.crs).encode("ascii", errors="replace"),
        ".cpg": b"UTF-8",
    }
    for ending, content in contents.items():
        if len(content) > _MOST_BYTES:
            raise OutputError(
                f"The {ending} file would have {len(content)} bytes; a Shapefile holds {_MOST_BYTES}.",
                remedy="Write fewer polygons or another format.",
                where=sheet.name,
            )
    paths = []
    for ending, content in contents.items():
        path = folder / f"{sheet.name}{ending}"
        path.write_bytes(content)
        paths.append(path)
    return paths


def _check_columns(sheet: Sheet) -> None:
    names = [*(column.name for column in sheet.columns), *(label.name for label in sheet.labels)]
    lower = [name.lower() for name in names]
    for name in names:
        if not loadable_column(name) or lower.count(name.lower()) > 1:
            raise OutputError(
                f"Column name {name!r} can't stand in a Shapefile.",
                remedy="Use at most 10 plain letters, digits and _, a letter first, each name once.",
                where=sheet.name,
            )
    for column in sheet.columns:
        unfit = number_fits(column, None, None)
        if unfit:
            raise OutputError(unfit.message, remedy=unfit.remedy, where=sheet.name)
    if not 1 <= len(names) <= _MOST_COLUMNS:
        raise OutputError(f"A Shapefile has 1 to {_MOST_COLUMNS} columns, not {len(names)}.", where=sheet.name)


def _shapes(polygons: NDArray[np.object_]) -> tuple[bytes, bytes]:
    """Return the contents of .shp and .shx."""
    if not len(polygons):
        empty = _header(_HEADER_BYTES, (0.0, 0.0, 0.0, 0.0))
        return empty, empty
    _, points, (rings, owners) = shapely.to_ragged_array(polygons, include_z=False)
    points = np.ascontiguousarray(points, dtype="<f8")
    rings, owners = np.asarray(rings, dtype=np.int64), np.asarray(owners, dtype=np.int64)
    boxes = np.ascontiguousarray(shapely.bounds(polygons), dtype="<f8")
    records: list[bytes] = []
    index: list[bytes] = []
    at = _HEADER_BYTES
    for number in range(len(polygons)):
        starts = rings[owners[number] : owners[number + 1] + 1]
        first, last = int(starts[0]), int(starts[-1])
        content = b"".join(
            (
                struct.pack("<i", _POLYGON),
                boxes[number].tobytes(),
                struct.pack("<2i", len(starts) - 1, last - first),
                (starts[:-1] - first).astype("<i4").tobytes(),
                points[first:last].tobytes(),
            )
        )
        # Lengths and places are counted in 16-bit words, record numbers from 1.
        records += [struct.pack(">2i", number + 1, len(content) // 2), content]
        index.append(struct.pack(">2i", at // 2, len(content) // 2))
        at += 8 + len(content)
    box = (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))
    return (
        b"".join((_header(at, box), *records)),
        b"".join((_header(_HEADER_BYTES + 8 * len(index), box), *index)),
    )


def _header(n_bytes: int, box: tuple[float, ...]) -> bytes:
    head = struct.pack(">7i", _FILE_CODE, 0, 0, 0, 0, 0, n_bytes // 2)
    return head + struct.pack("<2i8d", _VERSION, _POLYGON, *box, 0.0, 0.0, 0.0, 0.0)


def _table(sheet: Sheet) -> bytes:
    """Return the contents of the .dbf."""
    fields = [*map(_rates, sheet.columns), *(_others(label, sheet) for label in sheet.labels)]
    day = date.fromisoformat(sheet.date)
    header = struct.pack(
        "<4BI2H20x",
        3,
        (day.year - 1900) % 256,
        day.month,
        day.day,
        len(sheet.shapes),
        32 + 32 * len(fields) + 1,
        1 + sum(field.width for field in fields),
    )
    slots = [
        struct.pack("<11sc4x2B14x", field.name.encode("ascii"), field.kind, field.width, field.decimals)
        for field in fields
    ]
    # A blank in front of a record says that it is not deleted.
    records = b"".join(b" " + b"".join(row) for row in zip(*(field.cells for field in fields), strict=True))
    return header + b"".join(slots) + b"\r" + records + b"\x1a"


class _Field(NamedTuple):
    name: str
    kind: bytes
    width: int
    decimals: int
    cells: list[bytes]  # each as wide as the field


def _rates(column: RateColumn) -> _Field:
    texts = [column.rate_text(at).encode("ascii") for at in range(len(column.counts))]
    width = max(map(len, texts), default=1)
    return _Field(column.name, b"N", width, column.decimals, [text.rjust(width) for text in texts])


def _others(label: TextColumn, sheet: Sheet) -> _Field:
    texts = [(cell or "").encode() for cell in label.cells]
    width = max([1, *map(len, texts)])
    if width > MOST_TEXT_BYTES:
        raise OutputError(
            f"A text in column {label.name} takes {width} bytes; a Shapefile holds {MOST_TEXT_BYTES}.",
            remedy="Leave the column out, or write another format.",
            where=sheet.name,
        )
    if label.kind == "text":
        return _Field(label.name, b"C", width, 0, [text.ljust(width) for text in texts])
    decimals = max((len(text.partition(b".")[2]) for text in texts), default=0)
    return _Field(label.name, b"N", width, decimals, [text.rjust(width) for text in texts])


def _well_known_text(crs: str) -> str:
    return str(parse_crs(crs).to_wkt("WKT1_ESRI"))
