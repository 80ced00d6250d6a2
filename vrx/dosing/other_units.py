"""In which other unit numbers would be rates that a product allows: a map read in the wrong unit gives itself away.

Numbers of 112.2 and 130.9 are no gallons an acre for a machine that does 8 to 26 in whole steps; as litres a hectare
they are 12 and 14. Source: arithmetic; how much evidence is asked for is our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from vrx.dosing.conversion import conversion_to_product
from vrx.errors import UnitError
from vrx.units import Dialect, Unit, parse_unit

if TYPE_CHECKING:
    from vrx.model.product import Product

Floats = NDArray[np.float64]

# The plainest first: of several that fit, they are told in this order; nutrients come before the rare ones.
_BY_KIND: Final = {
    "volume": ("us_gal/ac", "L/ha", "imp_gal/ac"),
    "mass": ("lb/ac", "kg/ha"),
    "count": ("seeds/ac", "seeds/ha", "thousand_seeds/ac", "thousand_seeds/ha", "seeds/m2"),
}
_RARE: Final = {
    "volume": (
        "us_gal/ha", "imp_gal/ha", "L/ac", "us_qt/ac", "us_pt/ac", "us_fl_oz/ac", "mL/ha",
    ),
    "mass": ("kg/ac", "lb/ha", "short_ton/ac", "tonne/ha", "g/ha", "kg/m2"),
    "count": (),
}  # fmt: skip
_NUTRIENT: Final = ("lb {}/ac", "kg {}/ha")
_MOST_ALLOWED: Final = 0.5
_LEAST_ALLOWED: Final = 0.9
_SAME: Final = 1e-3
# One rate alone, and a factor below this, may be chance.
_LARGE_FACTOR: Final = 2.0
# So probably numbers may lie as near to steps as they do by chance, in one of the readings that are tried.
_CHANCE: Final = 0.05
_NEAREST: Final = 1e-3
# Where steps do not tell, most of the ground has to lie so far beyond a limit.
_FAR_BEYOND: Final = 1.5
_MOST_TOLD: Final = 3


class Reading(NamedTuple):
    """A way to read numbers: what they are called then, and one of them in the unit of the product's step."""

    name: str
    factor: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """Rates above 0 as they stand in a map.

    Attributes
    ----------
    numbers, area_m2 : float64 array, shape (n,)
        Each number with the ground that it is for.
    decimals : int
        With which they are written.
    unit : Unit
        In which they are read.
    per_step_unit : Fraction
        One of them in the unit of the product's step, as they are read.
    allowed : float
        The share of the ground whose rate the product allows, as they are read.
    """

    numbers: Floats
    area_m2: Floats
    decimals: int
    unit: Unit
    per_step_unit: Fraction
    allowed: float


def readings(product: Product, dialect: Dialect) -> tuple[Reading, ...]:
    """Return the ways to read numbers as rates of a product, the plainest first.

    Units of the product's own kind, of a kind that its density or seed weight leads to, and of its nutrients.
    """
    own = product.unit.kind.partition("/")[0]
    others = [kind for kind in _BY_KIND if kind != own]
    nutrients = [form.format(nutrient) for nutrient in product.analysis for form in _NUTRIENT]
    names = [*_BY_KIND[own], *nutrients, *(name for kind in others for name in _BY_KIND[kind])]
    names += [name for kind in (own, *others) for name in _RARE[kind]]
    found = []
    for name in names:
        with suppress(UnitError):
            unit = parse_unit(_in_dialect(name, dialect), dialect)
            found.append(Reading(unit.name, conversion_to_product(unit, product).factor))
    return tuple(found)


