"""The attribute table of a shapefile, cell by cell as it stands.

Source: the dBASE III table format, as the ESRI Shapefile Technical Description (July 1998) uses it.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

import numpy as np

from vrx.errors import InputError
from vrx.inputs.raw_layer import named_columns
from vrx.inputs.text_encoding import LANGUAGE_DRIVERS, named_encoding, text_encoding
from vrx.model.finding import Finding
from vrx.model.layer import Cell, Column
from vrx.words import some

_PADDING: Final = " \t\r\n\0"
_BINARY: Final = {("I", 4): "<i4", ("B", 8): "<f8"}


@dataclass(frozen=True, slots=True, kw_only=True)
class DbfTable:
    """A table with all its records, the deleted ones too.

    Attributes
    ----------
    columns : dict of str to Column
    count : int
        Number of records.
    deleted : tuple of int
        Places of the deleted records, from 0.
    findings : tuple of Finding
    """

    columns: dict[str, Column]
    count: int
    deleted: tuple[int, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Slot:
    name: bytes
    type: str
    start: int
    width: int


def read_dbf(data: bytes, *, source: str, cpg: bytes | None = None, expected: int | None = None) -> DbfTable:
    """Read a ``.dbf`` file.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        Its name, as people are told it.
    cpg : bytes, optional
        The ``.cpg`` file beside it.
    expected : int, optional
        Number of shapes: tells which count holds where header and size disagree.

    Returns
    -------
    DbfTable
        Cells of number fields are text as it stands; blank cells, and those filled with ``*``, are None.

    Raises
    ------
    InputError
        It is no such table, damaged or cut short.
    """
    if len(data) < 33:
        raise _refused("The .dbf is too short for a table.", source)
    header_length, record_length = struct.unpack_from("<HH", data, 8)
    slots = _slots(data, header_length, record_length, source)
    count, findings = _count(data, header_length, record_length, expected, source)
    block = np.frombuffer(data, np.uint8, count * record_length, header_length).reshape(count, record_length)
    deleted = _deleted(block, source)
    texts = [block[:, slot.start : slot.start + slot.width].tobytes() for slot in slots]
    encoding, finding = text_encoding(
        [*_odd_cells(slots, texts), *(slot.name for slot in slots)],
        source=source,
        declared=named_encoding(cpg.decode("latin-1")) if cpg else "",
        driver=LANGUAGE_DRIVERS.get(data[29], ""),
    )
    columns, renamed = named_columns(
        [slot.name.decode(encoding, "replace").strip(_PADDING) for slot in slots],
        ["number" if slot.type in "NFIBO" else "text" for slot in slots],
        [_cells(slot, text, count, encoding) for slot, text in zip(slots, texts, strict=True)],
        source,
    )
    return DbfTable(
        columns=columns,
        count=count,
        deleted=deleted,
        findings=(*findings, *renamed, *([finding] if finding else [])),
    )


def _slots(data: bytes, header_length: int, record_length: int, source: str) -> list[_Slot]:
    slots, start, at = [], 1, 32
    while at + 32 <= min(header_length, len(data)) and data[at] != 0x0D:
        width, decimals = data[at + 16], data[at + 17]
        kind = chr(data[at + 11])
        # A text field wider than 255 keeps the rest of its width where numbers keep their decimals.
        width += 256 * decimals if kind == "C" else 0
        slots.append(_Slot(data[at : at + 11].split(b"\0", 1)[0], kind, start, width))
        start += width
        at += 32
    if not slots or start > record_length or header_length > len(data):
        raise _refused(
            f"The header of the .dbf is damaged or not of dBASE III: {len(slots)} fields take {start} bytes "
            f"in records of {record_length}.",
            source,
        )
    return slots


def _count(
    data: bytes, header_length: int, record_length: int, expected: int | None, source: str
) -> tuple[int, list[Finding]]:
    (stated,) = struct.unpack_from("<I", data, 4)
    there, rest = divmod(len(data) - header_length, record_length)
    tail = data[len(data) - rest :] if rest else b""
    if stated == there:
        return stated, []
    end = header_length + stated * record_length
    if stated < there and (expected == stated or data[end : end + 1] == b"\x1a"):
        return stated, []  # something after the end mark
    if tail in {b"", b"\x1a"} and expected in {None, there}:
        finding = Finding(
            id="record-count",
            severity="note",
            message=f"{source}: the header says {stated} records, the file holds {there}; these {there} are read.",
        )
        return there, [finding]
    raise _refused(
        f"The header of the .dbf says {stated} records of {record_length} bytes, but the file holds {there}"
        f"{' and a part of one' if rest > 1 else ''}: it is cut short or damaged.",
        source,
    )


def _deleted(block: np.ndarray[tuple[int, int], np.dtype[np.uint8]], source: str) -> tuple[int, ...]:
    flags = block[:, 0]
    odd = np.flatnonzero((flags != 0x20) & (flags != 0x2A) & (flags != 0))
    if len(odd):
        raise _refused(
            f"Record {some((odd[:1] + 1).tolist())} of the .dbf does not start where a record should.", source
        )
    return tuple(np.flatnonzero(flags == 0x2A).tolist())


def _odd_cells(slots: list[_Slot], texts: list[bytes]) -> list[bytes]:
    found: list[bytes] = []
    for slot, text in zip(slots, texts, strict=True):
        if slot.width and (slot.type, slot.width) not in _BINARY and not text.isascii():
            parts = (text[at : at + slot.width] for at in range(0, len(text), slot.width))
            found.extend(part.rstrip(b" \0") for part in parts if not part.isascii())
    return found


def _cells(slot: _Slot, raw: bytes, count: int, encoding: str) -> tuple[Cell, ...]:
    width = slot.width
    if (slot.type, width) in _BINARY:
        return tuple(np.frombuffer(raw, _BINARY[slot.type, width]).tolist())
    if not width:
        return (None,) * count
    if raw.isascii():
        whole = raw.decode("ascii")
        cells = [whole[at : at + width].strip(_PADDING) for at in range(0, len(whole), width)]
    else:
        parts = (raw[at : at + width] for at in range(0, len(raw), width))
        # A letter cut in two at the end of its field is dropped; a byte that Windows-1252 lacks stays in sight.
        errors = "replace" if encoding == "cp1252" else "ignore"
        cells = [part.rstrip(b" \0").decode(encoding, errors).strip(_PADDING) for part in parts]
    if slot.type in "NF":
        return tuple(cell if cell.strip("*") else None for cell in cells)
    if b"\0" in raw:  # what follows a NUL in a text is left over from an older one
        cells = [cell.split("\0", 1)[0].strip(_PADDING) for cell in cells]
    return tuple(None if cell == "" or (slot.type == "L" and cell == "?") else cell for cell in cells)


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy="Have the shapefile saved or sent again.", where=source)
