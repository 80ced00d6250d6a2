"""Which column of a map holds the rates, and in which unit: found where only one can be meant, never guessed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from string import digits
from typing import Final

import numpy as np
from numpy.typing import NDArray

from vrx.errors import UnitError
from vrx.inputs.cells import cell_text, name_text, read_numbers
from vrx.model.checked_map import Candidate
from vrx.model.layer import Column, Layer, Numbers
from vrx.units import NUTRIENTS, Dialect, Unit, parse_unit

# Words in names of columns, as the trade and the formats use them. Common practice, no source.
_RATE_WORDS: Final = frozenset({"rate", "rates", "dose", "dosage", "rx", "prescription", "setpoint", "target"})
_NO_RATE_WORDS: Final = frozenset(
    {"fid", "id", "gid", "oid", "objectid", "ogc", "index", "no", "nr", "num", "number", "record", "area", "acres",
     "acre", "hectares", "ha", "ac", "m2", "perimeter", "length", "len", "leng", "width", "count", "year", "season",
     "lon", "lat", "longitude", "latitude", "x", "y", "z", "elevation", "cost", "price", "total", "amount",
     "zone", "zones", "mgmtzone"}
)  # fmt: skip
_NAME_WORDS: Final = (
    "zone",
    "name",
    "zonename",
    "zone_name",
    "mgmtzone",
    "label",
    "unit_name",
    "musym",
    "soil",
    "part",
)
_SAYS: Final = {
    "season": ("season", "year", "crop_year", "cropyear", "harvest"),
    "crop": ("crop", "crop_name", "cropname"),
    "product": ("product", "prod", "product_name", "prodname"),
    "field": ("field", "field_name", "fieldname"),
}
_MASS: Final = {"lb": "lb", "lbs": "lb", "kg": "kg", "g": "g", "t": "tonne", "tonne": "tonne", "tonnes": "tonne"}
_AMOUNTS: Final = {
    "gal": "gal", "gals": "gal", "gallons": "gal", "l": "L", "lt": "L", "ltr": "L", "litre": "L", "litres": "L",
    "seeds": "seeds", "sds": "seeds", "kseeds": "thousand_seeds", "qt": "qt", "pt": "pt", **_MASS,
}  # fmt: skip
_AREAS: Final = {"ac": "ac", "acre": "ac", "a": "ac", "ha": "ha", "m2": "m2"}
_WHOLE: Final = {"gpa": "gal/ac"}
_NUTRIENT: Final = {one.lower(): one for one in NUTRIENTS}
_LEAST_NUMBERS: Final = 1


def candidates(layer: Layer, *, decimal: str = ".") -> tuple[Candidate, ...]:
    """Return the columns that may hold rates, each with its range, in the file's order.

    A column of numbers may, one of text where all but a few cells read as numbers, or where its name says rate.
    Numbers of records, zones, areas, lengths and places, by their names, may not.
    """
    found = []
    for column in layer.columns.values():
        named = says_rate(column.name)
        if not named and _NO_RATE_WORDS & set(words_of(column.name)):
            continue
        values = read_numbers(column, decimal=decimal).values
        if not named and _counts_up(values):
            continue
        known = values[np.isfinite(values)]
        enough = column.kind == "number" or 2 * len(known) > len(values)
        if named or (enough and len(known) >= _LEAST_NUMBERS):
            low, high = (float(known.min()), float(known.max())) if len(known) else (np.nan, np.nan)
            found.append(Candidate(name=column.name, says_rate=named, lowest=low, highest=high, count=len(known)))
    return tuple(found)


def only_one_meant(found: tuple[Candidate, ...]) -> tuple[str, bool]:
    """Return the column that alone can be meant, and whether its name says so; an empty name where there is none.

    The only one whose name says rate; else the only one there is.
    """
    named = [one.name for one in found if one.says_rate]
    if len(named) == 1:
        return named[0], True
    return (found[0].name, False) if len(found) == 1 else ("", False)


def unit_in_name(name: str, dialect: Dialect) -> Unit | None:
    """Return the unit that the name of a column tells: gal/ac for ``RATE_GAL_AC``, lb N/ac for ``rate_lb_N_ac``.

    None where it tells none, or one that people use for two things.

    Examples
    --------
    >>> [unit_in_name(name, Dialect("us")) and unit_in_name(name, Dialect("us")).name
    ...  for name in ("RATE_GAL_AC", "rate_lb_N_ac", "N_kg_ha", "RATE", "gpa")]
    ['gal/ac', 'lb N/ac', 'kg/ha', None, 'gal/ac']
    """
    words = words_of(name)
    text = next((_WHOLE[word] for word in words if word in _WHOLE), "")
    for at, word in enumerate(words):
        rest = words[at + 1 :]
        if word in _AMOUNTS and rest and rest[0] in _AREAS:
            text = f"{_AMOUNTS[word]}/{_AREAS[rest[0]]}"
        elif word in _MASS and len(rest) > 1 and rest[0] in _NUTRIENT and rest[1] in _AREAS:
            text = f"{_MASS[word]} {_NUTRIENT[rest[0]]}/{_AREAS[rest[1]]}"
    if text:
        with suppress(UnitError):
            return parse_unit(text, dialect)
    return None


def record_names(layer: Layer) -> tuple[str, ...]:
    """Return what a map calls its records, by a column that names zones; empty where it has none."""
    by_word = {"".join(words_of(name)): name for name in layer.columns}
    plain = {name.casefold(): name for name in layer.columns}
    chosen = next(
        (plain.get(word) or by_word.get(word) for word in _NAME_WORDS if word in plain or word in by_word), ""
    )
    if not chosen:
        return ()
    column = layer.columns[chosen]
    text_of = name_text if column.kind == "number" else cell_text
    return tuple(text_of(cell) for cell in column.cells)


def file_says(layer: Layer) -> Mapping[str, str]:
    """Return season, crop, product and field as a map's own columns tell them, where all records agree."""
    plain = {name.casefold(): name for name in layer.columns}
    said = {}
    for what, names in _SAYS.items():
        column = next((layer.columns[plain[name]] for name in names if name in plain), None)
        if column is not None:
            texts = {name_text(cell) if column.kind == "number" else cell_text(cell) for cell in column.cells}
            if len(texts) == 1 and "" not in texts:
                said[what] = texts.pop()
    return said


