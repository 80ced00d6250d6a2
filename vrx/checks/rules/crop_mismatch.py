"""The map, or its product, is for another crop than the one in the field.

Why it matters: what feeds one crop may burn another, and a label allows only the crops that it
names.

How to put it right: take the map of this field and season; check the label. Where only the name is
spelled another way, correct the crop in the plan.

Source: the label; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import visible


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    crop = on.the_plan.field.crop
    if not crop:
        yield Unseen("The plan does not say the crop: give it as crop in [field].")
        return
    product = on.product
    if product is not None and product.crops and crop.casefold() not in {one.casefold() for one in product.crops}:
        yield Seen(
            message=f"{product.name} is for {', '.join(product.crops)}, and the field grows {crop}.",
            remedy="Check the label; correct the crop of the field, or the crops of the product.",
        )
    built = "" if on.built_as is None else on.built_as.crop
    says = built or on.file_says.get("crop", "")
    if not says:
        yield Unseen("The file does not say its crop: ask whoever made it.")
    elif " ".join(says.casefold().split()) != " ".join(crop.casefold().split()):
        who = f"The bundle {on.built_as.bundle}" if built and on.built_as is not None else "The map"
        yield Seen(
            message=f"{who} says that the map is for {visible(says)}, and the field grows {crop}.",
            remedy="Take the map that was made for this crop; or correct the crop of the field in the plan.",
        )


RULE = Rule(id="crop-mismatch", looks_at="belonging", needs=("layer", "plan"), look=look)
