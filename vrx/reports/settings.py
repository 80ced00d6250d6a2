"""What a person sets on the display for a product, in the order in which they set it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from vrx.model.content import Fact
from vrx.units import number_text

if TYPE_CHECKING:
    from vrx.model.product import Product


def settings(product: Product) -> tuple[Fact, ...]:
    """Return a product's settings; rates carry their unit."""
    return tuple(Fact(label=label, value=value) for label, value in _settings(product))


def _settings(product: Product) -> Iterator[tuple[str, str]]:
    unit = product.unit.name
    yield "Unit", unit
    yield "Minimum", f"{number_text(product.lowest)} {unit}"
    yield "Maximum", f"{number_text(product.highest)} {unit}"
    counted = "" if product.step_from == "zero" else ", counted from the minimum"
    yield "Step", f"{number_text(product.step.value)} {unit}{counted}"
    if not product.off_allowed:
        yield "Shut off", "not possible: lift the machine"
    yield "Default rate, where the map says nothing", product.rate_text(product.number_where("default"))
    yield "Outside the boundary", product.rate_text(product.number_where("outside"))
    yield "No position, signal lost", product.rate_text(product.number_where("no_position"))
    if product.hand_rates:
        rates = ", ".join(number_text(product.in_unit(rate)) for rate in product.hand_rates)
        yield "Rates to pick by hand", f"{rates} {unit}"
