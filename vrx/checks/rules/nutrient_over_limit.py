"""The map puts on more of a nutrient than the plan's limit.

Why it matters: limits on nutrients come from rules, permits and nutrient plans; some are law.

How to put it right: lower the rates where they go over. Other products of the pass and of the
season add to it: ``vrx ready`` adds up the maps of a plan. Local rules and licensed practice come
first.

Source: the plan's [caps]; algebra, with the analysis of the label.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from vrx.checks.nutrients import per_unit
from vrx.checks.records import above_zero, area_of, on_area, place_of, told_by_rate
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.dosing.nutrients import carries
from vrx.errors import UnitError
from vrx.model.checked_map import CheckedMap
from vrx.units import rate_number_text

_SAME: Final = 1e-9


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    product = on.the_product
    for nutrient, cap in on.the_plan.caps.items():
        if not carries(product, nutrient):
            continue
        try:
            each = per_unit(product, cap.unit)
        except UnitError as err:
            yield Unseen(str(err))
            continue
        brought = np.where(above_zero(on), on.the_rates.rates, 0.0) * each
        most = float(cap.value)
        found = np.flatnonzero(brought > most * (1 + _SAME)).tolist()
        if not found:
            continue
        others = [one.name for one in on.the_plan.rated if one.name != product.name and carries(one, nutrient)]
        more = f" {' and '.join(others)} of this plan add to it: vrx ready adds them up." if others else ""
        unit = cap.unit.name
        told = {at: f", {rate_number_text(float(brought[at]))} {unit}" for at in found}
        yield Seen(
            message=(
                f"{product.name} brings up to {rate_number_text(float(brought.max()))} {unit}, and the plan's limit is "
                f"{cap}: {told_by_rate(on, found, told.__getitem__)}{on_area(on, found)}.{more}"
            ),
            remedy=f"Lower these rates to {rate_number_text(most / each)} {product.unit.name} or less; local rules and "
            "the nutrient plan come first.",
            area_m2=area_of(on, found),
            where=place_of(on, found),
            indices=tuple(found),
        )


RULE = Rule(
    id="nutrient-over-limit", looks_at="amounts", needs=("layer", "rates", "plan", "product", "limits"), look=look
)
