"""No drive of the machine carries the product of the map.

Why it matters: the map has nowhere to go; the display may offer to run it on a drive with another
product.

How to put it right: name the product in the drive that carries it; or take the map of what the
machine carries.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import some


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    machine, product = on.the_plan.machine, on.the_product
    if not machine.drives_of(product.name):
        carried = some(f"{one.name} ({' or '.join(one.products)})" for one in machine.drive)
        yield Seen(
            message=f"No drive of the machine carries {product.name}: its drives are {carried}.",
            remedy="Name the product in the drive that carries it, or take the map of what the machine carries.",
        )


RULE = Rule(id="product-without-drive", looks_at="belonging", needs=("layer", "plan", "machine", "product"), look=look)
