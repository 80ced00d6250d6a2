"""Ground of the map has rate 0: nothing goes on there.

Why it matters: a machine that can't be shut off puts its lowest rate there. Where it can, the
ground stays bare; in a keep-out that is meant, elsewhere it is worth a look.

How to put it right: where the product can't be shut off, lift the machine there, or give the
ground a rate. Where it can, nothing, if it is meant.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from vrx.checks.records import area_of, having_ground, named, on_area, place_of, standing
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import size_text, together
from vrx.geo.area import true_areas
from vrx.geo.overlaps import common_ground, left_over
from vrx.model.checked_map import CheckedMap

# Narrower than that is how exactly two files were drawn, not ground that somebody left out.
_WORTH_A_WORD_M: Final = 0.5


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if not on.the_product.off_allowed:
        found = standing(on)["zero"]
        if found:
            yield Seen(
                severity="stop",
                message=(
                    f"{on.the_product.name} can't be shut off, and the map wants 0 in "
                    f"{named(on, found)}{on_area(on, found)}."
                ),
                remedy="Lift the machine there and say so to the operator, or have the ground given an allowed rate: "
                f"{on.the_product.allowed_text}.",
                area_m2=area_of(on, found),
                where=place_of(on, found),
                indices=tuple(found),
            )
    elif on.plan is not None and on.ground is not None and on.shapes is not None and not _as_built(on):
        yield from _outside_keep_outs(on)


def _as_built(on: CheckedMap) -> bool:
    """Tell whether the map is what a build wrote: its plan wants 0 there, and has said so."""
    return on.built_as is not None and on.built_as.by == "checksum" and not on.built_as.unlisted


def _outside_keep_outs(on: CheckedMap) -> Iterator[Seen]:
    shapes, ground = on.the_shapes, on.the_ground
    at = np.flatnonzero((on.the_rates.step_numbers == 0) & having_ground(on))
    if not len(at) or not shapes.meets_field:
        return
    off = common_ground(shapely.union_all(shapes.shapes[at]), ground.boundary)
    binding = [one.shape for one in ground.keep_outs if one.binds(on.the_product.name)]
    parts = left_over(off, shapely.union_all(binding), narrower_than_m=_WORTH_A_WORD_M)
    if not parts:
        return
    area = float(true_areas(np.array(parts, dtype=object), shapes.frame).sum())
    touched = [one for one in at.tolist() if any(shapely.intersects(shapes.shapes[one], part) for part in parts)]
    beside = " outside the keep-outs" if binding else ""
    yield Seen(
        severity="note",
        message=f"Nothing goes onto {size_text(area, on)} of the field{beside}: {named(on, touched)} has rate 0."
        if len(touched) == 1
        else f"Nothing goes onto {size_text(area, on)} of the field{beside}: {named(on, touched)} have rate 0.",
        remedy="Nothing, if it is meant.",
        area_m2=area,
        where=together(parts),
        indices=tuple(touched),
    )


RULE = Rule(id="rate-zero", looks_at="rates", needs=("layer", "rates", "product", "limits"), look=look)
