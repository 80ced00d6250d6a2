"""Whether the parts of a plan agree: names, zone layers, and what one part needs of another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from vrx.model.keys import KeyPath, Refused
from vrx.model.plan_names import NamesInPlan, names_refused
from vrx.model.product import currencies_refused
from vrx.words import nearest

if TYPE_CHECKING:
    from vrx.model.plan import Plan


def disagreements(plan: Plan, shared: tuple[str, ...]) -> Iterator[Refused]:
    """Give everything in which the parts of a plan do not agree, each with its place; names first, and alone.

    Parameters
    ----------
    shared : tuple of str
        Names of the shared products, whether this pass uses them or not.
    """
    found = list(names_refused(_names(plan, shared)))
    yield from found
    if not found:
        yield from _layers_refused(plan)
        yield from _overlays_refused(plan)
        yield from _holes_refused(plan)
        yield from currencies_refused(plan.product)


def _names(plan: Plan, shared: tuple[str, ...]) -> NamesInPlan:
    drives: dict[KeyPath, str] = {
        ("machine", "drive", at, "product"): one.product for at, one in enumerate(plan.machine.drive) if one.product
    }
    drives |= {
        ("machine", "drive", at, "one_of", nth): name
        for at, one in enumerate(plan.machine.drive)
        for nth, name in enumerate(one.one_of)
    }
    return NamesInPlan(
        products={("product", at, "name"): one.name for at, one in enumerate(plan.product)},
        rates={("rate", at, "product"): one.product for at, one in enumerate(plan.rate)},
        keep_outs={
            ("keep_out", at, "products", nth): name
            for at, one in enumerate(plan.keep_out)
            for nth, name in enumerate(one.products)
        },
        overlays={
            ("overlay", at, "products", nth): name
            for at, one in enumerate(plan.overlay)
            for nth, name in enumerate(one.products)
        },
        drives=drives,
        boxes={("machine", "tank", at, "product"): one.product for at, one in enumerate(plan.machine.tank)},
        shared=shared,
    )


def _layers_refused(plan: Plan) -> Iterator[Refused]:
    """Give every rate that names no zone layer where there are several, or one that is not there."""
    known = tuple(plan.zone_layers)
    for at, rate in enumerate(plan.rate):
        if rate.zones in known:
            continue
        if known == ("",):
            problem = f"There is no [zones.{rate.zones}]: one [zones] table is for all."
            remedy = "Leave zones out."
        elif not rate.zones:
            problem = "It does not say which of the zone layers it goes by."
            remedy = f"Add zones, one of {_listed(known)}."
        else:
            problem = f"There is no [zones.{rate.zones}]."
            remedy = f"{nearest(rate.zones, known)}Use {_listed(known)}."
        yield Refused(("rate", at, "zones") if rate.zones else ("rate", at), problem, remedy)


def _overlays_refused(plan: Plan) -> Iterator[Refused]:
    """Give every overlay that needs what the plan does not say."""
    for at, overlay in enumerate(plan.overlay):
        if overlay.laps is not None and plan.machine.width is None:
            yield Refused(
                ("overlay", at, "where"),
                "A headland is counted in laps of the machine, and the machine has no width.",
                'Give [machine] a width, or a distance, such as where = "edge 60 ft".',
            )


def _holes_refused(plan: Plan) -> Iterator[Refused]:
    if plan.receiver.keep_outs == "hole":
        for product in plan.rated:
            if product.number_where("default") != 0:
                yield Refused(
                    ("receiver", "keep_outs"),
                    f'keep_outs = "hole" would let the default rate of {product.name!r} fill every keep-out.',
                    'Use keep_outs = "zero", or a default of 0.',
                )


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(f'"{name}"' for name in names)
