"""The usual cautions for what a plan puts on the field; they defer to label, local rules and licensed practice."""

from __future__ import annotations

from vrx.model.plan import Plan


def cautions(plan: Plan) -> tuple[str, ...]:
    """Return a sentence or two for each thing that can hurt someone."""
    uses, forms = {one.use for one in plan.rated}, {one.form for one in plan.rated}
    said = ["Before the pass: a qualified person reviews this map; the machine's manual limits what it can do."]
    if "crop protection" in uses:
        said.append("The product's label is the law: its rates, set-backs and timing hold over this map.")
    if uses & {"fertiliser", "lime"}:
        said.append("Local nutrient rules and set-backs from water and wells hold over this map.")
    if "gas" in forms:
        said.append("Pressurised ammonia burns and blinds: trained people, goggles, gloves, water at hand.")
    return tuple(said)
