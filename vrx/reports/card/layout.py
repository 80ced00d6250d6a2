"""Laying out the cab card: its steps on as few pages as they fit, in the largest type with which they do.

Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from vrx.model.drawing import Drawing, Mark
from vrx.reports.card.blocks import Card, Step
from vrx.reports.card.cells import type_size
from vrx.reports.card.marks import (
    BASELINE,
    BLACK,
    LEADING,
    MM_PER_POINT,
    SMALLEST,
    WHITE,
    box,
    disc,
    moved,
    rule,
    words,
)
from vrx.reports.card.rows import Row, Setting
from vrx.reports.card.text import shown, wrapped
from vrx.reports.fonts import CAP_HEIGHT, text_width

SIZES_PT: Final = (14.0, 13.0, 12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
"""Type sizes of the body: the first with which the card stays on one page is taken."""
# Sizes of the field's name: the first with which it takes two lines at most.
_NAME_PT: Final = (24.0, 22.0, 18.0, 15.0, 12.0)
_NAME_AGAIN_PT: Final = (18.0, 15.0, 12.0)
_MARGIN: Final = 11.0
_TOP: Final = 9.0
_FOOT: Final = 12.5
# Of the body's size: the column of the steps' titles, what parts it from the steps, what is around a rule.
_TITLES: Final = 8.2
_BESIDE: Final = 0.6
_AROUND_RULE: Final = 0.32


@dataclass(slots=True)
class _Page:
    """A page as it fills."""

    top: float
    bottom: float
    marks: list[Mark] = field(default_factory=list)
    y: float = 0.0

    def __post_init__(self) -> None:
        self.y = self.top

    @property
    def room(self) -> float:
        return self.bottom - self.y

    @property
    def half(self) -> float:
        return (self.bottom - self.top) / 2

    @property
    def empty(self) -> bool:
        return self.y == self.top


def fitted(card: Card) -> tuple[Drawing, ...]:
    """Return the card's pages: one, in the largest type that allows it; else as few as can be, as large as can be."""
    tried = {}
    for size_pt in SIZES_PT:
        tried[size_pt] = pages(card, size_pt=size_pt)
        if len(tried[size_pt]) == 1:
            return tried[size_pt]
    fewest = min(len(each) for each in tried.values())
    return next(each for each in tried.values() if len(each) == fewest)


