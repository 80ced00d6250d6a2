"""Rates by zone from a table: which column names the zone, which holds the rate, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from vrx.errors import InputError, Problems, UnitError, VrxError
from vrx.inputs.cells import cell_text, name_text, read_numbers
from vrx.inputs.csv_table import decimal_of
from vrx.model.layer import Column, Table
from vrx.units import RATE_KINDS, Dialect, Measure, parse_measure, parse_unit
from vrx.words import nearest

_TWO_READINGS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")  # 1,250 kg/ha: which, nobody knows


def rates_by_zone(
    table: Table, *, name: str, numbered: bool, column: str, unit: str, dialect: Dialect
) -> Mapping[str, Measure]:
    """Read a rate for each zone.

    Parameters
    ----------
    name : str
        Name of the zone layer's naming field: a column of that name (or ``zone``), else the first, names the zone.
    numbered : bool
        Zones are named by numbers: ``1.0`` is zone ``1``.
    column : str
        The column of rates; empty where only one other column is there.
    unit : str
        Unit of rates written as bare numbers; empty where each cell carries its own, or a row of units says it.

    Raises
    ------
    InputError
        Several columns could be meant; a row of units says another unit; a zone is there twice; a cell that is no
        rate. All of them at once.
    """
    zones = _zone_column(table, name)
    rates = _rate_column(table, zones, column)
    whole = _unit_of(table, rates, unit, dialect)
    read = _with_unit(rates, whole, dialect, table) if whole else _with_units(rates, dialect, table)
    text_of = name_text if numbered else cell_text
    found: dict[str, Measure] = {}
    errors: list[VrxError] = []
    for row, (cell, rate) in enumerate(zip(zones.cells, read, strict=True)):
        zone = text_of(cell)
        if isinstance(rate, VrxError):
            errors.append(rate)
        elif rate is None:  # an empty cell: a zone without a rate
            continue
        elif not zone:
            errors.append(
                InputError(
                    f"{rate} stands beside no zone.",
                    remedy=f"Name the zone in the column {zones.name}, or delete the row.",
                    where=_place(table, row),
                )
            )
        elif zone in found and found[zone] != rate:
            errors.append(
                InputError(
                    f"Zone {zone!r} is there twice, with {found[zone]} and {rate}.",
                    remedy="Keep one row a zone.",
                    where=_place(table, row),
                )
            )
        else:
            found[zone] = rate
    if errors:
        raise Problems(errors)
    return found


def _unit_of(table: Table, rates: Column, unit: str, dialect: Dialect) -> str:
    """Return the unit of bare numbers: what the plan says, else a row of units; both have to agree.

    What stands in that row need not be a unit; what is read in two ways is left to the plan.
    """
    row = table.units.get(rates.name, "")
    try:
        said = parse_unit(row, dialect)
    except UnitError:
        return unit
    if not unit:
        return row if said.kind in RATE_KINDS else ""
    meant = parse_unit(unit, dialect)
    if (said.kind, said.of, said.factor) != (meant.kind, meant.of, meant.factor):
        raise InputError(
            f"The row of units says that {rates.name} is in {row}, and the plan says unit = {unit!r}.",
            remedy="Correct the one that is wrong, or take it out.",
            where=table.source,
        )
    return unit


def _place(table: Table, row: int) -> str:
    return f"{table.source}, line {table.lines[row]}" if table.lines else f"{table.source}, row {row + 1}"


def _zone_column(table: Table, name: str) -> Column:
    columns = list(table.columns.values())
    if len(columns) < 2:
        raise InputError(
            f"The table has one column, {columns[0].name!r}; a zone and a rate are needed.",
            remedy="Write a header such as zone,rate and a row a zone, with commas, semicolons or tabs between cells.",
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
    meant = nearest(wanted, [column.name for column in others]) if wanted else ""
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
        remedy=f"{meant}Name one with column = in [[rate]]: {', '.join(column.name for column in others)}.",
        where=table.source,
    )


def _with_unit(rates: Column, unit: str, dialect: Dialect, table: Table) -> list[Measure | VrxError | None]:
    parsed = parse_unit(unit, dialect)
    # The mark that its reader saw in the table, whatever mark the zone layer has.
    numbers = read_numbers(rates, decimal=decimal_of(table))
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
                    f"{rates.name} holds {bad.text!r}: {bad.kind.replace('-', ' ')}.",
                    remedy=f"Write a number in {unit}.",
                    where=_place(table, row),
                )
            )
    return read


def _with_units(rates: Column, dialect: Dialect, table: Table) -> list[Measure | VrxError | None]:
    read: list[Measure | VrxError | None] = []
    comma = decimal_of(table) == ","
    for row, cell in enumerate(rates.cells):
        text = cell_text(cell)
        if comma and not _TWO_READINGS.match(text):
            text = text.replace(",", ".", 1)
        try:
            read.append(parse_measure(text, kinds=RATE_KINDS, dialect=dialect) if text else None)
        except UnitError as err:
            remedy = f"{err.remedy} Or give the unit of the whole column with unit = in [[rate]]."
            read.append(InputError(f"{rates.name}: {err.problem}", remedy=remedy, where=_place(table, row)))
    return read
