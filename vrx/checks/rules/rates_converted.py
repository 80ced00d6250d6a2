"""The map's rates are of another kind, and become product by a figure of the product.

Why it matters: the display has to do the same sum with the same figures. Rates of a nutrient taken
for rates of product put on a multiple of it.

How to put it right: compare analysis, density or seed weight with the label of what is in the
tank, and set the display to the unit that the map is in; or have the map made in the unit that the
machine counts in.

Source: algebra, with the figures of the label.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    rates, product = on.the_rates, on.the_product
    if rates.unit is None or (not rates.unit.of and rates.unit.kind == product.unit.kind):
        return
    yield Seen(
        message=(
            f"The map is in {rates.unit_name} and {product.name} is metered in {product.unit.name}: "
            f"{'; '.join(rates.conversion)}."
        ),
        remedy="Compare these figures with the label of what is in the tank, and let the display do the same sum.",
    )


RULE = Rule(id="rates-converted", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
