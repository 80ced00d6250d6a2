"""The rates of a map: their column and unit chosen, turned into the product's unit, and held against its steps."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from vrx.errors import InputError, UnitError
from vrx.inputs.cells import read_numbers
from vrx.inputs.rate_column import candidates, decimals_of_numbers, only_one_meant, unit_in_name
from vrx.model.checked_map import BuiltAs, Candidate, How, MapRates
from vrx.model.layer import Layer
from vrx.units import Dialect, Unit, parse_unit
from vrx.words import nearest

if TYPE_CHECKING:
    from vrx.model.plan import Plan
    from vrx.model.product import Product

# Of a step: what the rounding of binary numbers may move a rate.
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The column that holds the rates; an empty name where none, or not one alone, can be meant."""

    name: str
    how: How
    candidates: tuple[Candidate, ...]


def choose_column(
    layer: Layer, *, said: str, decimal: str, built_as: BuiltAs | None, plan: Plan | None, product: str
) -> Choice:
    """Choose the column of the rates: the one said, the one that was built, the plan's, or the only one there can be.

    Parameters
    ----------
    product : str
        The product that was asked for; empty where none was.

    Raises
    ------
    InputError
        The column that was said is not there.
    """
    found = candidates(layer, decimal=decimal)
    if said:
        if said not in layer.columns:
            raise InputError(
                f"It has no column {said!r}.",
                remedy=f"{nearest(said, layer.columns)}Its columns are {', '.join(layer.columns) or 'none'}.",
                where=layer.source,
            )
        return Choice(name=said, how="said", candidates=found)
    built = {} if built_as is None else built_as.products
    mine = [name for name, of in built.items() if name in layer.columns and product in ("", of)]
    if len(mine) == 1:
        return Choice(name=mine[0], how="bundle", candidates=found)
    if plan is not None and plan.receiver.files == "one a product" and plan.receiver.rate_column in layer.columns:
        return Choice(name=plan.receiver.rate_column, how="plan", candidates=found)
    name, by_name = only_one_meant(found)
    return Choice(name=name, how="none" if not name else "name" if by_name else "only", candidates=found)


def rates_of(
    layer: Layer,
    column: Choice,
    *,
    unit: str,
    decimal: str,
    built_as: BuiltAs | None,
    plan: Plan | None,
    product: Product | None,
    dialect: Dialect,
) -> MapRates | None:
    """Return the rates of a map; None where its column is not known.

    Raises
    ------
    UnitError
        The unit that was said is none of a rate.
    """
    if not column.name:
        return None
    numbers = read_numbers(layer.columns[column.name], decimal=decimal)
    decimals = decimals_of_numbers(layer.columns[column.name], numbers)
    known, how = _unit(column.name, unit, built_as=built_as, plan=plan, product=product, dialect=dialect)
    factor, steps, why = _conversion(known, product)
    rates = numbers.values if factor is None else numbers.values * float(factor)
    tolerance = 0.0 if product is None else _ROUNDING * float(product.step.value)
    if product is not None and factor is not None and known is not None and known != product.unit:
        tolerance = max(tolerance, float(factor) / (2 * 10**decimals))
    return MapRates(
        column=column.name,
        column_how=column.how,
        numbers=numbers,
        decimals=decimals,
        unit=known,
        unit_how=how,
        per_step_unit=factor,
        tolerance=tolerance,
        conversion=steps,
        incomparable=why,
        rates=rates,
        step_numbers=_step_numbers(rates, product, tolerance) if product and factor is not None else _none(rates),
    )


def _unit(
    column: str,
    said: str,
    *,
    built_as: BuiltAs | None,
    plan: Plan | None,
    product: Product | None,
    dialect: Dialect,
) -> tuple[Unit | None, How]:
    if said:
        unit = parse_unit(said, dialect)
        if not unit.kind.endswith("/area"):
            raise UnitError(f"{said!r} is no rate per area.", remedy='Give a unit such as "kg/ha" or "us_gal/ac".')
        return unit, "said"
    if built_as is not None and built_as.units.get(column):
        # A manifest names units as its plan did; only a plan in US units writes gal.
        return parse_unit(built_as.units[column], dialect if dialect.system else Dialect("us")), "bundle"
    hint = unit_in_name(column, dialect)
    if hint is not None:
        return hint, "name"
    if plan is not None and plan.receiver.unit:
        return parse_unit(plan.receiver.unit, dialect), "plan"
    return (None, "none") if product is None else (product.unit, "product")


def _conversion(unit: Unit | None, product: Product | None) -> tuple[Fraction | None, tuple[str, ...], str]:
    """Return the factor to the unit of the step, how it comes about, and why there is none."""
    if product is None:
        return None, (), "No product is known: name one with --product, or a plan with --plan."
    if unit is None or unit == product.unit:
        return Fraction(1), (), ""
    from vrx.dosing.conversion import conversion_to_product  # noqa: PLC0415 - asked for by few maps

    try:
        found = conversion_to_product(unit, product)
    except UnitError as err:
        return None, (), f"{err.problem} {err.remedy}".strip()
    return found.factor, found.steps, ""


def _none(rates: NDArray[np.float64]) -> NDArray[np.int64]:
    return np.full(len(rates), -1, dtype=np.int64)


def _step_numbers(rates: NDArray[np.float64], product: Product, tolerance: float) -> NDArray[np.int64]:
    """Return the step number of each rate, -1 where it is none that the product allows, or no number."""
    base, step = float(product.base), float(product.step.value)
    known = np.isfinite(rates)
    near = np.where(known, np.clip(np.rint((np.where(known, rates, 0.0) - base) / step), -1, product.last + 1), -1)
    meant = base + near * step
    on_step = known & (np.abs(rates - meant) <= tolerance) & (near >= product.first) & (near <= product.last)
    numbers = np.where(on_step, near, -1).astype(np.int64)
    if product.off_allowed:
        numbers[known & (np.abs(rates) <= min(tolerance, step / 4))] = 0
    return numbers
