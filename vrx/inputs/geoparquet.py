"""GeoParquet: a table in columns, with well-known binary shapes; read by pyarrow where it is installed.

Source: [GeoParquet1.1]_: the ``geo`` metadata, its CRS and encodings.
"""

from __future__ import annotations

import datetime as dt
import decimal
import json
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from vrx.errors import CrsError, InputError
from vrx.geo.crs import WGS84
from vrx.inputs.cells import short_number
from vrx.inputs.crs_text import declared_crs
from vrx.inputs.raw_layer import RawLayer, named_columns
from vrx.inputs.wkb import shapes_of_wkb
from vrx.model.finding import Finding
from vrx.model.layer import Cell

if TYPE_CHECKING:
    import pyarrow as pa
    import pyarrow.parquet as pq

_MOST_ROWS: Final = 5_000_000
_MOST_BYTES: Final = 2**31
_AGAIN: Final = "Have it saved or sent again as GeoParquet, with its shapes in WKB."
_REALS: Final[dict[int, type[np.floating[Any]]]] = {16: np.float16, 32: np.float32}
_INDEX: Final = "__index_level_"  # a data frame's index, written beside its columns
_CRS84: Final = "OGC:CRS84"


def read_geoparquet(data: bytes, *, source: str) -> RawLayer:
    """Read a GeoParquet file, by its primary column of shapes.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        Its name, as people are told it.

    Returns
    -------
    RawLayer
        WGS 84 where the metadata say nothing of a CRS, as the standard has it; none where they say that it is unknown.
        Null and NaN are empty cells. Other columns of shapes, a row's bounds and a written index are left out.

    Raises
    ------
    InputError
        pyarrow is not installed; no GeoParquet, damaged, too large, or shapes in another encoding.
    CrsError
        A CRS that can't be read.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415 - an extra, and slow to load
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError:
        raise InputError(
            "GeoParquet is read with pyarrow, which is not installed.",
            remedy="Install it with: pip install 'vrx[parquet]' - or have the layer saved as a GeoPackage.",
            where=source,
        ) from None
    try:
        file = pq.ParquetFile(pa.BufferReader(data))
        _check_size(file.metadata, source)
        geo = _geo(file.schema_arrow.metadata, source)
        name, column = _primary(geo, source)
        if file.schema_arrow.names.count(name) != 1:
            raise _refused(f"Its column of shapes, {name!r}, is not there.", source)
        left_out = {*geo["columns"], *_bounds(column)}
        table = _read_once_each(data, file.schema_arrow)
        wkb = _values(table.column(name))
        _check_cells(wkb, source)
        names = table.column_names
        kept = [at for at, one in enumerate(names) if one not in left_out and not one.startswith(_INDEX)]
        columns, renamed = named_columns(
            [names[at] for at in kept],
            [_kind(table.schema.field(at).type) for at in kept],
            [_cells(table.column(at), source) for at in kept],
            source,
        )
    except (pa.ArrowException, OSError, ValueError, OverflowError, ArithmeticError, MemoryError) as err:
        said = " ".join(str(err).split())[:120] or type(err).__name__
        raise _refused(f"The Parquet file can't be read: {said.rstrip('.')}.", source) from None
    if not all(one is None or isinstance(one, bytes) for one in wkb):
        raise _refused(f"Its column of shapes, {name!r}, holds no well-known binary.", source)
    crs, by_standard, found = _crs(column, source)
    records = np.arange(1, len(wkb) + 1, dtype=np.int64)
    return RawLayer(
        source=source,
        shapes=shapes_of_wkb(wkb, records, source=source, remedy=_AGAIN),
        columns=columns,
        records=records,
        crs=crs,
        lacking="its geo metadata say that it is not known",
        mend="set its CRS in the program that made it",
        by_standard=by_standard,
        findings=(*found, *renamed),
    )


def _check_size(metadata: pq.FileMetaData, source: str) -> None:
    size = sum(metadata.row_group(at).total_byte_size for at in range(metadata.num_row_groups))
    if metadata.num_rows > _MOST_ROWS or size > _MOST_BYTES:
        raise InputError(
            f"It has {metadata.num_rows} rows of {size / 1e6:.0f} MB in all, more than a map takes "
            f"({_MOST_ROWS} rows, {_MOST_BYTES / 1e6:.0f} MB).",
            remedy="Save the part around the field as a layer of its own.",
            where=source,
        )


def _read_once_each(data: bytes, schema: pa.Schema) -> pa.Table:
    """Read a table whose texts and shapes stand in memory once each, however many rows share them."""
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415
    from pyarrow import types  # noqa: PLC0415

    long = [one.name for one in schema if types.is_string(one.type) or types.is_binary(one.type)]
    return pq.ParquetFile(pa.BufferReader(data), read_dictionary=long).read(use_threads=False)


def _values(column: pa.ChunkedArray) -> list[Any]:
    """Return the values of a column; rows that share one have the same object."""
    from pyarrow import types  # noqa: PLC0415

    if not types.is_dictionary(column.type):
        found: list[Any] = column.to_pylist()
        return found
    values: list[Any] = []
    for chunk in column.chunks:
        known = chunk.dictionary.to_pylist()
        values += [None if at is None else known[at] for at in chunk.indices.to_pylist()]
    return values


def _check_cells(values: list[Any], source: str) -> None:
    size = sum(len(one) for one in values if isinstance(one, bytes | str))
    if size > _MOST_BYTES // 4:
        raise InputError(
            f"A column of it holds {size / 1e6:,.0f} MB, more than a map takes ({_MOST_BYTES / 4e6:,.0f} MB).",
            remedy="Save the part around the field as a layer of its own.",
            where=source,
        )


def _geo(metadata: dict[bytes, bytes] | None, source: str) -> dict[str, Any]:
    text = (metadata or {}).get(b"geo")
    if text is None:
        raise _refused("This is Parquet, but no GeoParquet: it has no geo metadata.", source)
    try:
        geo = json.loads(text)
    except (ValueError, RecursionError):
        geo = None
    columns = geo.get("columns") if isinstance(geo, dict) else None
    if not isinstance(columns, dict) or not all(isinstance(one, dict) for one in columns.values()):
        raise _refused("Its geo metadata can't be read.", source)
    return dict(geo)


def _primary(geo: dict[str, Any], source: str) -> tuple[str, dict[str, Any]]:
    name = geo.get("primary_column")
    if not isinstance(name, str) or name not in geo["columns"]:
        raise _refused("Its geo metadata name no primary column of shapes.", source)
    column = geo["columns"][name]
    encoding = column.get("encoding")
    if encoding != "WKB":
        raise _refused(f"Its shapes are in the encoding {str(encoding)[:40]!r}; WKB is read.", source)
    return name, column


def _bounds(column: dict[str, Any]) -> set[str]:
    """Return the columns that only repeat each shape's bounds."""
    covering = column.get("covering")
    bbox = covering.get("bbox") if isinstance(covering, dict) else None
    paths = bbox.values() if isinstance(bbox, dict) else ()
    return {path[0] for path in paths if isinstance(path, list) and path and isinstance(path[0], str)}


