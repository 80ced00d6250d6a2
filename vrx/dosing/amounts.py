"""Amounts: what a rate comes to on so much ground, and the same in the units that people buy."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from vrx.units import Dialect, System, Unit, amount_unit, parse_unit

if TYPE_CHECKING:
    from vrx.model.product import Product

# Names as people read them, in the order of the plan's own system; parse_unit reads each of them.
_BOUGHT: Final[dict[System, dict[str, tuple[str, ...]]]] = {
    "us": {"volume": ("gal", "L"), "mass": ("lb", "short ton", "kg", "tonne"), "count": ("seeds", "thousand seeds")},
    "metric": {
        "volume": ("L", "US gal"),
        "mass": ("kg", "tonne", "lb", "short ton"),
        "count": ("seeds", "thousand seeds"),
    },
}


def amount_per_m2(unit: Unit) -> Fraction:
    """Return the amount on 1 m2 at a rate of 1, exactly, in the unit's own numerator: gallons for ``gal/ac``.

    Raises
    ------
    UnitError
        The unit was not made by :func:`vrx.units.parse_unit`.
    """
    return unit.factor / amount_unit(unit).factor


def buying_amounts(
    total_si: float, unit: Unit, product: Product, *, system: System | None
) -> tuple[tuple[str, float], ...]:
    """Return an amount in the units in which people buy.

    Parameters
    ----------
    total_si : float
        In m3, kg or seeds, as ``unit`` counts.
    unit : Unit
        Of the rates, such as ``gal/ac``; where its numerator is none of the usual units, as
        ``unit(80000 seeds)``, it comes first.
    product : Product
        Its density or seed weight, where given, adds the other kind of amount.
    system : {"us", "metric"} or None
        The plan's units: which come first, and whether a US gallon is called ``gal``.

    Returns
    -------
    tuple of (name, amount)
        ``(("gal", 264.17), ("L", 1000.0), ...)``.
    """
    own = amount_unit(unit)
    bought, dialect = _BOUGHT[system or "metric"], Dialect(system)
    found = [(name, parse_unit(name, dialect)) for name in bought[own.kind]]
    amounts = [] if own.factor in {known.factor for _, known in found} else [(own.name, total_si / float(own.factor))]
    amounts += [(name, total_si / float(known.factor)) for name, known in found]
    for kind, per in _other_kinds(own.kind, product):
        amounts += [(name, total_si * float(per / parse_unit(name, dialect).factor)) for name in bought[kind]]
    return tuple(amounts)


def _other_kinds(kind: str, product: Product) -> Iterator[tuple[str, Fraction]]:
    """Yield each other kind of amount that the product's figures lead to, with its SI amount per SI amount."""
    if product.form in {"liquid", "gas"} and product.density is not None:
        if kind == "volume":
            yield "mass", product.density.si
        elif kind == "mass":
            yield "volume", 1 / product.density.si
    elif product.form == "seed":
        per_kg = _seeds_per_kg(product)
        if per_kg is not None and kind == "count":
            yield "mass", 1 / per_kg
        elif per_kg is not None and kind == "mass":
            yield "count", per_kg


def _seeds_per_kg(product: Product) -> Fraction | None:
    if product.seeds_per is not None:
        return product.seeds_per.si
    return 1000 / product.thousand_seed_weight.si if product.thousand_seed_weight is not None else None
