"""Rates of the map lie above the highest rate of the product.

Why it matters: the machine lowers them or refuses the map, by itself and without a word to whoever
made it; for crop protection the label's rate is the law.

How to put it right: have the map made for what product and machine can do; the label and local
rules come first. ``vrx check --fix-rates`` lowers rates to the highest one. Where the machine can
do more, correct max of the product.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.records import area_of, on_area, place_of, standing, told_by_rate
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.units import rate_number_text


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    found, product = standing(on)["above"], on.the_product
    if found:
        highest, unit = float(product.highest), product.unit.name
        yield Seen(
            message=(
                f"{product.name} has a maximum of {rate_number_text(highest)} {unit}, and the map wants "
                f"{told_by_rate(on, found, lambda at: _too_much(on, at))}{on_area(on, found)}. "
                f"Allowed: {product.allowed_text}."
            ),
            remedy="The machine lowers such rates or refuses the map by itself: have the map made within the limits.",
            area_m2=area_of(on, found),
            where=place_of(on, found),
            indices=tuple(found),
        )


def _too_much(on: CheckedMap, at: int) -> str:
    over = float(on.the_rates.rates[at]) - float(on.the_product.highest)
    return f", {rate_number_text(over)} {on.the_product.unit.name} too much"


RULE = Rule(id="rate-above-max", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
