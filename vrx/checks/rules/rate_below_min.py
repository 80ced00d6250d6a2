"""Rates of the map lie below the lowest rate of the product, and above 0.

Why it matters: the machine raises them, shuts off or refuses the map, by itself and without a word
to whoever made it.

How to put it right: have the map made for what product and machine can do: the lowest rate, or 0.
``vrx check --fix-rates`` does what the product's below_min says.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vrx.checks.records import above_zero, area_of, on_area, place_of, standing, told_by_rate
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.units import rate_number_text

# Where more of the treated ground is below the minimum, the map is for another product, or in another unit.
_MOST: Final = 0.5
_ROUNDING: Final = 1e-6


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    found, product = standing(on)["below"], on.the_product
    if found:
        lowest, unit = rate_number_text(float(product.lowest)), product.unit.name
        given = float(on.the_shapes.area_m2[above_zero(on)].sum()) if on.shapes is not None else 0.0
        most = given > 0 and (area_of(on, found) or 0.0) > _MOST * given * (1 + _ROUNDING)
        yield Seen(
            severity="stop" if most else "caution",
            message=(
                f"{product.name} has a minimum of {lowest} {unit}, and the map wants "
                f"{told_by_rate(on, found)}{on_area(on, found)}. Allowed: {product.allowed_text}."
            ),
            remedy="The machine raises such rates, shuts off or refuses the map by itself: have them raised to "
            f"{product.rate_text(product.first)}{' or set to 0' if product.off_allowed else ''}.",
            area_m2=area_of(on, found),
            where=place_of(on, found),
            indices=tuple(found),
        )


RULE = Rule(id="rate-below-min", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
