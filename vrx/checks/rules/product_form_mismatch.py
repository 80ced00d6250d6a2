"""The product, the unit of the map and the machine's drives are not of one kind.

Why it matters: seeds an acre are no rate of a liquid. Either the map is for another product, or it
goes to another drive than the one that carries it.

How to put it right: take the map of this product; or correct the form of the product, or form and
flow of the drive.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.model.forms import KINDS_OF_FORM

if TYPE_CHECKING:
    from vrx.model.machine import Drive
    from vrx.model.product import Product
    from vrx.model.ranges import Flow

# What flows through a meter or pump; a dry product may be told by the volume that its auger moves.
_FLOWS: Final = {
    "seed": ("count/time", "mass/time"),
    "liquid": ("volume/time", "mass/time"),
    "granular": ("mass/time", "volume/time"),
    "gas": ("mass/time", "volume/time"),
}


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    product = on.the_product
    if on.rates is None or on.rates.unit is None:
        yield Unseen("The unit of the rates is not known: say column and unit with --column and --unit.")
    else:
        unit = on.rates.unit
        # A mass of a nutrient becomes product by the analysis; live seed is of seed alone.
        if (unit.of not in ("", "live seed") and unit.kind == "mass/area") or unit.kind in KINDS_OF_FORM[product.form]:
            pass
        else:
            kinds = " or ".join(kind.partition("/")[0] for kind in KINDS_OF_FORM[product.form])
            yield Seen(
                message=(
                    f"The map is in {unit.name}, and {product.name} is {_a(product.form)} product, metered by {kinds}."
                ),
                remedy="Take the map that was made for this product, or correct its form.",
            )
    if on.plan is not None:
        for drive in on.plan.machine.drives_of(product.name):
            yield from _of_drive(drive, product)
        for box in on.plan.machine.boxes_of(product.name):
            if box.flow is not None and not _fits(box.flow, product):
                yield _flow_seen(f"its box of {box.size}", box.flow, product)


def _of_drive(drive: Drive, product: Product) -> Iterator[Seen]:
    if drive.form is not None and drive.form != product.form:
        yield Seen(
            message=(
                f"{product.name} is {_a(product.form)} product, and drive {drive.name}, which carries it, meters "
                f"{_a(drive.form)} one."
            ),
            remedy="Correct the form of the product or of the drive, or name the drive that carries it.",
        )
    for flow in (drive.flow, drive.outlet_flow):
        if flow is not None and not _fits(flow, product):
            yield _flow_seen(f"drive {drive.name}, which carries it,", flow, product)


def _fits(flow: Flow, product: Product) -> bool:
    return flow.kind in _FLOWS[product.form]


def _flow_seen(what: str, flow: Flow, product: Product) -> Seen:
    kind = flow.kind.partition("/")[0]
    return Seen(
        message=f"{product.name} is {_a(product.form)} product, and {what} gives a {kind}: {flow}.",
        remedy="Correct the flow or the form, or name the drive that carries the product.",
    )


def _a(form: str) -> str:
    return f"a {form}"


RULE = Rule(id="product-form-mismatch", looks_at="belonging", needs=("layer", "product"), look=look)
