"""Laying out the parts of the cab card: tables, flows and paragraphs as rows, which pages are filled with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from vrx.model.drawing import Mark
from vrx.reports.card.blocks import Cell, Flow, Item, Paragraph, Part, Table
from vrx.reports.card.cells import Slice, liked_width, needed_width, slices_of
from vrx.reports.card.marks import GREY, moved, rule

# Of the body's size: above and below a row, between columns, behind a table or flow.
_PAD: Final = 0.09
_GAP: Final = 0.8
_BEHIND: Final = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Marks that stay together on a page; they count from the row's upper left corner.

    Attributes
    ----------
    head : tuple of Row
        What comes before it again where it starts a page.
    with_next : bool
        Stays together with the next row.
    """

    height: float
    marks: tuple[Mark, ...]
    head: tuple[Row, ...] = ()
    with_next: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How parts are set; lengths in mm.

    Attributes
    ----------
    body : float
        Size of the type.
    width : float
        Of the column.
    most : float
        A row that would be higher becomes several.
    """

    body: float
    width: float
    most: float

    def rows(self, parts: Sequence[Part]) -> Iterator[Row]:
        """Yield the rows of parts under each other."""
        for at, part in enumerate(parts):
            if at and not isinstance(parts[at - 1], Paragraph):
                yield Row(height=_BEHIND * self.body, marks=(), with_next=True)
            match part:
                case Table():
                    yield from self._table(part)
                case Flow():
                    yield from self._flow(part)
                case Paragraph():
                    yield from self._paragraph(part)

    def _paragraph(self, part: Paragraph) -> Iterator[Row]:
        cell = Cell(items=(Item(text=part.text, role=part.role),), box=part.box)
        slices = slices_of(cell, x=0.0, width=self.width, body=self.body)
        for at, one in enumerate(slices):
            above, below = (_PAD * self.body * (at == end) for end in (0, len(slices) - 1))
            marks = tuple(moved(one.marks, 0.0, above))
            yield Row(height=above + one.height + below, marks=marks, with_next=part.leads)

    def _table(self, table: Table) -> Iterator[Row]:
        if not table.rows and not table.head:
            return
        widths = self._column_widths(table)
        head: tuple[Row, ...] = ()
        if any(table.head):
            (row,) = self._beside(_head_cells(table), widths, most=np.inf)
            below = rule(0.0, self.width, row.height)
            head = (replace(row, marks=(*row.marks, below), with_next=True),)
            yield from head
        rows = [row for cells in table.rows for row in self._beside(cells, widths, most=self.most)]
        for row, _ in pairwise(rows):
            below = rule(0.0, self.width, row.height, width=0.15, stroke=GREY)
            yield replace(row, marks=(*row.marks, below), head=head)
        yield from (replace(row, head=head) for row in rows[-1:])

    def _column_widths(self, table: Table) -> list[float]:
        """Share the width: what each column likes; in want the widest give way, as far as their longest words."""
        lines = [*([_head_cells(table)] if table.head else []), *table.rows]
        columns = list(zip(*lines, strict=True))
        gap = _GAP * self.body
        liked = np.array([max(liked_width(cell, self.body) for cell in cells) + gap for cells in columns])
        spare = self.width - liked.sum()
        if spare >= 0:
            # The first column stays close to what it names.
            shares = np.array([len(liked) == 1] + [True] * (len(liked) - 1), dtype=float)
            return list((liked + spare * shares / shares.sum()).tolist())
        longest_words = [max(needed_width(cell, self.body) for cell in cells) + gap for cells in columns]
        needed = np.minimum(longest_words, self.width / len(liked))
        low, high = 0.0, self.width
        for _ in range(50):
            level = (low + high) / 2
            low, high = (level, high) if np.clip(level, needed, liked).sum() <= self.width else (low, level)
        return list(np.clip(low, needed, liked).tolist())

    def _flow(self, flow: Flow) -> Iterator[Row]:
        unit = self.width / flow.columns if flow.columns else 0.0
        cells, widths = list[Cell](), list[float]()
        for cell in flow.cells:
            width = liked_width(cell, self.body) + _GAP * self.body
            width = min(self.width, float(np.ceil(width / unit) * unit) if unit else width)
            if cells and sum(widths) + width > self.width + 1e-6:
                yield from self._flow_line(cells, widths, gridded=bool(unit))
                cells, widths = [], []
            cells.append(cell)
            widths.append(width)
        if cells:
            yield from self._flow_line(cells, widths, gridded=bool(unit))

    def _flow_line(self, cells: Sequence[Cell], widths: Sequence[float], *, gridded: bool) -> Iterator[Row]:
        spare = 0.0 if gridded else (self.width - sum(widths)) / len(widths)
        return self._beside(cells, [width + spare for width in widths], most=self.most)

    def _beside(self, cells: Sequence[Cell], widths: Sequence[float], *, most: float) -> Iterator[Row]:
        """Lay cells beside each other, the first lines level; what is higher than ``most`` becomes several rows."""
        columns = []
        left = 0.0
        for cell, width in zip(cells, widths, strict=True):
            columns.append(slices_of(cell, x=left, width=width - _GAP * self.body, body=self.body))
            left += width
        pad = _PAD * self.body
        baseline = max((slices[0].baseline for slices in columns if slices), default=0.0)
        tops = [pad + baseline - slices[0].baseline if slices else pad for slices in columns]
        while any(columns):
            stacks = [_stacked(slices, top, most) for slices, top in zip(columns, tops, strict=True)]
            yield Row(
                height=max(bottom for _, bottom, _ in stacks) + pad,
                marks=tuple(mark for marks, _, _ in stacks for mark in marks),
            )
            columns = [rest for _, _, rest in stacks]
            tops = [pad] * len(columns)


def _stacked(slices: Sequence[Slice], top: float, most: float) -> tuple[list[Mark], float, list[Slice]]:
    """Put slices under each other, one at least; return their marks, where they end, and what had no room."""
    marks, y = list[Mark](), top
    for at, one in enumerate(slices):
        if at and y + one.height > most:
            return marks, y, list(slices[at:])
        marks += moved(one.marks, 0.0, y)
        y += one.height
    return marks, y, []


def _head_cells(table: Table) -> tuple[Cell, ...]:
    return tuple(Cell(items=(Item(text=text, role="strong"),) if text else ()) for text in table.head)
