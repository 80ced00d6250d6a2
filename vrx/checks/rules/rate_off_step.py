"""Rates of the map lie between the steps that the machine can make.

Why it matters: the machine rounds them by itself, up or down: totals then differ from the ones
that were ordered by.

How to put it right: have the rates made in the machine's steps, or let ``vrx check --fix-rates``
round them and tell what that changes.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.records import area_of, on_area, place_of, standing, told_by_rate
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    found, product = standing(on)["off-step"], on.the_product
    if found:
        yield Seen(
            message=(
                f"{product.name} is given as {product.allowed_text}, and the map wants "
                f"{told_by_rate(on, found)}{on_area(on, found)}."
            ),
            remedy="The machine rounds such rates by itself: have them made in its steps, so that totals hold.",
            area_m2=area_of(on, found),
            where=place_of(on, found),
            indices=tuple(found),
        )


RULE = Rule(id="rate-off-step", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
