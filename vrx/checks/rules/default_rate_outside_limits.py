"""A rate that the card tells to set on the display is none that the product allows as it is now.

Why it matters: the default rate goes on wherever the map says nothing, and the hand-picked ones
wherever the operator chooses: outside the limits they are refused, or given unasked.

How to put it right: build the plan again and set the display by its card; or set an allowed rate.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.errors import UnitError
from vrx.model.checked_map import CheckedMap
from vrx.model.finding import Severity
from vrx.units import Dialect, parse_measure

_LABELS: Final[tuple[tuple[str, str, Severity], ...]] = (
    ("Default rate", "the default rate", "stop"),
    ("No position", "the rate without a position", "caution"),
    ("Rates to pick by hand", "a rate to pick by hand", "caution"),
)


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    then = on.the_bundle.settings.get(on.the_product.name, {})
    for start, what, severity in _LABELS:
        text = next((value for label, value in then.items() if label.startswith(start)), "")
        wrong = [rate for rate in _rates(text) if not _allowed(rate, on)]
        if wrong:
            yield Seen(
                severity=severity,
                message=(
                    f"The card of {on.the_bundle.bundle} tells {what} of {', '.join(wrong)}, and {on.the_product.name} "
                    f"allows {on.the_product.allowed_text}."
                ),
                remedy="Build the plan again and set the display by its card, or set an allowed rate.",
            )


def _rates(text: str) -> list[str]:
    """Return each rate with its unit: ``4 gal/ac`` and ``7 gal/ac`` for ``4, 7 gal/ac``."""
    found = re.fullmatch(r"([-+0-9., eE]+?)\s*([^\s0-9.,].*)", text)
    if found is None:
        return []
    return [f"{number.strip()} {found[2]}" for number in found[1].split(",") if number.strip()]


def _allowed(rate: str, on: CheckedMap) -> bool:
    # A card names units as its plan did; only a plan in US units writes gal.
    dialect = on.dialect if on.dialect.system else Dialect("us")
    product = on.the_product
    try:
        measure = parse_measure(rate, kinds=(product.unit.kind,), dialect=dialect)
        return product.number_of(product.in_unit(measure)) is not None
    except UnitError:
        return False


RULE = Rule(id="default-rate-outside-limits", looks_at="belonging", needs=("layer", "bundle", "product"), look=look)
