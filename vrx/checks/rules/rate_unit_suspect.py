"""The map's numbers fit the product in another unit than the one in which they are read.

Why it matters: litres a hectare taken for gallons an acre put on nine times too much; pounds of
nitrogen taken for pounds of product put on a third of what was meant.

How to put it right: ask whoever made the map for its unit, say it with --unit, and set the display
to it.

Source: arithmetic; how much evidence it takes is our own choice (vrx.dosing.other_units).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.records import above_zero
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.dosing.other_units import Reading, Written, better_readings
from vrx.model.checked_map import CheckedMap
from vrx.units import rate_number_text

_CERTAIN = ("said", "bundle")


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    rates, product = on.the_rates, on.the_product
    at = np.flatnonzero(above_zero(on))
    if rates.unit is None or rates.per_step_unit is None or not len(at):
        return
    area = np.ones(len(at)) if on.shapes is None else on.shapes.area_m2[at]
    written = Written(
        numbers=rates.numbers.values[at],
        area_m2=area,
        decimals=rates.decimals,
        unit=rates.unit,
        per_step_unit=rates.per_step_unit,
        allowed=float(area[rates.step_numbers[at] > 0].sum() / area.sum()),
    )
    found = better_readings(written, product, on.dialect)
    if not found:
        return
    numbers, which = np.unique(written.numbers, return_inverse=True)
    example = float(numbers[np.argmax(np.bincount(which, weights=area))])
    others = "; ".join(_read_as(one, example, on) for one in found)
    yield Seen(
        severity="caution" if rates.unit_how in _CERTAIN else "stop",
        message=(
            f"The map's numbers fit {product.name} ({product.allowed_text}) better in another unit than "
            f"{rates.unit_name}: {_as_read(example, on)}; {others}."
        ),
        remedy="Ask whoever made the map for its unit, and say it with --unit; set the display to it as well.",
    )


def _as_read(example: float, on: CheckedMap) -> str:
    rates, unit = on.the_rates, on.the_product.unit
    own = f"{rate_number_text(example)} read as {rates.unit_name}"
    if rates.unit == unit or rates.per_step_unit is None:
        return own
    return f"{own} is {rate_number_text(example * float(rates.per_step_unit))} {unit.name}"


def _read_as(one: Reading, example: float, on: CheckedMap) -> str:
    own, factor, product = float(on.the_rates.per_step_unit or 1), float(one.factor), on.the_product
    exact, base, step = example * factor, float(product.base), float(product.step.value)
    # What differs from a step by less than the last digit of the map is that step.
    meant = base + round((exact - base) / step) * step
    near = abs(meant - exact) <= factor / (2 * 10**on.the_rates.decimals)
    rate = rate_number_text(meant if near else float(f"{exact:.4g}"))
    ratio = rate_number_text(float(f"{max(own / factor, factor / own):.3g}"))
    return f"as {one.name} it would be {rate} {product.unit.name}: factor {ratio}"


RULE = Rule(id="rate-unit-suspect", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
