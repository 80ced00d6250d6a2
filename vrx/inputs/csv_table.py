"""Tables in CSV as they are met: any separator, decimal comma, a units row, a byte order mark.

Source: RFC 4180 for quoting and line ends; everything else is common practice, no source.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from vrx.errors import InputError, Problems
from vrx.geo.crs import WGS84
from vrx.inputs.cells import read_numbers
from vrx.inputs.raw_layer import RawLayer, named_columns
from vrx.inputs.text_encoding import text_encoding
from vrx.model.finding import Finding
from vrx.model.layer import BadCell, Column, Layer, Numbers, Table
from vrx.words import some

_SEPARATORS: Final = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
# A first line by which spreadsheets are told the separator; its line end stays, so that lines are counted on.
_SAID: Final = re.compile(rf'\ufeff?"?sep=([{re.escape("".join(_SEPARATORS))}])"?(?=[\r\n])', re.IGNORECASE)
_LOOKED_AT: Final = 50
_BLANK: Final = ' \t\r\n"' + "".join(_SEPARATORS)
_UNIT: Final = re.compile(r"[(\[].*[)\]]")
# Without brackets only what is certain: a rate's unit, with nothing but dashes and the word itself beside it.
_BARE_UNIT: Final = re.compile(r"[^\W\d_][\w. -]*/ ?(?:ha|ac|acre)", re.IGNORECASE)
_BESIDE_UNITS: Final = re.compile(r"[-–—]+|units?:?", re.IGNORECASE)
_OWN_UNIT: Final = r"(?: ?[^\W\d_][^/]*/ ?\w+)?"  # a rate may carry its unit
_COMMA_NUMBER: Final = re.compile(rf"[+-]?[0-9]+,[0-9]+{_OWN_UNIT}")
_GROUPED: Final = re.compile(rf"[+-]?[1-9][0-9]{{0,2}},[0-9]{{3}}{_OWN_UNIT}")
_POINT_NUMBER: Final = re.compile(rf"[+-]?[0-9]*\.[0-9]+{_OWN_UNIT}")
_ANY_NUMBER: Final = re.compile(r"[+-]?[0-9]*[.,]?[0-9]+(?:[eE][+-]?[0-9]+)?")
_LONGITUDES: Final = ("lon", "long", "longitude", "lng", "lon_dd", "longitude_deg")
_LATITUDES: Final = ("lat", "latitude", "lat_dd", "latitude_deg")
_EASTINGS: Final = ("x", "easting", "east", "x_m", "easting_m")
_NORTHINGS: Final = ("y", "northing", "north", "y_m", "northing_m")
_DECIMAL_COMMA: Final = "decimal-comma"


@dataclass(frozen=True, slots=True)
class _Read:
    columns: dict[str, Column]
    lines: tuple[int, ...]
    decimal: str
    findings: tuple[Finding, ...]
    units: dict[str, str]


def read_csv(data: bytes, *, source: str) -> Table:
    """Read a table with a header line.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        Its name, as people are told it.

    Returns
    -------
    Table
        Cells are text as it stands; `decimal_of` tells the decimal mark that was found.

    Raises
    ------
    InputError
        Empty, no header, or lines with more cells than the header.
    """
    read = _read(data, source)
    return Table(source=source, columns=read.columns, findings=read.findings, units=read.units, lines=read.lines)


def read_csv_points(data: bytes, *, source: str) -> RawLayer:
    """Read a table with coordinates as points.

    Returns
    -------
    RawLayer
        Columns named longitude and latitude are WGS 84; x and y, or easting and northing, have no CRS. A line
        with both coordinates empty has no shape.

    Raises
    ------
    InputError
        No such columns, or coordinates that are no numbers, with their lines.
    """
    read = _read(data, source)
    x, y, geographic = _coordinate_columns(read.columns, source)
    numbers = [read_numbers(read.columns[name], decimal=read.decimal) for name in (x, y)]
    _check_coordinates(numbers, read.lines, source)
    points = np.column_stack([column.values for column in numbers])
    shapes = np.full(len(points), None, dtype=object)
    seen = np.isfinite(points).all(axis=1)
    shapes[seen] = shapely.points(points[seen])
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=read.columns,
        records=np.arange(1, len(points) + 1, dtype=np.int64),
        crs=WGS84 if geographic else "",
        by_standard=geographic,
        mend="give it columns named longitude and latitude",
        lacking=f"a table does not say where its columns {x!r} and {y!r} are counted from",
        findings=read.findings,
    )


def decimal_of(read: Table | Layer) -> str:
    """Return the decimal mark that was found in a table: ``,`` where its reader noticed one, else ``.``."""
    return "," if any(finding.id == _DECIMAL_COMMA for finding in read.findings) else "."


def _read(data: bytes, source: str) -> _Read:
    text, findings = _decoded(data, source)
    said = _SAID.match(text)
    if said:
        text = text[said.end() :]
    separator = said[1] if said else _separator(text)
    rows = _rows(text, separator, source) if text.strip(_BLANK) else []
    if not rows:
        raise _refused("The table is empty.", source, "It needs a header line and a line for each record.")
    (_, header), *body = rows
    if all(_ANY_NUMBER.fullmatch(name) for name in header):
        raise _refused(
            f"The first line, {separator.join(header)[:60]!r}, holds numbers, not the names of columns.",
            source,
            "Put a header line with a name for each column on top.",
        )
    while len(header) > 1 and not header[-1] and all(len(row) < len(header) or not row[-1] for _, row in body):
        header = header[:-1]  # a separator at the end of each line
        body = [(line, row[: len(header)]) for line, row in body]
    units: list[str] = []
    if body and _is_units_row(body[0][1]):
        findings.append(_units_row(body[0], source))
        units = [_without_brackets(cell) for cell in body[0][1]]
        body = body[1:]
    findings.extend(_check_widths(header, body, source))
    cells = [tuple(row[at] or None if at < len(row) else None for _, row in body) for at in range(len(header))]
    decimal = _decimal(cells) if separator != "," else "."
    findings.extend(_form(separator, decimal, source))
    columns, renamed = named_columns(header, ["text"] * len(header), cells, source)
    by_name = {name: unit for name, unit in zip(columns, units, strict=False) if unit}
    return _Read(columns, tuple(line for line, _ in body), decimal, (*findings, *renamed), by_name)


def _decoded(data: bytes, source: str) -> tuple[str, list[Finding]]:
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            try:
                return data.decode(encoding), []
            except UnicodeDecodeError:
                break
    encoding, finding = text_encoding(data.splitlines(), source=source)
    return data.decode(encoding, "replace"), [finding] if finding else []


def _separator(text: str) -> str:
    """Return the separator by which most lines have as many cells as the first one; a comma where nothing tells."""
    best, best_score = ",", (0.0, 0)
    head = "".join(text.splitlines(keepends=True)[: 2 * _LOOKED_AT])
    for separator in _SEPARATORS:
        try:
            rows = [row for _, row in _parsed(head, separator)][:_LOOKED_AT]
        except csv.Error:
            continue
        if not rows:
            continue
        same = sum(len(row) == len(rows[0]) for row in rows) / len(rows)
        # A header that is not split at all is no sign for a separator.
        score = (same if len(rows[0]) > 1 else same / 2, len(rows[0]))
        if score > best_score:
            best, best_score = separator, score
    return best


def _parsed(text: str, separator: str) -> list[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True)
    rows = ((reader.line_num, [cell.strip() for cell in row]) for row in reader)
    return [(line, row) for line, row in rows if any(row)]


def _rows(text: str, separator: str, source: str) -> list[tuple[int, list[str]]]:
    try:
        return _parsed(text, separator)
    except csv.Error as err:
        raise _refused(f"The table can't be read: {err}.", source, "Have it saved again as CSV.") from None


def _is_units_row(row: list[str]) -> bool:
    filled = [cell for cell in row if cell]
    unsure = [cell for cell in filled if not _UNIT.fullmatch(cell) and not _BESIDE_UNITS.fullmatch(cell)]
    if unsure:
        return all(_BARE_UNIT.fullmatch(cell) for cell in unsure)
    return any(_UNIT.fullmatch(cell) for cell in filled)


def _without_brackets(unit: str) -> str:
    if _BESIDE_UNITS.fullmatch(unit):
        return ""
    return unit[1:-1].strip() if _UNIT.fullmatch(unit) else unit


def _units_row(row: tuple[int, list[str]], source: str) -> Finding:
    line, units = row
    return Finding(
        id="units-row",
        severity="note",
        message=f"{source}: line {line} is a row of units ({', '.join(map(_without_brackets, units))}), not a record.",
    )


def _check_widths(header: list[str], body: list[tuple[int, list[str]]], source: str) -> list[Finding]:
    long = [(line, row) for line, row in body if any(row[len(header) :])]
    if long:
        raise Problems(
            InputError(
                f"There are {len(row)} cells under a header of {len(header)}.",
                remedy="Quote cells that hold the separator, or name every column.",
                where=f"{source}, line {line}",
            )
            for line, row in long[:20]
        )
    short = [line for line, row in body if len(row) < len(header)]
    if not short:
        return []
    message = f"{source}: line {some(short)} has fewer cells than the header; the missing ones are taken as empty."
    return [Finding(id="short-row", severity="note", message=message)]


def _decimal(cells: list[tuple[str | None, ...]]) -> str:
    filled = [cell for column in cells for cell in column if cell]
    if any(_POINT_NUMBER.fullmatch(cell) for cell in filled):
        return "."
    commas = (cell for cell in filled if "," in cell)
    return "," if any(_COMMA_NUMBER.fullmatch(cell) and not _GROUPED.fullmatch(cell) for cell in commas) else "."


def _form(separator: str, decimal: str, source: str) -> list[Finding]:
    findings = []
    if separator != ",":
        message = f"{source}: cells are separated by a {_SEPARATORS[separator]}."
        findings.append(Finding(id="separator", severity="note", message=message))
    if decimal == ",":
        message = f"{source}: numbers are written with a decimal comma, so 12,5 is read as 12.5."
        findings.append(Finding(id=_DECIMAL_COMMA, severity="note", message=message))
    return findings


def _coordinate_columns(columns: Mapping[str, Column], source: str) -> tuple[str, str, bool]:
    by_name = {name.strip().casefold(): name for name in reversed(list(columns))}
    for first, second, geographic in ((_LONGITUDES, _LATITUDES, True), (_EASTINGS, _NORTHINGS, False)):
        x = [by_name[name] for name in first if name in by_name]
        y = [by_name[name] for name in second if name in by_name]
        if x and y:
            return x[0], y[0], geographic
    raise _refused(
        f"No columns of coordinates are found among {', '.join(map(repr, list(columns)[:12]))}.",
        source,
        "Name them longitude and latitude (WGS 84, degrees), or easting and northing (with crs in the plan).",
    )


def _check_coordinates(numbers: list[Numbers], lines: tuple[int, ...], source: str) -> None:
    x, y = ({cell.index: cell for cell in column.bad} for column in numbers)
    both_empty = {at for at in x.keys() & y.keys() if x[at].kind == y[at].kind == "empty"}
    wrong: list[tuple[int, str, BadCell]] = [
        (cell.index, column.name, cell) for column in numbers for cell in column.bad if cell.index not in both_empty
    ]
    if wrong:
        raise Problems(
            InputError(
                f"{name} is {cell.text!r}, which is no coordinate ({cell.kind})."
                if cell.text
                else f"{name} is empty, while the other coordinate is not.",
                remedy="Write the coordinate as a number, or leave both cells empty.",
                where=f"{source}, line {lines[index]}",
            )
            for index, name, cell in sorted(wrong, key=lambda one: one[0])[:20]
        )


def _refused(problem: str, source: str, remedy: str) -> InputError:
    return InputError(problem, remedy=remedy, where=source)