def pages(card: Card, *, size_pt: float) -> tuple[Drawing, ...]:
    """Return the card's pages with a body of so many points, as many as it takes."""
    layout = _Layout(card=card, body=size_pt * MM_PER_POINT)
    filled: list[_Page] = []
    for step in card.steps:
        layout.place(step, filled)
    title = shown(f"Cab card, {card.title}")
    return tuple(
        Drawing(
            width=card.width,
            height=card.height,
            title=title,
            marks=(*_heading(card, number)[1], *page.marks, *_footer(card, number, len(filled))),
        )
        for number, page in enumerate(filled, start=1)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How a card is laid out with a body of one size."""

    card: Card
    body: float

    def place(self, step: Step, filled: list[_Page]) -> None:
        """Put a step onto the last page, and what doesn't fit onto new ones, with its title again."""
        left = _MARGIN + (_TITLES + _BESIDE) * self.body
        setting = Setting(body=self.body, width=self.card.width - _MARGIN - left, most=0.6 * self.card.height)
        rows, title = list(setting.rows(step.parts)), self._title(step)
        page = self._page_for(title, rows, filled)
        page.marks += moved(title.marks, _MARGIN, page.y)
        title_end = page.y + title.height
        for at, row in enumerate(rows):
            if at and not page.empty and _height_kept(rows, at, most=page.half) > page.room:
                page = self._new_page(filled)
                again = self._title(step, again=True)
                page.marks += moved(again.marks, _MARGIN, page.y)
                title_end = page.y + again.height
                for head in row.head:
                    page.marks += moved(head.marks, left, page.y)
                    page.y += head.height
            page.marks += moved(row.marks, left, page.y)
            page.y += row.height
        page.y = max(page.y, title_end)

    def _page_for(self, title: Row, rows: Sequence[Row], filled: list[_Page]) -> _Page:
        """Return the page on which a step starts: the last one below a rule, or a new one."""
        if not filled:
            return self._new_page(filled)
        page, gap = filled[-1], _AROUND_RULE * self.body
        room = page.room - 2 * gap
        height = max(title.height, sum(row.height for row in rows))
        first = max(title.height, _height_kept(rows, 0, most=page.half))
        # A short step stays in one piece; a long one starts where its first rows fit.
        if height > room and (height <= page.half or first > room):
            return self._new_page(filled)
        page.marks.append(rule(_MARGIN, self.card.width - _MARGIN, page.y + gap))
        page.y += 2 * gap
        return page

    def _new_page(self, filled: list[_Page]) -> _Page:
        top, _ = _heading(self.card, len(filled) + 1)
        filled.append(_Page(top=top, bottom=self.card.height - _FOOT - 1.0))
        return filled[-1]

    def _title(self, step: Step, *, again: bool = False) -> Row:
        body, marks = self.body, list[Mark]()
        radius, size = 0.9 * body, 1.15 * body
        indent = 2 * radius + 0.45 * body
        y = 0.1 * body
        # The disc is level with the middle of the first line's capitals.
        middle = y + (BASELINE - CAP_HEIGHT / 2) * body
        if step.number:
            number = str(step.number)
            x = radius - 0.5 * text_width(number, size=size, bold=True)
            marks.append(disc(radius, middle, radius))
            marks.append(words(number, x=x, y=middle + CAP_HEIGHT / 2 * size, size=size, bold=True, colour=WHITE))
        small = type_size("small", body)
        for line in wrapped(step.title, width=_TITLES * body - indent, size=body, bold=True):
            marks.append(words(line, x=indent, y=y + BASELINE * body, size=body, bold=True))
            y += LEADING * body
        if again:
            marks.append(words("continued", x=indent, y=y + BASELINE * small, size=small))
            y += LEADING * small
        return Row(height=max(y, middle + radius) + 0.1 * body, marks=tuple(marks))


def _heading(card: Card, number: int) -> tuple[float, list[Mark]]:
    """Return where the steps start on a page, and what stands above them."""
    width, small = card.width - 2 * _MARGIN, 11.0 * MM_PER_POINT
    y = _TOP + small
    told = "Cab card, continued" if number > 1 else "Cab card" if card.stopped else "Cab card: tick from top to bottom"
    marks: list[Mark] = [words(told, x=_MARGIN, y=y, size=small, bold=True)]
    beside = width - text_width(told, size=small, bold=True) - 5.0
    for at, line in enumerate(wrapped(card.edition, width=beside, size=small, bold=True)):
        x = card.width - _MARGIN - text_width(line, size=small, bold=True)
        y += LEADING * small * (at > 0)
        marks.append(words(line, x=x, y=y, size=small, bold=True))
    y += 0.4 * small
    for size_pt in _NAME_PT if number == 1 else _NAME_AGAIN_PT:
        size = size_pt * MM_PER_POINT
        lines = wrapped(card.title, width=width, size=size, bold=True)
        if len(lines) <= 2:
            break
    for line in lines:
        marks.append(words(line, x=_MARGIN, y=y + BASELINE * size, size=size, bold=True))
        y += LEADING * size
    if card.stopped:
        size, y = 1.3 * small, y + 1.0
        lines = wrapped(card.stopped, width=width - 6.0, size=size, bold=True)
        height = (len(lines) * LEADING + 0.5) * size
        marks.append(box(_MARGIN, y, width, height, fill=BLACK))
        for at, line in enumerate(lines):
            baseline = y + (0.25 + at * LEADING + BASELINE) * size
            marks.append(words(line, x=_MARGIN + 3.0, y=baseline, size=size, bold=True, colour=WHITE))
        y += height
    else:
        marks.append(box(_MARGIN, y + 0.7, width, 1.0, fill=BLACK))
        y += 1.7
    return y + 2.0, marks


def _footer(card: Card, number: int, count: int) -> list[Mark]:
    line, right = card.height - _FOOT, card.width - _MARGIN
    page = f"page {number} of {count}"
    x = right - text_width(page, size=SMALLEST)
    by = wrapped(card.written_by, width=x - _MARGIN - 5.0, size=SMALLEST, bold=False)
    return [
        rule(_MARGIN, right, line),
        *(words(one, x=_MARGIN, y=line + 4.0 + at * LEADING * SMALLEST, size=SMALLEST) for at, one in enumerate(by)),
        words(page, x=x, y=line + 4.0, size=SMALLEST),
    ]


def _height_kept(rows: Sequence[Row], at: int, *, most: float) -> float:
    """Return the height of a row and of those that it stays together with, if they are no higher than ``most``."""
    height = 0.0
    for row in rows[at:]:
        height += row.height
        if height > most:
            return rows[at].height
        if not row.with_next:
            break
    return height
