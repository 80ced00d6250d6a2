"""Parts of one rate are narrower than the drives that run at one rate.

Why it matters: drives of one group have one rate between them. Where a part is narrower than the
narrowest group, the group lies across two rates, and some ground gets its neighbour's.

How to put it right: have narrow parts joined to their neighbours, drive in the direction that the
parts run, or run fewer drives as one group.

Source: opening of mathematical morphology; the share of 2 % is our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from vrx.checks.records import above_zero, named
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import ground_m2, share_text, size_text
from vrx.geo.narrow import narrow_ground
from vrx.model.checked_map import CheckedMap
from vrx.units import length_text

_SHARE: Final = 0.02
_TOLD: Final = 6


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    plan, product, shapes = on.the_plan, on.the_product, on.the_shapes
    width = plan.machine.narrowest_m(product.name)
    drives = plan.machine.drives_of(product.name)
    if width is None or not drives:
        yield Unseen(f"No drive of the plan carries {product.name}: name it in the drive that does.")
        return
    given = np.flatnonzero(above_zero(on))
    # The machine tells rates apart by its steps alone.
    from_base = on.the_rates.rates[given] - float(product.base)
    steps = np.rint(from_base / float(product.step.value)).astype(np.int64)
    heading = plan.field.heading
    narrow = narrow_ground(shapes.shapes[given], steps, width, heading=heading)
    area = float(narrow.area_m2.sum())
    share = area / ground_m2(on)
    if share <= _SHARE:
        return
    order = np.argsort(-narrow.area_m2, kind="stable")
    touched = given[order[:_TOLD]][narrow.area_m2[order[:_TOLD]] > 0].tolist()
    across = "" if heading is None else f" across the heading of {heading:g} degrees"
    yield Seen(
        message=(
            f"{size_text(area, on)}, {share_text(share)} of the ground, lies in parts of one rate that are "
            f"narrower{across} than {length_text(width, on.dialect)}, the narrowest group that carries {product.name}: "
            f"the most of it in {named(on, touched)}."
        ),
        remedy="Join narrow parts to their neighbours, drive the way that they run, or run fewer drives as one group.",
        area_m2=area,
        where=shapely.disjoint_subset_union_all(narrow.pieces),
        indices=tuple(touched),
    )


RULE = Rule(
    id="group-too-wide",
    looks_at="belonging",
    needs=("layer", "shapes", "rates", "plan", "machine", "product", "limits"),
    look=look,
)
