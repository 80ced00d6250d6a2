"""What a plan says of a pass, as lines to set and to tick, in the order in which each rests on those before it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vrx.model.machine import Drive
from vrx.model.plan import Plan
from vrx.model.product import Product
from vrx.model.readiness import ReadyLine
from vrx.reports.settings import settings
from vrx.reports.words import area_words, length_words

TITLES: Final = (
    "Machine and its drives",
    "Drives that run as one group",
    "Client, farm and field",
    "Crop",
    "Products on drives",
    "The map for each product",
    "Start position",
)
"""The steps of the walk-through, in order."""


def machine_lines(plan: Plan) -> Iterator[ReadyLine]:
    """Yield the machine, and what its drives serve and carry."""
    machine = plan.machine
    if not machine.name and machine.width is None and not machine.drive:
        yield _by_hand("The plan names no machine: set it by its manual.", "Add [machine] to have it looked at.")
        return
    width = f", {length_words(machine.width, plan)} wide" if machine.width is not None else ""
    yield _by_hand(f"The display shows the machine {machine.name or '(no name in the plan)'}{width}.")
    for drive in machine.drive:
        yield _by_hand(f"Drive {drive.name} serves {_span_words(drive, plan)} and carries {_carried(drive)}.")
    if machine.drive and machine.width is not None:
        yield from _width_lines(machine.drive, machine.width, plan)


def group_lines(plan: Plan) -> Iterator[ReadyLine]:
    """Yield which drives run at one rate, to be seen on the display."""
    if not plan.machine.drive:
        yield _by_hand(
            "The plan names no drives: set which of them run at one rate by hand.",
            "Add [[machine.drive]] tables to have them looked at.",
        )
        return
    for label, drives in groups_of(plan).items():
        names = ", ".join(drive.name for drive in drives)
        group = f" ({label})" if drives[0].group else ""
        alone = f"Drive {names} runs alone{group}." if len(drives) == 1 else f"Drives {names} run at one rate{group}."
        yield _by_hand(f"The display shows: {alone}")


def groups_of(plan: Plan) -> dict[str, list[Drive]]:
    """Return the drives of each group by its name; a drive without one by its own."""
    groups: dict[str, list[Drive]] = {}
    for drive in plan.machine.drive:
        groups.setdefault(f"group {drive.group}" if drive.group else f"drive {drive.name}", []).append(drive)
    return groups


def field_lines(plan: Plan, boundary_m2: float) -> Iterator[ReadyLine]:
    """Yield what to choose on the display: client, farm and field."""
    field = plan.field
    for label, value in (("client", field.client), ("farm", field.farm), ("field", field.name)):
        if value:
            yield _by_hand(f"The display shows the {label} {value}.")
        else:
            yield _by_hand(f"The plan names no {label}: choose it by hand.", f"Add {label} to [field].")
    yield ReadyLine(
        text=f"Within the boundary lie {area_words(boundary_m2, plan)} of true ground (geodesic).", state="fine"
    )


def crop_lines(plan: Plan) -> Iterator[ReadyLine]:
    """Yield crop and season."""
    field = plan.field
    if field.crop:
        yield _by_hand(f"The display shows the crop {field.crop}.")
    else:
        yield _by_hand("The plan names no crop: choose it by hand.", "Add crop to [field].")
    if field.season is not None:
        yield _by_hand(f"The display shows the season {field.season}.")


def product_lines(product: Product, plan: Plan) -> Iterator[ReadyLine]:
    """Yield a product's drives and what to set for it."""
    kind = product.form if product.form == product.use else f"{product.form} {product.use}"
    drives = [drive.name for drive in plan.machine.drive if product.name in drive.products]
    on = f" on drive{'s'[: len(drives) > 1]} {', '.join(drives)}" if drives else ""
    yield _by_hand(f"{product.name} ({kind}) is set{on}.")
    for fact in settings(product):
        yield _by_hand(f"{product.name}, {fact.label.lower()}: {fact.value}.")


def _by_hand(text: str, remedy: str = "") -> ReadyLine:
    return ReadyLine(text=text, state="by hand", remedy=remedy)


def _carried(drive: Drive) -> str:
    return " or ".join(drive.products)


def _span_words(drive: Drive, plan: Plan) -> str:
    return f"{_side(drive.span[0], plan)} to {_side(drive.span[1], plan)}"


def _side(offset_m: float, plan: Plan) -> str:
    if offset_m == 0:
        return "the middle"
    return f"{length_words(abs(offset_m), plan)} {'left' if offset_m < 0 else 'right'}"


def _width_lines(drives: tuple[Drive, ...], width_m: float, plan: Plan) -> Iterator[ReadyLine]:
    """Yield a caution where the drives together serve another width than the machine has."""
    served = _served_m(drives)
    if abs(served - width_m) > 0.02 * width_m:
        together, width = length_words(served, plan), length_words(width_m, plan)
        yield ReadyLine(
            text=f"Its drives serve {together} together, and it is {width} wide.",
            state="caution",
            remedy="Measure the width between the outermost outlets, and correct width or spans in the plan.",
        )


def _served_m(drives: tuple[Drive, ...]) -> float:
    """Return the width that drives serve together, each strip once."""
    served, end = 0.0, float("-inf")
    for left, right in sorted(drive.span for drive in drives):
        served += max(0.0, right - max(left, end))
        end = max(end, right)
    return served
