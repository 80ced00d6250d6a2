"""The map takes more product than there is.

Why it matters: the tank runs dry within the field, and the rest of it waits.

How to put it right: get the rest before the start, or have the rates lowered.

Source: algebra: rates times true areas, and the product's share of the width.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import fsum
from typing import Final

from vrx.checks.records import above_zero
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.dosing.amounts import amount_per_m2
from vrx.dosing.loads import in_product
from vrx.errors import UnitError
from vrx.model.checked_map import CheckedMap
from vrx.units import amount_text, number_text

_SAME: Final = 1e-9


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    product = on.the_product
    if product.on_hand is None:
        return
    try:
        on_hand = float(in_product(product.on_hand, product))
    except UnitError as err:
        yield Unseen(str(err))
        return
    taken = amount_of(on)
    overlap = product.overlap or Fraction(0)
    needed = taken * float(1 + overlap)
    short = needed - on_hand
    if short > _SAME * needed:
        unit = product.unit.amount
        twice = f", {amount_text(needed)} {unit} with {number_text(overlap * 100)} % overlap" if overlap else ""
        there = "" if unit == product.on_hand.unit.name else f", that is {amount_text(on_hand)} {unit}"
        yield Seen(
            message=(
                f"The map takes {amount_text(taken)} {unit} of {product.name}{twice}; on hand are "
                f"{product.on_hand}{there}: {amount_text(short)} {unit} too little."
            ),
            remedy="Get the rest, or lower the rates.",
        )


def amount_of(on: CheckedMap) -> float:
    """Return what a map takes, in the product's own unit of amount: on true areas, on its share of the width."""
    product, given = on.the_product, above_zero(on)
    share = Fraction(1) if on.plan is None else on.plan.share_of_width(product.name)
    each = float(amount_per_m2(product.unit) * share)
    return each * fsum(on.the_rates.rates[given] * on.the_shapes.area_m2[given])


RULE = Rule(
    id="more-than-on-hand", looks_at="amounts", needs=("layer", "shapes", "rates", "product", "limits"), look=look
)
