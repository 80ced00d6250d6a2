"""The prescription: for every product, its rate on every piece of the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from vrx.model.finding import Finding
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap

KEPT_OUT: Final = -1
"""Stands for a step number where a product may not go, wherever that has to differ from off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductMap:
    """One product on the pieces of a zone map.

    Attributes
    ----------
    product : Product
    treated : bool array, shape (n_pieces,)
        False inside a keep-out that binds the product.
    zones : tuple of str
        The zone by which each piece is rated and reported.
    inputs, values : tuple of str and float64 array, shape (n_pieces,)
        What the wanted rate was worked out from, as it stood there, and the number among it; empty and NaN where
        there is none.
    wanted : float64 array, shape (n_pieces,)
        Rate before limits, in the unit of the product's step; NaN where none is known.
    limited, numbers : int64 array, shape (n_pieces,)
        Step numbers after limits and steps, and after joining small parts; 0 is off.
    why : tuple of str
        What changed the rate of each piece, in words; empty where nothing did.
    sums : tuple of str
        How wanted rates were turned into the unit of the step, a sentence a conversion.
    """

    product: Product
    treated: NDArray[np.bool_]
    zones: tuple[str, ...]
    inputs: tuple[str, ...]
    values: NDArray[np.float64]
    wanted: NDArray[np.float64]
    limited: NDArray[np.int64]
    numbers: NDArray[np.int64]
    why: tuple[str, ...]
    sums: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Prescription:
    """All products on one zone map."""

    zone_map: ZoneMap
    maps: tuple[ProductMap, ...]
    findings: tuple[Finding, ...]
