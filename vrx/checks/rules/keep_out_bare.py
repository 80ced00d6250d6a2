"""A keep-out has no shape in the map, and the product's default rate is above 0.

Why it matters: where a map says nothing a display gives its default rate. A keep-out that is a mere hole
in the map may so get product all the same.

How to put it right: have the keep-out drawn in the map with rate 0, as ``vrx build`` does, or set the
default rate on the display to 0.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import size_text, together
from vrx.model.checked_map import CheckedMap, KeptOut


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    if not on.the_shapes.meets_field:
        return
    product = on.product
    number = None if product is None else product.number_where("default")
    if number == 0:
        return
    by_area: dict[int, list[KeptOut]] = {}
    for one in on.the_shapes.bare_keep_outs:
        by_area.setdefault(one.keep_out, []).append(one)
    gets = "whatever default rate it is set to"
    if product is not None and number is not None:
        gets = f"its default rate, {product.rate_text(number)}"
    for keep_out, found in by_area.items():
        area = on.the_ground.keep_outs[keep_out]
        size = sum(one.area_m2 for one in found)
        where = "ground beside the part to treat" if area.is_rest else f"the keep-out {area.name}"
        yield Seen(
            message=f"No shape of the map lies on {size_text(size, on)} of {where}: the display gives {gets}, there.",
            remedy="Have it drawn with rate 0, or set the default rate on the display to 0.",
            area_m2=size,
            where=together(one.shape for one in found),
        )


RULE = Rule(id="keep-out-bare", looks_at="shapes", needs=("layer", "shapes", "field", "plan"), look=look)
