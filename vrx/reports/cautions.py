"""The usual cautions for what a plan puts on the field; they defer to label, local rules and licensed practice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # pydantic is loaded only where a plan or product is
    from vrx.model.plan import Plan
    from vrx.model.product import Product


def cautions(plan: Plan) -> tuple[str, ...]:
    """Return a sentence or two for each thing of a plan that can hurt someone."""
    return cautions_of(plan.rated)


def cautions_of(products: Sequence[Product]) -> tuple[str, ...]:
    """Return a sentence or two for each thing that can hurt someone."""
    uses, forms = {one.use for one in products}, {one.form for one in products}
    said = ["Before the pass: a qualified person reviews this map; the machine's manual limits what it can do."]
    if "crop protection" in uses:
        said.append("The product's label is the law: its rates, set-backs and timing hold over this map.")
    if uses & {"fertiliser", "lime"}:
        said.append("Local nutrient rules and set-backs from water and wells hold over this map.")
    if "gas" in forms:
        said.append("Pressurised ammonia burns and blinds: trained people, goggles, gloves, water at hand.")
    return tuple(said)