def better_readings(written: Written, product: Product, dialect: Dialect) -> tuple[Reading, ...]:
    """Return the ways to read a map's numbers in which a product allows them, where it does not as they are read.

    A reading fits where at least 0.9 of the ground gets a rate on a step and within limits, and at most half of it
    does as the map is read. Two rates at least have to tell, or a factor of 2. Where the numbers lie on steps in no
    reading, limits alone tell: only where most of the ground lies far beyond them.

    Returns
    -------
    tuple of Reading
        At most three, those by steps first, otherwise the plainest first.
    """
    if written.allowed > _MOST_ALLOWED or not written.area_m2.sum() > 0:
        return ()
    numbers, at = np.unique(written.numbers, return_inverse=True)
    weights = np.bincount(at, weights=written.area_m2)
    weights = weights / weights.sum()
    own, step = float(written.per_step_unit), float(product.step.value)
    by_steps, by_limits = [], []
    beyond = _far_beyond(numbers * own, weights, product)
    others = tuple(_others(written, product, dialect))
    for reading in others:
        factor = float(reading.factor)
        half_digit = factor / (2 * 10**written.decimals)
        ratio = max(factor / own, own / factor)
        within = _within(numbers * factor, product, half_digit)
        off_step = _off_step(numbers * factor, product)
        on_step = within & (off_step <= max(half_digit, _rounding(product)))
        enough = len(numbers) > 1 or ratio >= _LARGE_FACTOR
        tells = 4 * half_digit < step and _chance(off_step[on_step] / step) * len(others) <= _CHANCE
        if enough and tells and float(weights[on_step].sum()) >= _LEAST_ALLOWED:
            by_steps.append(reading)
        elif beyond and float(weights[within].sum()) >= _LEAST_ALLOWED:
            by_limits.append(reading)
    return tuple((by_steps or by_limits)[:_MOST_TOLD])


def _others(written: Written, product: Product, dialect: Dialect) -> Iterator[Reading]:
    """Yield each other reading once: those by name, then a thousand times and a thousandth of the map's own."""
    own, name = written.per_step_unit, written.unit.name
    thousands = (Reading(f"thousands of {name}", own * 1000), Reading(f"thousandths of {name}", own / 1000))
    seen = [float(own)]
    for reading in (*readings(product, dialect), *thousands):
        factor = float(reading.factor)
        if all(abs(factor / one - 1) > _SAME for one in seen):
            seen.append(factor)
            yield reading


def _far_beyond(rates: Floats, weights: Floats, product: Product) -> bool:
    """Tell whether most of the ground is far above the highest rate; or far below the lowest, and not on steps.

    A map that is honestly low lies on the steps of its own unit.
    """
    above = float(weights[rates > _FAR_BEYOND * float(product.highest)].sum())
    below = float(weights[rates * _FAR_BEYOND < float(product.lowest)].sum())
    on_step = float(weights[_off_step(rates, product) <= _rounding(product)].sum())
    return above > _MOST_ALLOWED or (below > _MOST_ALLOWED and on_step < _MOST_ALLOWED)


def _chance(off_step: Floats) -> float:
    """Return how probably numbers drawn anywhere lie as near to steps, in parts of a step, as these do."""
    if not len(off_step):
        return 1.0
    return float(min(1.0, 2 * max(_NEAREST, float(off_step.max()))) ** len(off_step))


def _within(rates: Floats, product: Product, tolerance: float) -> NDArray[np.bool_]:
    slack = max(tolerance, _rounding(product))
    found: NDArray[np.bool_] = (rates >= float(product.lowest) - slack) & (rates <= float(product.highest) + slack)
    return found


def _off_step(rates: Floats, product: Product) -> Floats:
    """Return how far rates lie from the nearest step, whatever the limits."""
    base, step = float(product.base), float(product.step.value)
    found: Floats = np.abs(base + np.rint((rates - base) / step) * step - rates)
    return found


def _rounding(product: Product) -> float:
    """Return what the rounding of binary numbers may move a rate."""
    return 1e-6 * float(product.step.value)


def _in_dialect(name: str, dialect: Dialect) -> str:
    """Write ``gal/ac`` for ``us_gal/ac`` where people say it so."""
    return name.replace("us_", "") if dialect.system == "us" else name
