"""Whether product, crop and supply belong to this pass."""

from __future__ import annotations

from vrx.dosing.loads import in_product
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger
from vrx.model.plan import Plan
from vrx.units import amount_text, number_text

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
    """Caution where the map takes more than is on hand, what goes on twice included."""
    findings = []
    for product, account in zip(plan.rated, ledger.products, strict=True):
        if product.on_hand is None:
            continue
        on_hand, order = float(in_product(product.on_hand, product)), account.order
        short = float(order.needed) - on_hand
        # A rounding of the sum of areas is no shortage.
        if short > _SAME * order.needed:
            unit = account.total_unit
            twice = ""
            if order.overlap:
                share = number_text(order.overlap_share * 100)
                twice = f", {amount_text(float(order.needed))} {unit} with {share} % overlap"
            there = "" if unit == product.on_hand.unit.name else f", that is {amount_text(on_hand)} {unit}"
            findings.append(
                Finding(
                    id="more-than-on-hand",
                    severity="caution",
                    message=(
                        f"The map takes {amount_text(account.total_given)} {unit} of {product.name}{twice}; "
                        f"on hand are {product.on_hand}{there}: {amount_text(short)} {unit} too little."
                    ),
                    remedy="Get the rest, or lower the rates.",
                    product=product.name,
                )
            )
    return findings
