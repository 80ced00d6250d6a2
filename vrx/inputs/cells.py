"""Cells as numbers and as words: strict, so that nothing is read as a number that a person would doubt."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from vrx.model.layer import BadCell, Cell, Column, Numbers
from vrx.words import visible

NO_DATA_CODES: Final = (-999.0, -9999.0, -99999.0, -999999.0, -32768.0, -2147483648.0)
"""Numbers that stand for "no data" in the files of the trade (common practice, no source).

Anything beyond +-1e30 counts too: the lowest and highest 32-bit floats are written for it.
"""

BEYOND: Final = 1e30
_LONGEST_NAME: Final = 30

_NUMBER: Final = {
    ".": re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"),
    ",": re.compile(r"[+-]?(?:[0-9]+,?[0-9]*|,[0-9]+)(?:[eE][+-]?[0-9]+)?"),
}
# One group of thousands: 1,250 is 1250 to some and 1.25 to others, whatever the mark said. 0,250 is not: no
# group starts with 0. A point is doubtful only where the comma was declared as the decimal mark.
_TWO_READINGS: Final = {
    ".": re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}"),
    ",": re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}"),
}

_Kind = Literal["empty", "not-a-number", "no-data-code", "two-readings"]


def cell_text(cell: Cell) -> str:
    r"""Return a cell as people are told it: ``12`` for 12.0, ``-9999`` for -9999.0, nothing for an empty one.

    What a terminal would act on and nobody sees, such as a line end, is spelled out.

    Examples
    --------
    >>> [cell_text(cell) for cell in (12.0, 0.1, -9999, "12,5 ", True, None)]
    ['12', '0.1', '-9999', '12,5', 'true', '']
    >>> print(cell_text("wet\nspot"))
    wet\nspot
    """
    if cell is None:
        return ""
    if isinstance(cell, str):
        return visible(cell.strip())
    if isinstance(cell, bool):
        return json.dumps(cell)
    if isinstance(cell, float):
        return repr(cell).removesuffix(".0")
    # numbers of any length, where str() would refuse
    return str(cell) if abs(cell) < 10**4000 else f"{cell:#x}"[:40]


def name_text(cell: Cell) -> str:
    """Return a cell of a number column as a name: ``1`` for ``1.000`` and ``1.0e+000``, whatever wrote it.

    Examples
    --------
    >>> [name_text(cell) for cell in ("1.00000000000", "1.50", 2.0, "2,5", None)]
    ['1', '1.5', '2', '2,5', '']
    """
    text = cell_text(cell)
    if not _NUMBER["."].fullmatch(text):
        return text
    number = Decimal(text)
    # Beyond these it is no name, and writing it out would be long.
    if abs(number.adjusted()) > _LONGEST_NAME:
        return text
    plain = f"{number:f}"
    return (plain.rstrip("0").rstrip(".") if "." in plain else plain).removeprefix("+") if number else "0"


def short_number(value: float | np.floating[Any]) -> Cell:
    """Return a binary number as the shortest decimal that it stands for; no cell for NaN, which stands for none.

    A 32-bit 12.7 is 12.699999809265137 in full, which would be 12.6 where a product's steps are rounded down.

    Examples
    --------
    >>> [short_number(value) for value in (np.float32(12.7), 12.7, np.float32("nan"), np.float32("inf"))]
    [12.7, 12.7, None, 'inf']
    """
    if np.isnan(value):
        return None
    return float(str(value)) if np.isfinite(value) else str(value)


def read_numbers(column: Column, *, decimal: str = ".") -> Numbers:
    """Read a column as numbers and list every cell that holds none.

    Parameters
    ----------
    column : Column
    decimal : {".", ","}
        The decimal mark of numbers written as text; cells that are numbers already are not concerned. In a
        number field the point is read as well, since that is the mark of its format.

    Returns
    -------
    Numbers
        Zero is a number; NaN stands where there is none. A cell is ``empty``, ``not-a-number`` (``NULL``,
        ``1.#QNAN``, ``12 gal``, ``12,5`` where the mark is a point, true, NaN, infinity), ``no-data-code``
        (see `NO_DATA_CODES`) or of ``two-readings`` (``1,250``).

    Examples
    --------
    >>> from vrx.model.layer import Column
    >>> found = read_numbers(Column(name="rate", kind="text", cells=("0", "12.5 ", "1,250", "-9999", None)))
    >>> found.values.tolist(), [cell.kind for cell in found.bad]
    ([0.0, 12.5, nan, nan, nan], ['two-readings', 'no-data-code', 'empty'])
    """
    if decimal not in _NUMBER:
        raise ValueError(f"decimal is {decimal!r}, not '.' or ','")
    values, bad = _parsed(column.cells, decimal)
    if decimal == "," and column.kind == "number":
        _read_points(column.cells, values, bad)
    code = np.isin(values, NO_DATA_CODES) | (np.abs(values) >= BEYOND)
    for index in np.flatnonzero(code & np.isfinite(values)).tolist():
        bad[index] = "no-data-code"
    values[list(bad)] = np.nan
    cells = tuple(BadCell(index=at, text=cell_text(column.cells[at]), kind=bad[at]) for at in sorted(bad))
    return Numbers(name=column.name, values=values, bad=cells)


def _parsed(cells: tuple[Cell, ...], decimal: str) -> tuple[NDArray[np.float64], dict[int, _Kind]]:
    bad: dict[int, _Kind] = {}
    if set(map(type, cells)) <= {int, float}:
        try:
            values = np.array(cells, dtype=np.float64)
        except OverflowError:  # an integer beyond 1e308
            values = np.array([_to_float(cell, at, bad, decimal) for at, cell in enumerate(cells)], dtype=np.float64)
    else:
        values = np.array([_to_float(cell, at, bad, decimal) for at, cell in enumerate(cells)], dtype=np.float64)
    for index in np.flatnonzero(~np.isfinite(values)).tolist():
        bad.setdefault(index, "not-a-number")
    return values, bad


def _read_points(cells: tuple[Cell, ...], values: NDArray[np.float64], bad: dict[int, _Kind]) -> None:
    """Read the cells of a number field that are written with a point: that is how its format writes numbers."""
    for index in list(bad):
        cell = cells[index]
        text = cell.strip() if isinstance(cell, str) else ""
        if "," not in text and _NUMBER["."].fullmatch(text):
            values[index] = float(text)
            if np.isfinite(values[index]):
                del bad[index]


def _to_float(cell: Cell, at: int, bad: dict[int, _Kind], decimal: str) -> float:
    if isinstance(cell, str):
        text = cell.strip()
        if _TWO_READINGS[decimal].fullmatch(text):
            bad[at] = "two-readings"
        elif _NUMBER[decimal].fullmatch(text):
            return float(text if decimal == "." else text.replace(",", "."))
        else:
            bad[at] = "not-a-number" if text else "empty"
    elif cell is None:
        bad[at] = "empty"
    elif not isinstance(cell, bool):
        try:
            return float(cell)
        except OverflowError:
            pass
    return np.nan
