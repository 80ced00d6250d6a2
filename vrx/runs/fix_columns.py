"""Columns of a mended map: the rates under a name that loads, and whatever else the format can hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np
from numpy.typing import NDArray

from vrx.exports.limits import GEOPACKAGE_COLUMNS
from vrx.exports.names import column_name, column_names
from vrx.exports.shapefile import MOST_TEXT_BYTES
from vrx.inputs.cells import name_text
from vrx.inputs.rate_column import unit_in_name
from vrx.model.checked_map import CheckedMap
from vrx.model.layer import Cell, Column
from vrx.model.receiver import Format
from vrx.model.sheet import TextColumn
from vrx.units import Unit
from vrx.words import some

_MOST_COLUMNS: Final = 254  # of a shapefile, beside the rates
_LONGEST_NUMBER: Final = 24
RATE: Final = "RATE"


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The name of the rates, and the other columns, a cell for each shape."""

    rate: str
    others: tuple[TextColumn, ...]
    changes: tuple[str, ...]
    left: tuple[str, ...]


def columns_of(
    on: CheckedMap, form: Format, owner: NDArray[np.int64], *, unit: Unit | None, stated_hold: bool
) -> Columns:
    """Name the columns of a mended map, and lay out those that hold no rates.

    Parameters
    ----------
    owner : int64 array, shape (n_shapes,)
        Position of the record that each shape is of.
    unit : Unit, optional
        Of the rates as they are written.
    stated_hold : bool
        Areas that the map states are still those of its shapes; else such columns are left out.
    """
    rate = on.the_rates.column
    wanted = rate if unit == on.the_rates.unit or _may_be_called(rate, unit, on) else RATE
    stale = [name for name in on.stated_areas if not stated_hold and name != rate]
    kept = {name: one for name, one in on.the_layer.columns.items() if name not in {rate, *stale}}
    laid = {name: _laid_out(one, owner) for name, one in kept.items()}
    unfit = [name for name, one in laid.items() if form == "shapefile" and _widest(one) > MOST_TEXT_BYTES]
    laid = {name: one for name, one in laid.items() if name not in unfit}
    unfit += list(laid)[_MOST_COLUMNS:] if form == "shapefile" else []
    laid = {name: one for name, one in laid.items() if name not in unfit}
    names = _names([wanted, *laid], form)
    if names[0] != wanted and not _may_be_called(names[0], unit, on):
        names = _names([RATE, *laid], form)
    renamed = [f"{was} as {now}" for was, now in zip([rate, *laid], names, strict=True) if was != now]
    others = zip(laid.values(), names[1:], strict=True)
    return Columns(
        rate=names[0],
        others=tuple(TextColumn(name=name, kind=one.kind, cells=one.cells) for one, name in others),
        changes=(
            *([f"Column names that load: {some(renamed)}."] if renamed else []),
            *([f"Left out, since areas changed: {some(stale)}."] if stale else []),
            *([f"Left out, since a shapefile can't hold them: {some(unfit)}."] if unfit else []),
        ),
        left=(),
    )


def _may_be_called(name: str, unit: Unit | None, on: CheckedMap) -> bool:
    """Tell whether a name tells no other unit than the one that is written: people and displays go by it.

    ``rate_lb_ac``, which ``rate_lb_N_ac`` becomes where it is shortened, is another rate.
    """
    return unit_in_name(name, on.dialect) in (None, unit)


def _names(wanted: Sequence[str], form: Format) -> tuple[str, ...]:
    if form == "shapefile":
        return column_names(wanted)
    taken: list[str] = list(GEOPACKAGE_COLUMNS) if form == "geopackage" else []
    names: list[str] = []
    for name in wanted:
        lower = {one.lower() for one in (*taken, *names)}
        names.append(column_name(name, (*taken, *names)) if not name or name.lower() in lower else name)
    return tuple(names)


def _laid_out(column: Column, owner: NDArray[np.int64]) -> TextColumn:
    text = _number if column.kind == "number" else _text
    cells = [text(cell) for cell in column.cells]
    kind = column.kind
    if kind == "number" and not all(cell is None or _is_number(cell) for cell in cells):
        kind = "text"
        cells = [_text(cell) for cell in column.cells]
    return TextColumn(name=column.name, kind=kind, cells=tuple(cells[at] for at in owner.tolist()))


def _number(cell: Cell) -> str | None:
    """Return a number in plain decimals, without zeros behind them that say nothing."""
    return name_text(cell) or None


def _text(cell: Cell) -> str | None:
    if cell is None or isinstance(cell, str):
        return (cell or "").strip() or None
    return name_text(cell) or None


def _is_number(text: str) -> bool:
    if len(text) > _LONGEST_NUMBER or not set(text) <= set("0123456789.-"):
        return False
    try:
        return Decimal(text).is_finite()
    except ArithmeticError:
        return False


def _widest(column: TextColumn) -> int:
    return max((len((cell or "").encode()) for cell in column.cells), default=0)
