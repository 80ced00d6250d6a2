"""A layer: shapes with their attributes, as a file holds them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vrx.model.finding import Finding

Cell = str | int | float | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One attribute of a layer.

    Attributes
    ----------
    name : str
        As the file spells it.
    kind : {"number", "text"}
        What the file declares it to be; a CSV declares nothing, and all its columns are text.
    cells : tuple
        One a record. Text is as it stands in the file, outer spaces stripped, also in a number column whose
        format holds text (DBF): nothing is parsed yet, so nothing is lost. None is an empty cell.
    """

    name: str
    kind: Literal["number", "text"]
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BadCell:
    """A cell that holds no number, with the reason.

    Attributes
    ----------
    of : str
        The field that it belongs to, where a rate is worked out from several.
    """

    index: int
    text: str
    kind: Literal["empty", "not-a-number", "no-data-code", "two-readings", "formula-failed"]
    of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """A column read as numbers.

    Attributes
    ----------
    values : float64 array, shape (n_records,)
        NaN where there is no number.
    bad : tuple of BadCell
        Each cell without a number, in order; ``index`` counts from 0.
    """

    name: str
    values: NDArray[np.float64]
    bad: tuple[BadCell, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Shapes with attributes.

    Attributes
    ----------
    source : str
        Name of the file, as people are told it.
    crs : str
        Coordinate reference system, as WKT or ``EPSG:code``; never empty.
    shapes : object array, shape (n_records,)
        Shapely geometries in that CRS, x = easting or longitude first; None where a record has no shape.
        As read: not yet repaired.
    columns : mapping of str to Column
        In the file's order.
    records : int64 array, shape (n_records,)
        Record numbers in the file, from 1; deleted records are left out and keep their number.
    findings : tuple of Finding
        What the reader noticed.
    """

    source: str
    crs: str
    shapes: NDArray[np.object_]
    columns: Mapping[str, Column]
    records: NDArray[np.int64]
    findings: tuple[Finding, ...] = field(default=())

    def __post_init__(self) -> None:
        if not self.crs:
            raise ValueError("a layer without a CRS can't be placed")
        if not len(self.shapes) == len(self.records):
            raise ValueError("shapes and records differ in number")
        for column in self.columns.values():
            if len(column.cells) != len(self.records):
                raise ValueError(f"column {column.name} has {len(column.cells)} cells for {len(self.records)} records")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Attributes without shapes, such as a CSV file of rates; columns as in :class:`Layer`.

    Attributes
    ----------
    units : mapping of str to str
        What a row of units says of a column, as it stands there.
    lines : tuple of int
        The line of the file that each record is on, from 1; empty where that is not known.
    """

    source: str
    columns: Mapping[str, Column]
    findings: tuple[Finding, ...] = ()
    units: Mapping[str, str] = field(default_factory=dict)
    lines: tuple[int, ...] = ()
