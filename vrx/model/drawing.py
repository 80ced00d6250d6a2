"""A drawing: marks on a page, laid out once and rendered in any format.

All lengths are millimetres on paper, x to the right and y downwards from the page's upper left corner; colours
are ``#rrggbb``. Later marks lie over earlier ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

Hatch = Literal["", "slanted", "crossed"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A polygon with holes, or several that belong together.

    Attributes
    ----------
    rings : tuple of float64 arrays, shape (n, 2)
        Closed; filled by the even-odd rule.
    fill, stroke : str
        Empty: none.
    key : str
        What it stands for, such as ``patch 12``; empty where nothing asks.
    """

    rings: tuple[NDArray[np.float64], ...]
    fill: str = ""
    opacity: float = 1.0
    hatch: Hatch = ""
    stroke: str = ""
    width: float = 0.2
    dashes: tuple[float, ...] = ()
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """An open line through points, shape (n, 2)."""

    points: NDArray[np.float64]
    stroke: str = "#000000"
    width: float = 0.2
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A line of text.

    Attributes
    ----------
    x, y : float
        Its anchor, on the baseline.
    size : float
        Font size (height of an em) in millimetres.
    halo : str
        Colour of an outline that keeps it readable on any ground; empty: none.
    """

    x: float
    y: float
    text: str
    size: float
    anchor: Anchor = "start"
    bold: bool = False
    colour: str = "#000000"
    halo: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A PNG in a box."""

    x: float
    y: float
    width: float
    height: float
    png: bytes
    opacity: float = 1.0


Mark: TypeAlias = Area | Line | Words | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A page of marks.

    Attributes
    ----------
    title : str
        For those who can't see it.
    """

    width: float
    height: float
    title: str
    marks: tuple[Mark, ...]