def _crs(column: dict[str, Any], source: str) -> tuple[str, bool, tuple[Finding, ...]]:
    """Return the CRS, whether it is the standard's and not the file's own, and what to say about it."""
    if "crs" not in column:
        return WGS84, True, ()
    said = column["crs"]
    if said is None:
        return "", False, ()
    known = said.get("id") if isinstance(said, dict) else None
    if isinstance(known, dict) and f"{known.get('authority')}:{known.get('code')}" == _CRS84:
        return WGS84, False, ()
    if not isinstance(said, dict | str):
        raise CrsError("The CRS in its geo metadata can't be read.", remedy=_AGAIN, where=source)
    text = said if isinstance(said, str) else json.dumps(said)
    crs, findings = declared_crs(text, part="geo metadata", source=source)
    return crs, False, findings


def _kind(kind: pa.DataType) -> str:
    from pyarrow import types  # noqa: PLC0415

    number = types.is_integer(kind) or types.is_floating(kind) or types.is_decimal(kind)
    return "number" if number else "text"


def _cells(column: pa.ChunkedArray, source: str) -> tuple[Cell, ...]:
    from pyarrow import types  # noqa: PLC0415

    values = _values(column)
    _check_cells(values, source)
    if types.is_floating(column.type):
        real = _REALS.get(column.type.bit_width, np.float64)
        return tuple(None if value is None else short_number(real(value)) for value in values)
    return tuple(map(_cell, values))


def _cell(value: Any) -> Cell:
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, bytes):
        return f"({len(value)} bytes)"
    if isinstance(value, decimal.Decimal):
        return str(value)  # as it is written: no digit is lost
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return json.dumps(value, default=str, ensure_ascii=False)


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy=_AGAIN, where=source)
