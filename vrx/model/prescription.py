"""The prescription: for every product, its rate on every piece of the ground."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from vrx.model.finding import Finding
from vrx.model.zone_map import ZoneMap

if TYPE_CHECKING:
    from vrx.model.product import Product

KEPT_OUT: Final = -1
"""Stands for a step number where a product may not go, wherever that has to differ from off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayEffect:
    """What an overlay changed for a product.

    Attributes
    ----------
    what : str
        The change: ``x 0.8``, ``+2 gal/ac``, or the rate.
    area_m2 : float
        Ground that it covers and that the product may go onto.
    amount : float
        By how much it changes the wanted total, in the product's amount unit, where a rate was known before.
    """

    name: str
    what: str
    area_m2: float
    amount: float


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
    overlay_steps : tuple of str
        What overlays did to the rate of each piece, in order; empty where nothing.
    pinned : bool array, shape (n_pieces,)
        Ground of an overlay, which keeps its border.
    wanted : float64 array, shape (n_pieces,)
        Rate before limits, overlays included, in the unit of the product's step; NaN where none is known.
    limited, numbers : int64 array, shape (n_pieces,)
        Step numbers after limits and steps, and after joining small parts; 0 is off.
    why : tuple of str
        What changed the rate of each piece, in words; empty where nothing did.
    sums : tuple of str
        How wanted rates were turned into the unit of the step, a sentence a conversion.
    worked : tuple of str
        The sum that gives the wanted rate of each piece, with its numbers put in; empty where no formula does.
    share : Fraction
        The product's share of the width on which drives carry products of its form: amounts are rate times ground
        times this.
    """

    product: Product
    treated: NDArray[np.bool_]
    zones: tuple[str, ...]
    inputs: tuple[str, ...]
    values: NDArray[np.float64]
    overlay_steps: tuple[str, ...]
    pinned: NDArray[np.bool_]
    wanted: NDArray[np.float64]
    limited: NDArray[np.int64]
    numbers: NDArray[np.int64]
    why: tuple[str, ...]
    sums: tuple[str, ...] = ()
    worked: tuple[str, ...] = ()
    overlays: tuple[OverlayEffect, ...] = ()
    share: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prescription:
    """All products on one zone map."""

    zone_map: ZoneMap
    maps: tuple[ProductMap, ...]
    findings: tuple[Finding, ...]
