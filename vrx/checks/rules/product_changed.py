"""The product was changed since the map was built: the old card's settings no longer hold.

Why it matters: the operator sets the display by the card. Limits, steps or the default rate on it
are not those of the product today.

How to put it right: build the plan again and take the new card and map; or set the display to the
values of today.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    then, now = on.the_bundle.settings.get(on.the_product.name), on.settings
    if then is None:
        yield Unseen("The bundle that the map comes from does not tell the settings of this product.")
        return
    changes = [
        f"{label}: {then.get(label, 'nothing said')} then, {now.get(label, 'nothing said')} now"
        for label in dict.fromkeys((*then, *now))
        if then.get(label) != now.get(label)
    ]
    if changes:
        yield Seen(
            message=(
                f"{on.the_product.name} was changed since {on.the_bundle.bundle} was built. {'; '.join(changes)}."
            ),
            remedy="Build the plan again and take its card and map; the settings on the old card no longer hold.",
        )


RULE = Rule(id="product-changed", looks_at="belonging", needs=("layer", "bundle", "product"), look=look)
