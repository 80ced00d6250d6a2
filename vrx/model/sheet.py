"""A sheet: one map as it is to be written, whatever the format."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class RateColumn:
    """The rates of one product on the shapes of a sheet.

    Attributes
    ----------
    name : str
        Name of the column in the file.
    product, unit : str
        What it is and in which unit it is written.
    counts : int64 array, shape (n_shapes,)
        The written rates as whole multiples of the last decimal: 185 with ``decimals`` 1 is 18.5.
    decimals : int
        Decimals that are written.
    step_numbers : int64 array, shape (n_shapes,)
        The product's step numbers that the rates stand for; 0 is off.
    """

    name: str
    product: str
    unit: str
    counts: NDArray[np.int64]
    decimals: int
    step_numbers: NDArray[np.int64]

    def rate_text(self, at: int) -> str:
        """Return a rate as it stands in a file: ``18.5``, always with all decimals."""
        count = int(self.counts[at])
        digits = str(abs(count)).rjust(self.decimals + 1, "0")
        sign = "-" if count < 0 else ""
        return sign + (f"{digits[: -self.decimals]}.{digits[-self.decimals :]}" if self.decimals else digits)


@dataclass(frozen=True, slots=True, kw_only=True)
class TextColumn:
    """A column of a sheet that holds no rates, and stays as it came.

    Attributes
    ----------
    name : str
    kind : {"number", "text"}
    cells : tuple of str or None, length n_shapes
        As they are to be written; a number in plain decimals, without an exponent. None is an empty cell.
    """

    name: str
    kind: Literal["number", "text"]
    cells: tuple[str | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrounded:
    """What the shapes of a sheet stand for: its polygons before they were rounded for a file.

    Attributes
    ----------
    area_m2, perimeter_m : float64 array, shape (n_polygons,)
        True areas, and perimeters in the field's frame.
    source : int64 array, shape (n_shapes,)
        Which polygon each shape comes from: rounding may break or lose a polygon a millimetre wide.
    """

    area_m2: NDArray[np.float64]
    perimeter_m: NDArray[np.float64]
    source: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One map to write.

    Attributes
    ----------
    name : str
        File name without its ending: plain ASCII letters, digits, ``-`` and ``_``.
    crs : str
        CRS of the shapes, such as ``EPSG:4326``.
    shapes : object array, shape (n_shapes,)
        Single valid polygons in that CRS, x first, coordinates already rounded as they are to be written.
    columns : tuple of RateColumn
        One at least.
    date : str
        The plan's date as ``YYYY-MM-DD``, or ``1980-01-01``: the only date that goes into a file.
    description : str
        Product, unit, field and season in a line.
    labels : tuple of TextColumn
        Columns behind the rates: what else the map tells of its shapes.
    """

    name: str
    crs: str
    shapes: NDArray[np.object_]
    columns: tuple[RateColumn, ...]
    date: str
    description: str
    labels: tuple[TextColumn, ...] = ()
