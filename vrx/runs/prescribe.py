"""From pieces to rates: the steps that run again when a rate changes."""

from __future__ import annotations

from collections.abc import Mapping

from vrx.errors import PlanError, Problems, UnitError, VrxError
from vrx.formula import check_names, read_formula
from vrx.inputs.cells import read_numbers
from vrx.inputs.rate_table import rates_by_zone
from vrx.model.finding import Finding
from vrx.model.layer import Layer, Numbers, Table
from vrx.model.plan import (
    Plan,
    RateByBreaks,
    RateByColumn,
    RateByFormula,
    RateByLine,
    RateByTable,
    RateOfPlan,
    ZonesOfPlan,
)
from vrx.model.prescription import Prescription
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.by_formula import by_formula
from vrx.rates.rated import rate_product
from vrx.rates.wanted import Wanted, by_breaks, by_column, by_line, by_table
from vrx.runs.cut import CutGround, CutLayer
from vrx.units import Measure, parse_unit
from vrx.words import nearest, some


def prescribe(cut: CutGround, plan: Plan, tables: Mapping[str, Table]) -> Prescription:
    """Work out every product's rates on ground that is cut already.

    Parameters
    ----------
    tables : mapping of str to Table
        Tables of rates by their file, as a plan names it.

    Raises
    ------
    VrxError
        A field or unit that the plan names can't be used; all of them at once.
    """
    errors: list[VrxError] = []
    maps, findings = [], []
    for at, (rate, product) in enumerate(zip(plan.rate, plan.rated, strict=True)):
        try:
            layer = cut.layers[rate.zones]
            wanted, said = wanted_rates(rate, product, layer, plan, tables)
        except VrxError as err:
            key = _key_of(rate, err)
            errors.append(err.at(f"rate[{at}].{key}", ("rate", at, key)))
            continue
        try:
            rated = rate_product(layer.zone_map, cut.borders, wanted, product, plan, no_data=rate.no_data)
        except UnitError as err:  # of an overlay, which says where
            errors.append(err)
            continue
        maps.append(rated.map)
        findings += [*said, *rated.findings]
    if errors:
        raise Problems(errors)
    return Prescription(zone_map=cut.zone_map, maps=tuple(maps), findings=tuple(findings))


def _key_of(rate: RateOfPlan, err: VrxError) -> str:
    """Return the key of a [[rate]] that an error is about: the one with the unit, or the one that names something."""
    if isinstance(rate, RateByColumn):
        return "unit" if isinstance(err, UnitError) else "column"
    if isinstance(rate, RateByBreaks):
        return "rates" if isinstance(err, UnitError) else "of"
    if isinstance(rate, RateByLine):
        return "points" if isinstance(err, UnitError) else "of"
    if isinstance(rate, RateByFormula):
        return "unit" if isinstance(err, UnitError) else "formula"
    return "unit" if isinstance(err, UnitError) and isinstance(rate, RateByTable) and rate.unit else "table"


def wanted_rates(
    rate: RateOfPlan, product: Product, on: CutLayer, plan: Plan, tables: Mapping[str, Table]
) -> tuple[Wanted, list[Finding]]:
    """Return the rates that a plan asks for on the polygons of a zone layer."""
    layer, said = on.zones, plan.zone_layers[rate.zones]
    if isinstance(rate, RateByTable):
        rates = table_of_rates(rate, layer, plan, tables)
        return by_table(on.zone_map.zone_names, rates, product), _unmatched(rates, on.zone_map, layer, product)
    if isinstance(rate, RateByColumn):
        unit = parse_unit(rate.unit, plan.dialect)
        return by_column(_numbers(layer, rate.column, said), unit, product), []
    if isinstance(rate, RateByBreaks):
        return by_breaks(_numbers(layer, rate.of, said), rate.breaks, rate.rates, product), []
    if isinstance(rate, RateByLine):
        return by_line(_numbers(layer, rate.of, said), rate.points, product), []
    if isinstance(rate, RateByFormula):
        return _by_formula(rate, product, layer, plan), []
    raise PlanError(f"by = {rate.by!r} is not there yet.")


def _by_formula(rate: RateByFormula, product: Product, layer: Layer, plan: Plan) -> Wanted:
    formula = read_formula(rate.formula)
    both = [name for name in rate.constants if name in layer.columns]
    if both:
        raise PlanError(
            f"{some(both)}: a constant of the formula, and a field of the zone layer {layer.source} too.",
            remedy="Name the constant differently, here and in the formula.",
        )
    check_names(formula, {**dict.fromkeys(layer.columns, "a field"), **dict.fromkeys(rate.constants, "a constant")})
    said = plan.zone_layers[rate.zones]
    columns = {name: _numbers(layer, name, said) for name in formula.names if name in layer.columns}
    unit = parse_unit(rate.unit, plan.dialect)
    return by_formula(formula, columns, rate.constants, unit, product, count=len(layer.records))


def table_of_rates(rate: RateByTable, layer: Layer, plan: Plan, tables: Mapping[str, Table]) -> Mapping[str, Measure]:
    """Return the rates by zone that a plan gives, in itself or in a file."""
    if not isinstance(rate.table, str):
        return rate.table
    table = tables.get(rate.table)
    if table is None:
        raise PlanError(
            f"The table {rate.table} was not read: the plan named another file then.", remedy="Read the plan again."
        )
    name = plan.zone_layers[rate.zones].name
    return rates_by_zone(
        table,
        name=name,
        numbered=not name or layer.columns[name].kind == "number",
        column=rate.column,
        unit=rate.unit,
        dialect=plan.dialect,
    )


def _numbers(layer: Layer, name: str, said: ZonesOfPlan) -> Numbers:
    if name not in layer.columns:
        raise PlanError(
            f"The zone layer {layer.source} has no field {name!r}.",
            remedy=f"{nearest(name, layer.columns)}Use one of {', '.join(layer.columns)}."
            if layer.columns
            else "It has no fields: give it one, or rates by zone in a table.",
        )
    return read_numbers(layer.columns[name], decimal=said.decimal)


def _unmatched(rates: Mapping[str, Measure], zone_map: ZoneMap, layer: Layer, product: Product) -> list[Finding]:
    """Report names in the table that no zone has; zones without a name in the table are reported as missing."""
    there = dict.fromkeys(zone_map.zone_names)
    strange = [name for name in rates if name not in there]
    if not strange:
        return []
    return [
        Finding(
            id="rate-unmatched",
            severity="caution",
            message=(
                f"{product.name}: the table gives rates for {some(map(repr, strange))}, "
                f"and {layer.source} has no such zone."
            ),
            remedy=f"{''.join(nearest(name, there) for name in strange[:1])}"
            f"Correct the names, or take them out of the table; zones there are {some(there)}.",
            product=product.name,
        )
    ]
