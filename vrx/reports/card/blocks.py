"""The nouns of the cab card: steps, and what they are made of; words alone, nothing measured."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

Role = Literal["body", "strong", "small", "large", "code", "badge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Text in one size and weight; it wraps where it has to."""

    text: str
    role: Role = "body"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Items under each other.

    Attributes
    ----------
    box : bool
        With a box to tick before the first line.
    write : float
        Millimetres of a line to write on behind the last item, at least; 0 is none.
    """

    items: tuple[Item, ...]
    box: bool = False
    write: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of cells in columns; its head comes again on the next page."""

    rows: tuple[tuple[Cell, ...], ...]
    head: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """Cells beside each other as long as they fit.

    Attributes
    ----------
    columns : int
        Columns of a grid on which they lie; 0: each as wide as it likes.
    """

    cells: tuple[Cell, ...]
    columns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """A text of any length, that may go on on the next page.

    Attributes
    ----------
    leads : bool
        Stays together with the part behind it.
    """

    text: str
    role: Role = "body"
    box: bool = False
    leads: bool = False


Part: TypeAlias = Table | Flow | Paragraph


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do, or to know.

    Attributes
    ----------
    number : int
        Its place in the order of work; 0 where it has none.
    """

    number: int
    title: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A cab card.

    Attributes
    ----------
    edition : str
        Revision and date, which stand at the top of every page.
    stopped : str
        Why nobody may drive with it; empty where all is well.
    stamp : date
        The plan's date, or 1980-01-01.
    width, height : float
        The sheet of paper, in mm.
    """

    title: str
    edition: str
    stopped: str
    steps: tuple[Step, ...]
    written_by: str
    stamp: date
    width: float
    height: float
