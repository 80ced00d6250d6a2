"""GeoPackage: SQLite tables with well-known binary shapes, opened so that nothing is written.

Source: OGC GeoPackage Encoding Standard (12-128), clauses 1.1.1, 1.1.2 and 2.1.3.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from vrx.errors import InputError, LayerChoiceError
from vrx.inputs.crs_text import declared_crs
from vrx.inputs.raw_layer import RawLayer, named_columns
from vrx.inputs.wkb import shapes_of_wkb
from vrx.model.finding import Finding
from vrx.model.layer import Cell

_APPLICATION_IDS: Final = (b"GPKG", b"GP10", b"GP11", b"\0\0\0\0")
_ENVELOPE_BYTES: Final = (0, 32, 48, 48, 64)
_NUMBERS: Final = ("INT", "REAL", "DOUBLE", "FLOAT", "NUM", "DEC")
_MOST_STEPS: Final = 3_000  # times 100,000 steps of SQLite's machine: no view runs for ever
_MOST_BYTES: Final = 2**29  # of the cells of a layer: a view may make more than its file holds
_ROWS_AT_ONCE: Final = 64
_AGAIN: Final = "Have it saved or sent again as a GeoPackage."


def read_geopackage(file: Path | bytes, *, source: str, layer: str = "") -> RawLayer:
    """Read a layer of features of a GeoPackage.

    Parameters
    ----------
    file : path or bytes
        Where it lies, or the whole file.
    source : str
        Its name, as people are told it.
    layer : str
        The layer's name; needed only where there are several.

    Returns
    -------
    RawLayer
        Records are numbered by the table's primary key, which is no column of its own.

    Raises
    ------
    InputError
        No GeoPackage, damaged, several layers and none named, or curved shapes.
    """
    findings: list[Finding] = []
    if isinstance(file, Path) and _has_log(file):
        findings.append(
            Finding(
                id="gpkg-log",
                severity="caution",
                message=f"{source}: a -wal file with changes lies beside it, and these are not read.",
                remedy="Close the program that has it open, then read it again.",
            )
        )
    try:
        with closing(_opened(file, source)) as db:
            table = _layer_name(db, layer, source)
            geometry, crs, lacking, found = _geometry(db, table, source)
            names, rows = _rows(db, table, source)
            declared = _declared(db, table)
    except (sqlite3.Error, UnicodeDecodeError) as err:
        raise _refused(f"The GeoPackage can't be read: {err}.", source) from None
    key, columns = _split(names, rows, geometry, declared, source)
    shapes, records = _shapes(columns.pop(geometry), key, source)
    attributes, renamed = named_columns(
        list(columns),
        [_kind(declared.get(name.lower(), ("", False))[0], cells) for name, cells in columns.items()],
        list(columns.values()),
        source,
    )
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=attributes,
        records=records,
        crs=crs,
        lacking=lacking,
        mend="set the CRS of its layer in the program that made it",
        findings=(*findings, *found, *renamed),
    )


def _has_log(path: Path) -> bool:
    log = path.with_name(path.name + "-wal")
    return log.is_file() and log.stat().st_size > 0


def _opened(file: Path | bytes, source: str) -> sqlite3.Connection:
    if isinstance(file, Path):
        with file.open("rb") as opened:
            head = opened.read(100)
    else:
        head = file[:100]
    if len(head) < 100 or not head.startswith(b"SQLite format 3\0") or head[68:72] not in _APPLICATION_IDS:
        raise _refused("This is no GeoPackage.", source)
    if isinstance(file, Path):
        # immutable: no lock, no journal, nothing made beside the file
        db = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    else:
        db = sqlite3.connect(":memory:")
        # A file in write-ahead mode can't be opened from memory; its pages are the same.
        db.deserialize(file[:18] + b"\x01\x01" + file[20:])
    steps = iter(range(_MOST_STEPS))
    db.set_progress_handler(lambda: next(steps, None) is None, 100_000)
    db.execute("PRAGMA trusted_schema = OFF")
    db.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 2**28)
    return db


def layers_of_geopackage(file: Path | bytes, *, source: str) -> list[str]:
    """Return the names of its layers of features, sorted.

    Raises
    ------
    InputError
        No GeoPackage, or damaged.
    """
    try:
        with closing(_opened(file, source)) as db:
            return _layer_names(db, source)
    except (sqlite3.Error, UnicodeDecodeError) as err:
        raise _refused(f"The GeoPackage can't be read: {err}.", source) from None


def _layer_names(db: sqlite3.Connection, source: str) -> list[str]:
    try:
        found = db.execute("SELECT table_name FROM gpkg_contents WHERE data_type = 'features' ORDER BY table_name")
        return [str(row[0]) for row in found]
    except sqlite3.OperationalError:
        raise _refused("This is an SQLite file, but no GeoPackage.", source) from None


def _layer_name(db: sqlite3.Connection, wanted: str, source: str) -> str:
    names = _layer_names(db, source)
    if not names:
        raise _refused("It holds no layer of features.", source)
    fitting = [name for name in names if name.casefold() == wanted.casefold()] if wanted else names
    if len(fitting) == 1:
        return fitting[0]
    listed = ", ".join(repr(name) for name in names[:20])
    problem = f"It has no layer {wanted!r}; it has {listed}." if wanted else f"It has several layers: {listed}."
    raise LayerChoiceError(problem, remedy='Name one of them, as layer = "...".', where=source)


def _geometry(db: sqlite3.Connection, table: str, source: str) -> tuple[str, str, str, tuple[Finding, ...]]:
    row = db.execute(
        "SELECT column_name, srs_id FROM gpkg_geometry_columns WHERE table_name = ? COLLATE NOCASE", (table,)
    ).fetchone()
    if row is None:
        raise _refused(f"Its layer {table!r} has no shapes.", source)
    column, number = str(row[0]), row[1]
    if number in {0, -1}:
        return column, "", "its srs_id says undefined", ()
    srs = db.execute(
        "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?",
        (number,),
    ).fetchone()
    if srs is None:
        return column, "", f"its srs_id {number} is not in its own table", ()
    organization, code, definition = srs
    known = str(organization).upper() == "EPSG" and isinstance(code, int)
    crs, findings = declared_crs(f"EPSG:{code}" if known else str(definition), part="srs table", source=source)
    return column, crs, "its srs table gives a local grid without a place on earth", findings


def _rows(db: sqlite3.Connection, table: str, source: str) -> tuple[list[str], list[tuple[Any, ...]]]:
    cursor = db.execute(f"SELECT * FROM {_quoted(table)}")  # noqa: S608 - names can't be parameters; quoted
    names = [str(one[0]) for one in cursor.description]
    rows: list[tuple[Any, ...]] = []
    held = 0
    while some_rows := cursor.fetchmany(_ROWS_AT_ONCE):
        held += sum(32 + (len(cell) if isinstance(cell, bytes | str) else 0) for row in some_rows for cell in row)
        if held > _MOST_BYTES:
            raise InputError(
                f"Its layer {table!r} holds more than {_MOST_BYTES / 1e6:,.0f} MB, and no more are read.",
                remedy="Save the part around the field as a layer of its own.",
                where=source,
            )
        rows += some_rows
    return names, rows


def _declared(db: sqlite3.Connection, table: str) -> dict[str, tuple[str, bool]]:
    """Return the declared type of each column in upper case, and whether it is the integer primary key."""
    rows = db.execute(f"PRAGMA table_info({_quoted(table)})").fetchall()
    keys = [row for row in rows if row[5]]
    return {
        str(row[1]).lower(): (str(row[2]).upper(), len(keys) == 1 and bool(row[5]) and "INT" in str(row[2]).upper())
        for row in rows
    }


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _split(
    names: list[str], rows: list[tuple[Any, ...]], geometry: str, declared: dict[str, tuple[str, bool]], source: str
) -> tuple[tuple[Any, ...] | None, dict[str, tuple[Any, ...]]]:
    """Return the primary key where there is one, and the other columns with the geometry under its given name."""
    cells = list(zip(*rows, strict=True)) if rows else [()] * len(names)
    key: tuple[Any, ...] | None = None
    columns: dict[str, tuple[Any, ...]] = {}
    for name, column in zip(names, cells, strict=True):
        if name.lower() == geometry.lower():
            columns[geometry] = column
        elif declared.get(name.lower(), ("", False))[1] and all(type(cell) is int for cell in column):
            key = column
        elif declared.get(name.lower(), ("", False))[0] != "BLOB":
            columns[name] = tuple(map(_cell, column))
    if geometry not in columns:
        raise _refused(f"Its column of shapes, {geometry!r}, is not there.", source)
    return key, columns


def _cell(value: Any) -> Cell:
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, bytes):
        return f"({len(value)} bytes)"
    return value if isinstance(value, int | float) else None


def _kind(declared: str, cells: tuple[Any, ...]) -> str:
    if any(word in declared for word in _NUMBERS):
        return "number"
    if declared:
        return "text"
    kinds = set(map(type, cells)) - {type(None)}
    return "number" if kinds and kinds <= {int, float} else "text"


def _shapes(
    blobs: tuple[Any, ...], key: tuple[Any, ...] | None, source: str
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    records = np.arange(1, len(blobs) + 1, dtype=np.int64) if key is None else np.array(key, dtype=np.int64)
    wkb = [_wkb(blob, int(record), source) for blob, record in zip(blobs, records, strict=True)]
    return shapes_of_wkb(wkb, records, source=source, remedy=_AGAIN), records


def _wkb(blob: Any, record: int, source: str) -> bytes | None:
    """Strip the header of a GeoPackage geometry: GP, version, flags, srs_id and an envelope."""
    if blob is None:
        return None
    envelope = (blob[3] >> 1) & 7 if isinstance(blob, bytes) and len(blob) > 8 else 7
    if envelope >= len(_ENVELOPE_BYTES) or not blob.startswith(b"GP"):
        raise _refused(f"The shape of feature {record} is no GeoPackage geometry.", source)
    return bytes(blob[8 + _ENVELOPE_BYTES[envelope] :])


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy=_AGAIN, where=source)
