"""Rates by zone from a table: which column names the zone, which holds the rate, and in which unit."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from vrx.errors import InputError, Problems, UnitError, VrxError
from vrx.inputs.cells import cell_text, read_numbers
from vrx.model.keys import RATE_KINDS
from vrx.model.layer import Column, Table
from vrx.units import Dialect, Measure, parse_measure, parse_unit


def rates_by_zone(
    table: Table, *, name: str, column: str, unit: str, decimal: str, dialect: Dialect
) -> Mapping[str, Measure]:
    """Read a rate for each zone.

    Parameters
    ----------
    name : str
        Name of the zone layer's naming field: a column of that name (or ``zone``), else the first, names the zone.
    column : str
        The column of rates; empty where only one other column is there.
    unit : str
        Unit of rates written as bare numbers; empty where each cell carries its own.

    Raises
    ------
    InputError
        Several columns could be meant; a zone is there twice; a cell that is no rate. All of them at once.
    """
    zones = _zone_column(table, name)
    rates = _rate_column(table, zones, column)
    read = _with_unit(rates, unit, decimal, dialect, table) if unit else _with_units(rates, dialect, table)
    found: dict[str, Measure] = {}
    errors: list[VrxError] = []
    for row, (cell, rate) in enumerate(zip(zones.cells, read, strict=True), start=1):
        zone = cell_text(cell)
        if isinstance(rate, VrxError):
            errors.append(rate)
        elif rate is None:  # an empty cell: a zone without a rate
            continue
        elif not zone:
            errors.append(InputError(f"Row {row} has a rate and no zone.", where=table.source))
        elif zone in found and found[zone] != rate:
            errors.append(
                InputError(
                    f"Zone {zone!r} is there twice, with {found[zone]} and {rate}.",
                    remedy="Keep one row a zone.",
                    where=table.source,
                )
            )
        else:
            found[zone] = rate
    if errors:
        raise Problems(errors)
    return found


def _zone_column(table: Table, name: str) -> Column:
    columns = list(table.columns.values())
    if len(columns) < 2:
        raise InputError(
            f"The table has {len(columns)} column(s); a zone and a rate are needed.",
            remedy="Write a header such as zone,rate and a row a zone.",
            where=table.source,
        )
    wanted = [name.casefold(), "zone"] if name else ["zone"]
    for word in wanted:
        for column in columns:
            if column.name.strip().casefold() == word:
                return column
    return columns[0]


def _rate_column(table: Table, zones: Column, wanted: str) -> Column:
    others = [column for column in table.columns.values() if column is not zones]
    if wanted:
        named = [column for column in others if column.name == wanted]
        if named:
            return named[0]
        problem = f"The table has no column {wanted!r}."
    elif len(others) == 1:
        return others[0]
    else:
        problem = f"Several columns could hold the rate: {', '.join(column.name for column in others)}."
    raise InputError(
        problem,
        remedy=f"Name one with column = in [[rate]]: {', '.join(column.name for column in others)}.",
        where=table.source,
    )


def _with_unit(
    rates: Column, unit: str, decimal: str, dialect: Dialect, table: Table
) -> list[Measure | VrxError | None]:
    parsed = parse_unit(unit, dialect)
    numbers = read_numbers(rates, decimal=decimal)
    wrong = {bad.index: bad for bad in numbers.bad}
    read: list[Measure | VrxError | None] = []
    for row, value in enumerate(numbers.values.tolist()):
        bad = wrong.get(row)
        if bad is None:
            read.append(Measure(Fraction(str(value)), parsed))
        elif bad.kind == "empty":
            read.append(None)
        else:
            read.append(
                InputError(
                    f"Row {row + 1} of {rates.name} holds {bad.text!r}: {bad.kind.replace('-', ' ')}.",
                    remedy=f"Write a number in {unit}.",
                    where=table.source,
                )
            )
    return read


def _with_units(rates: Column, dialect: Dialect, table: Table) -> list[Measure | VrxError | None]:
    read: list[Measure | VrxError | None] = []
    for row, cell in enumerate(rates.cells, start=1):
        text = cell_text(cell)
        try:
            read.append(parse_measure(text, kinds=RATE_KINDS, dialect=dialect) if text else None)
        except UnitError as err:
            remedy = f"{err.remedy} Or give the unit of the whole column with unit = in [[rate]]."
            read.append(InputError(f"Row {row} of {rates.name}: {err.problem}", remedy=remedy, where=table.source))
    return read
