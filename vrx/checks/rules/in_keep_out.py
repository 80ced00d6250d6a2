"""The map has a rate above 0 in a keep-out.

Why it matters: a keep-out is there to protect water, a well, a house or a neighbour's crop, and
often by law. The machine goes by the map.

How to put it right: do not load the map. Have it built anew with the keep-outs: ``vrx check
--fix`` does not take them out. Which distances have to be kept the label and local rules say; they
hold over any plan.

Source: common practice, no source, for 0.5 m, below which it is a note.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import shapely

from vrx.checks.records import above_zero, rate_text
from vrx.checks.rule import NEEDS, Rule, Seen, Unseen
from vrx.checks.telling import size_text, together
from vrx.geo.area import rectangle_width_m
from vrx.model.checked_map import CheckedMap, KeptOut
from vrx.model.zone_map import KeepOutArea
from vrx.units import length_text
from vrx.words import some

NARROW_M: Final = 0.5


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    areas = on.the_ground.keep_outs
    if on.plan is None or (on.plan.keep_out and not areas):
        yield Unseen(
            "No plan is known, which names the keep-outs: name one with --plan."
            if on.plan is None
            else "None of the plan's keep-outs lies in this boundary."
        )
        return
    bound = [one for one in on.the_shapes.kept_out if _binds(areas[one.keep_out], on)]
    if not bound:
        return
    if on.rates is None:
        yield Unseen(NEEDS["rates"](on))
        return
    some_product = above_zero(on)
    given = [one for one in bound if some_product[one.index]]
    for keep_out in sorted({one.keep_out for one in given if _is_wide(one)}):
        yield _given(areas[keep_out], [one for one in given if one.keep_out == keep_out and _is_wide(one)], on)
    narrow = [one for one in given if not _is_wide(one)]
    if narrow:
        size = sum(one.area_m2 for one in narrow)
        names = some(dict.fromkeys(areas[one.keep_out].name for one in narrow))
        yield Seen(
            severity="note",
            message=(
                f"Shapes of the map reach into keep-outs by less than {length_text(NARROW_M, on.dialect)}, on "
                f"{size_text(size, on)} together: {names}."
            ),
            remedy="Keep that much more away from them.",
            area_m2=size,
            where=together(one.shape for one in narrow),
            indices=tuple(dict.fromkeys(one.index for one in narrow)),
        )


def _given(area: KeepOutArea, found: Sequence[KeptOut], on: CheckedMap) -> Seen:
    size = sum(one.area_m2 for one in found)
    records = list(dict.fromkeys(one.index for one in found))
    if area.is_rest:
        what, remedy = (
            f"The map gives something beside the part of the field that is to be treated ({area.name})",
            "Do not load it: have it built anew for that part.",
        )
    else:
        back = f" (set-back {length_text(area.set_back_m, on.dialect)})" if area.set_back_m else ""
        what, remedy = (
            f"The map gives something in the keep-out {area.name}{back}",
            "Do not load it: have it built anew with the keep-out.",
        )
    told = some(f"{on.called(at)} at {rate_text(on, at)}" for at in records)
    return Seen(
        severity="stop",
        message=f"{what}, on {size_text(size, on)}: {told}.",
        remedy=remedy,
        area_m2=size,
        where=together(one.shape for one in found),
        indices=tuple(records),
    )


def _binds(area: KeepOutArea, on: CheckedMap) -> bool:
    name = on.product.name if on.product is not None else on.product_asked
    return area.binds(name) if name else not area.products


def _is_wide(one: KeptOut) -> bool:
    return bool((rectangle_width_m(shapely.get_parts(np.array([one.shape], dtype=object))) >= NARROW_M).any())


RULE = Rule(id="in-keep-out", looks_at="shapes", needs=("layer", "shapes", "field"), look=look)
