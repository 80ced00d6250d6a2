"""What rules about rates share: which records count, how they are called, and their rates as people read them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import fsum
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.telling import size_text, together
from vrx.model.checked_map import CheckedMap
from vrx.units import Unit, rate_number_text
from vrx.words import some

Standing = Literal["negative", "zero", "below", "above", "off-step"]

MOST_RECORDS: Final = 12
_MOST_RATES: Final = 8
_RECORDS_OF_A_RATE: Final = 6


def having_ground(on: CheckedMap) -> NDArray[np.bool_]:
    """Tell which records have ground; each of them where the map holds none at all."""
    if on.shapes is None:
        return np.ones(len(on.the_layer.records), dtype=bool)
    found: NDArray[np.bool_] = on.shapes.area_m2 > 0
    return found


def area_of(on: CheckedMap, indices: Sequence[int]) -> float | None:
    """Return the ground of records in m2; None where the map holds none at all."""
    return None if on.shapes is None else fsum(on.shapes.area_m2[list(indices)])


def on_area(on: CheckedMap, indices: Sequence[int]) -> str:
    """Return the ground of records as ``, on 1.2000 ha (2.965 ac)``; empty where the map holds none at all."""
    area = area_of(on, indices)
    return "" if area is None else f", on {size_text(area, on)}"


def place_of(on: CheckedMap, indices: Sequence[int]) -> BaseGeometry | None:
    """Return where records lie, in local coordinates; None where the map holds no ground at all."""
    if on.shapes is None:
        return None
    shapes = on.shapes.shapes[list(indices)]
    return together(shapes[~shapely.is_missing(shapes)])


def named(on: CheckedMap, indices: Iterable[int], most: int = MOST_RECORDS) -> str:
    """Return records as people are told them: ``B (record 2), C (record 3) and 7 more``."""
    return some((on.called(at) for at in indices), most)


def rate_text(on: CheckedMap, at: int) -> str:
    """Return the rate of a record, in the product's unit too where that is another: ``120 lb N/ac (40.2 gal/ac)``."""
    rates = on.the_rates
    own = f"{rate_number_text(float(rates.numbers.values[at]))} {rates.unit_name}".rstrip()
    unit = step_unit(on)
    if unit is None or unit == rates.unit:
        return own
    return f"{own} ({rate_number_text(float(rates.rates[at]))} {unit.name})"


def step_unit(on: CheckedMap) -> Unit | None:
    """Return the unit that rates are told in beside the map's own: of the product's step, where they convert."""
    known = on.product is not None and on.the_rates.per_step_unit is not None
    return on.the_product.unit if known else None


def told_by_rate(on: CheckedMap, indices: Sequence[int], extra: Callable[[int], str] | None = None) -> str:
    """Return records by their rates, the largest ground first: ``240 kg/ha in D (record 4); 210 kg/ha in ...``.

    Parameters
    ----------
    extra : callable
        What to say behind the records of a rate, from one of them.
    """
    groups: dict[float, list[int]] = {}
    for at, rate in zip(indices, on.the_rates.numbers.values[list(indices)].tolist(), strict=True):
        groups.setdefault(rate, []).append(at)
    if len(groups) > _MOST_RATES:
        # Rates all over the place: their ends tell more than any few of them.
        low, high = (rate_text(on, groups[one(groups)][0]) for one in (min, max))
        return f"{len(groups)} rates from {low} to {high} in {named(on, indices, _RECORDS_OF_A_RATE)}"
    # Whole square metres: shapes of one size stay in the file's order.
    ordered = sorted(groups.values(), key=lambda one: -round(area_of(on, one) or 0.0))
    told = [
        f"{rate_text(on, members[0])} in {named(on, members, _RECORDS_OF_A_RATE)}{extra(members[0]) if extra else ''}"
        for members in ordered
    ]
    return "; ".join(told)


def standing(on: CheckedMap) -> Mapping[Standing, Sequence[int]]:
    """Return the records whose rates the product does not allow, each under one reason; needs ``limits``."""
    rates, product = on.the_rates, on.the_product
    values, tolerance = rates.rates, rates.tolerance
    wrong = (rates.step_numbers < 0) & np.isfinite(values) & having_ground(on)
    reasons: dict[Standing, NDArray[np.bool_]] = {
        "negative": values < -tolerance,
        "zero": np.abs(values) <= tolerance,
        "below": values < float(product.lowest) - tolerance,
        "above": values > float(product.highest) + tolerance,
        "off-step": np.ones(len(values), dtype=bool),
    }
    found = {}
    for reason, holds in reasons.items():
        found[reason] = np.flatnonzero(wrong & holds).tolist()
        wrong = wrong & ~holds
    return found


def above_zero(on: CheckedMap) -> NDArray[np.bool_]:
    """Tell which records with ground get some product."""
    values = on.the_rates.rates
    with np.errstate(invalid="ignore"):
        some_product: NDArray[np.bool_] = values > on.the_rates.tolerance
    return some_product & having_ground(on)
