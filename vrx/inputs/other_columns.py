"""Columns of a map beside the one of its rates: areas that it states, and rates of other products."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from vrx.inputs.cells import read_numbers
from vrx.inputs.rate_column import words_of
from vrx.model.layer import Layer

# As the trade and its formats name columns of areas. Common practice, no source.
_AREA_WORDS: Final = frozenset({"area", "acres", "acre", "hectares", "hectare", "ha", "ac", "sqm", "sqft", "acreage"})
_RATE_WORDS: Final = frozenset({"rate", "rates", "dose", "rx", "per", "kg", "lb", "lbs", "gal", "l", "seeds", "n", "t"})


def area_columns(layer: Layer, *, decimal: str = ".") -> Mapping[str, NDArray[np.float64]]:
    """Return the numbers of columns whose names say that they state an area: ``acres``, ``Shape_Area``, ``area_ha``."""
    found = {}
    for name, column in layer.columns.items():
        words = set(words_of(name))
        if words & _AREA_WORDS and not words & _RATE_WORDS:
            values = read_numbers(column, decimal=decimal).values
            if np.isfinite(values).any():
                found[name] = values
    return found


def product_columns(
    layer: Layer, built: Mapping[str, str], products: Iterable[str], *, decimal: str = "."
) -> Mapping[str, NDArray[np.float64]]:
    """Return the numbers of columns by the products that they are for, where at least two are.

    Parameters
    ----------
    built : mapping of str to str
        Product by column, as the bundle of the map tells it.
    products : iterable of str
        Products that may be meant by a column of their name.
    """
    by_letters = {_letters(name): name for name in layer.columns}
    columns = {product: column for column, product in built.items() if column in layer.columns and product}
    for product in products:
        if product not in columns and _letters(product) in by_letters:
            columns[product] = by_letters[_letters(product)]
    if len(columns) < 2:
        return {}
    return {product: read_numbers(layer.columns[column], decimal=decimal).values for product, column in columns.items()}


def _letters(name: str) -> str:
    return "".join(one for one in name.casefold() if one.isalnum())
