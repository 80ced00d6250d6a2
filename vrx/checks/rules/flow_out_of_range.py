"""A drive, a pump or an outlet can't give what the map's rates need at the machine's speed.

Why it matters: below the least flow of a meter or nozzle the rate is not held and the pattern
falls apart; above the most, ground gets less than the map says, and no display shows it on the
map.

How to put it right: drive at a speed that fits, change nozzles or meter rolls, or have the lowest
and the highest rate brought closer together.

Source: flow = rate x speed x width; 495 and 5940 in US units, MesaCountyCalibration; 600 in metric
ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from vrx.checks.records import above_zero
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.dosing.flow import flow_factor
from vrx.errors import UnitError
from vrx.model.checked_map import CheckedMap
from vrx.model.spans import width_of
from vrx.units import FOOT_M, number_text, rate_number_text

if TYPE_CHECKING:
    from vrx.model.box import Box
    from vrx.model.machine import Machine
    from vrx.model.ranges import Flow, Speed

_SAME: Final = 1e-9
_MICROMETRES: Final = 10**6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A part of the machine through which product flows, with the width that it serves."""

    name: str
    flow: Flow
    width_m: Fraction
    is_outlet: bool = False


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    machine, product = on.the_plan.machine, on.the_product
    parts = list(_parts(machine, product.name))
    if not parts:
        yield Unseen(
            f"The plan does not say what the meter or pump of {product.name} gives: add flow, or outlet_flow and "
            "outlet_spacing, to its [[machine.drive]], or flow to its tank."
        )
    elif machine.speed is None:
        yield Unseen('The plan does not say how fast the machine goes: add speed = "4 to 6 mph" to [machine].')
    else:
        given = on.the_rates.rates[above_zero(on)]
        for part in parts if len(given) else ():
            try:
                seen = _look_at(part, machine.speed, float(given.min()), float(given.max()), on)
            except UnitError as err:
                yield Unseen(str(err))
                continue
            if seen is not None:
                yield seen


def _parts(machine: Machine, product: str) -> Iterator[_Part]:
    for drive in machine.drives_of(product):
        if drive.flow is not None:
            yield _Part(name=f"Drive {drive.name}", flow=drive.flow, width_m=width_of([drive]))
        if drive.outlet_flow is not None and drive.outlet_spacing is not None:
            spacing = Fraction(round(drive.outlet_spacing * _MICROMETRES), _MICROMETRES)
            yield _Part(name=f"One outlet of {drive.name}", flow=drive.outlet_flow, width_m=spacing, is_outlet=True)
    boxes = machine.boxes_of(product)
    for at, box in enumerate(boxes, start=1):
        width = _width_of_box(box, machine, len(boxes))
        if box.flow is not None and width > 0:
            which = f" for {' and '.join(box.drives)}" if box.drives else f" {at}" if len(boxes) > 1 else ""
            yield _Part(name=f"The pump of the box{which}", flow=box.flow, width_m=width)


def _width_of_box(box: Box, machine: Machine, boxes: int) -> Fraction:
    if box.drives:
        return width_of(one for one in machine.drive if one.name in box.drives)
    drives = machine.drives_of(box.product)
    if drives:
        return width_of(drives) / boxes
    return Fraction(round((machine.width or 0) * _MICROMETRES), _MICROMETRES) / boxes


def _look_at(part: _Part, speed: Speed, low: float, high: float, on: CheckedMap) -> Seen | None:
    """Hold the flows at the lowest and the highest rate, and at both ends of the speed, against what a part gives."""
    product, unit = on.the_product, part.flow.high.unit
    # What a rate of 1 needs at 1 m/s, in the unit in which the plan tells the flow.
    each = float(flow_factor(product, unit) * part.width_m)
    least, most = float(part.flow.low.si / unit.factor), float(part.flow.high_si / unit.factor)
    slow, fast = float(speed.low_m_s), float(speed.high_m_s)
    from_m_s, to_m_s = least / (low * each), most / (high * each)
    if from_m_s <= slow * (1 + _SAME) and to_m_s >= fast * (1 - _SAME):
        return None
    none = from_m_s > to_m_s * (1 + _SAME) or from_m_s > fast * (1 + _SAME) or to_m_s < slow * (1 - _SAME)
    lowest, highest = (f"{rate_number_text(rate)} {product.unit.name}" for rate in (low, high))
    needs = [f"{lowest} needs {_span(low * each * slow, low * each * fast)} {unit.name} at {speed}"]
    if high > low:
        needs.append(f"{highest} needs {_span(high * each * slow, high * each * fast)} {unit.name}")
    return Seen(
        severity="stop" if none else "caution",
        message=(
            f"{part.name} gives {part.flow}: {' and '.join(needs)}{_sum(part, speed, low, each, on)}. "
            f"{_speeds(from_m_s, to_m_s, lowest, highest, speed)}"
        ),
        remedy="Change nozzles, meter or gearing, or have the rates brought closer together."
        if none
        else "Keep to the speed that fits, or change nozzles, meter or gearing.",
    )


def _sum(part: _Part, speed: Speed, rate: float, each: float, on: CheckedMap) -> str:
    """Show the arithmetic in the plan's own units; nothing where a density or seed weight is in it."""
    product, unit = on.the_product, part.flow.high.unit
    if unit.kind.partition("/")[0] != product.unit.kind.partition("/")[0]:
        return ""
    us = on.dialect.system == "us"
    metres = (FOOT_M / 12 if part.is_outlet else FOOT_M) if us else Fraction(1)
    name = ("in" if part.is_outlet else "ft") if us else "m"
    constant = 1 / (flow_factor(product, unit) * speed.low.unit.factor * metres)
    return (
        f" ({rate_number_text(rate)} {product.unit.name} x {speed.low} x {number_text(part.width_m / metres, 3)} "
        f"{name} / {number_text(constant, 4)} = {_short(rate * each * float(speed.low_m_s))} {unit.name})"
    )


def _speeds(from_m_s: float, to_m_s: float, lowest: str, highest: str, speed: Speed) -> str:
    unit = speed.high.unit
    start, end = from_m_s / float(unit.factor), to_m_s / float(unit.factor)
    if start > end * (1 + _SAME):
        return (
            f"No speed fits both: {lowest} needs {_short(start)} {unit.name} or more, and {highest} "
            f"{_short(end)} {unit.name} or less."
        )
    return (
        f"{_short(start)} to {_short(end)} {unit.name} would fit."
        if start > 0
        else f"Up to {_short(end)} {unit.name} fits."
    )


def _span(one: float, other: float) -> str:
    start, end = _short(one), _short(other)
    return start if start == end else f"{start} to {end}"


def _short(value: float) -> str:
    return rate_number_text(float(f"{value:.3g}"))


RULE = Rule(
    id="flow-out-of-range", looks_at="amounts", needs=("layer", "rates", "plan", "product", "limits"), look=look
)
