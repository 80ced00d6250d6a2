"""The machine in words: its width, and which drives run as one group."""

from __future__ import annotations

from collections.abc import Iterator

from vrx.model.content import Fact
from vrx.model.machine import Drive
from vrx.model.plan import Plan
from vrx.reports.words import length_words


def machine_facts(plan: Plan) -> tuple[Fact, ...]:
    """Return the machine, and each group with its drives; empty where the plan says nothing of it."""
    return tuple(Fact(label=label, value=value) for label, value in _facts(plan))


def drives_of(product: str, plan: Plan) -> tuple[str, ...]:
    """Return the drives that carry a product, each with its group: ``left (group all)``."""
    mine = plan.machine.drives_of(product)
    return tuple(f"{drive.name} (group {drive.group})" if drive.group else drive.name for drive in mine)


def _facts(plan: Plan) -> Iterator[tuple[str, str]]:
    machine = plan.machine
    width = f"{length_words(machine.width, plan)} wide" if machine.width is not None else ""
    said = [one for one in (machine.name, width, str(machine.speed or "")) if one]
    if said:
        yield "Machine", ", ".join(said)
    groups: dict[tuple[str, str], list[Drive]] = {}
    for drive in machine.drive:
        groups.setdefault((drive.group, "" if drive.group else drive.name), []).append(drive)
    for (group, _), drives in groups.items():
        label = f"Group {group}" if group else "Drive on its own"
        yield label, "; ".join(_drive(drive, plan) for drive in drives)


def _drive(drive: Drive, plan: Plan) -> str:
    products = " or ".join(drive.products)
    return f"{drive.name}: {products}, from {_side(drive.span[0], plan)} to {_side(drive.span[1], plan)}"


def _side(offset_m: float, plan: Plan) -> str:
    if offset_m == 0:
        return "the centre line"
    return f"{length_words(abs(offset_m), plan)} {'left' if offset_m < 0 else 'right'}"