def decimals_of_numbers(column: Column, numbers: Numbers) -> int:
    """Return the most decimals with which a number of a column is written; trailing zeros do not count."""
    most = 0
    for cell in {column.cells[at] for at in np.flatnonzero(np.isfinite(numbers.values)).tolist()}:
        text = name_text(cell) if not isinstance(cell, float) else cell_text(cell)
        _, _, behind = text.replace(",", ".").partition(".")
        mantissa, _, exponent = behind.lower().partition("e")
        most = max(most, len(mantissa) - (int(exponent) if exponent.lstrip("+-").isdigit() else 0))
    return most


def words_of(name: str) -> list[str]:
    """Return the words of a column's name in lower case: ``rate``, ``gal``, ``ac`` for ``RateGal_ac``."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return [one.lower() for one in re.findall(r"[A-Za-z0-9]+", parted)]


def says_rate(name: str) -> bool:
    """Tell whether the name of a column says that it holds rates."""
    in_words = any(word.rstrip(digits) in _RATE_WORDS for word in words_of(name))
    return in_words or unit_in_name(name, Dialect("us")) is not None


def _counts_up(values: NDArray[np.float64]) -> bool:
    """Tell whether a column only numbers its records: 0, 1, 2 ... or 1, 2, 3 ..."""
    if len(values) < 3:
        return False
    return bool(np.isfinite(values).all() and (np.diff(values) == 1).all() and values[0] in (0, 1))
