"""Whether product, crop and supply belong to this pass."""

from __future__ import annotations

from fractions import Fraction

from vrx.dosing.conversion import conversion_to_product
from vrx.errors import UnitError
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.plan import Plan
from vrx.model.product import Product
from vrx.units import Unit, amount_text, parse_unit

_SAME = 1e-9


def belonging_findings(plan: Plan) -> list[Finding]:
    """Stop where a product is not meant for the crop that the plan names."""
    crop = plan.field.crop
    return [
        Finding(
            id="crop-mismatch",
            severity="stop",
            message=f"{product.name} is for {', '.join(product.crops)}, and the field grows {crop}.",
            remedy="Check the label; correct the crop of the field, or the crops of the product.",
            product=product.name,
        )
        for product in plan.rated
        if crop and product.crops and crop.casefold() not in {one.casefold() for one in product.crops}
    ]


def supply_findings(plan: Plan, ledger: Ledger) -> list[Finding]:
    """Caution where the map takes more than is on hand."""
    findings = []
    for product, account in zip(plan.rated, ledger.products, strict=True):
        if product.on_hand is None:
            continue
        on_hand = float(product.on_hand.value * _in_product_units(product.on_hand.unit, product, plan))
        short = account.total_given - on_hand
        # A rounding of the sum of areas is no shortage.
        if short > _SAME * account.total_given:
            unit = account.total_unit
            there = "" if unit == product.on_hand.unit.name else f", that is {amount_text(on_hand)} {unit}"
            findings.append(
                Finding(
                    id="more-than-on-hand",
                    severity="caution",
                    message=(
                        f"The map takes {amount_text(account.total_given)} {unit} of {product.name}; on hand are "
                        f"{product.on_hand}{there}: {amount_text(short)} {unit} too little."
                    ),
                    remedy="Order the rest, or lower the rates.",
                    product=product.name,
                )
            )
    return findings


def _in_product_units(unit: Unit, product: Product, plan: Plan) -> Fraction:
    """Return one of a unit of amount, such as lb, in the product's own unit of amount, such as gal."""
    per = parse_unit(product.unit.per, plan.dialect)
    rate = Unit(f"{unit.name}/{per.name}", f"{unit.kind}/{per.kind}", unit.factor / per.factor, unit.of)
    try:
        return conversion_to_product(rate, product).factor
    except UnitError as err:
        at = plan.product.index(product)
        raise UnitError(
            # An amount is turned like a rate on the same ground, and told as an amount.
            err.problem.replace(f"/{per.name}", ""),
            remedy=err.remedy,
            where=f"product[{at}].on_hand",
            key=("product", at, "on_hand"),
        ) from err
