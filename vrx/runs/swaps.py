"""One product in another's place: whether the rates of the plan hold for it, and what changes in nutrients."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from vrx.dosing.conversion import conversion_to_product, other_form
from vrx.dosing.nutrients import carries, nutrient_in
from vrx.errors import PlanError, Problems, UnitError
from vrx.ledgers.build import ledger_of
from vrx.model.change import SWAP, Change
from vrx.model.finding import Finding
from vrx.model.forms import KINDS_OF_FORM
from vrx.model.layer import Table
from vrx.model.ledger import Ledger, ProductLedger
from vrx.model.plan import Plan, RateByBreaks, RateByColumn, RateByFormula, RateByLine, RateByTable, RateOfPlan
from vrx.model.plan_file import PlanFile
from vrx.model.product import Product
from vrx.runs.cut import CutGround
from vrx.runs.prescribe import prescribe, table_of_rates
from vrx.units import Unit, amount_text, parse_unit

# Rounding of a sum is no change in nutrients.
_SAME = 1e-9


def refuse_other_forms(file: PlanFile, plan: Plan, cut: CutGround, tables: Mapping[str, Table]) -> None:
    """Refuse a swap where a rate of the plan can't be one of the new product.

    Raises
    ------
    VrxError
        A rate wanted as product is in a unit that does not go with the new product's form, or a rate wanted as a
        nutrient is of one that it does not carry.
    """
    errors = []
    for one, product, rate in _swapped(file, plan):
        for unit in dict.fromkeys(_units(rate, product, plan, cut, tables)):
            try:
                _refuse_form(unit, product, one.old)
                conversion_to_product(unit, product)
            except UnitError as err:
                errors.append(PlanError(err.problem, remedy=err.remedy, where=f"{SWAP} {one.said}"))
                break
    if errors:
        raise Problems(errors)


def swap_findings(
    file: PlanFile, plan: Plan, cut: CutGround, tables: Mapping[str, Table], ledger: Ledger
) -> list[Finding]:
    """Caution where the wanted rates bring other nutrients than with the product that the plan names.

    The rates are worked out once more, on the same ground, as if the product had stayed; the totals wanted are
    compared, so that steps and limits of the two products play no part.
    """
    found = []
    old_of = {one.name: one for one in file.swapped_out}
    for one, product, _ in _swapped(file, plan):
        old = old_of.get(one.old)
        if old is None or not _are_fed(old, product):
            continue
        try:
            before = _account(_with(plan, old, product.name), cut, tables, product.name)
            after = next(each for each in ledger.products if each.product == product.name)
            lines = list(_lines(plan, (old, before), (product, after)))
        except UnitError as err:
            lines = [f"the change in nutrients can't be told, since {err.problem}"]
        if lines:
            found.append(
                Finding(
                    id="swap-nutrients",
                    severity="caution",
                    message=f"{product.name} in place of {old.name}, by the rates that the plan wants: "
                    f"{'; '.join(lines)}.",
                    remedy="Check it against what the crop needs, or let the plan want the nutrient, such as lb N/ac.",
                    product=product.name,
                )
            )
    return found


def _swapped(file: PlanFile, plan: Plan) -> Iterator[tuple[Change, Product, RateOfPlan]]:
    for one in file.changes:
        if one.option == SWAP:
            for rate, product in zip(plan.rate, plan.rated, strict=True):
                if product.name == one.new:
                    yield one, product, rate


def _refuse_form(unit: Unit, product: Product, old: str) -> None:
    if not unit.of and unit.kind not in KINDS_OF_FORM[product.form]:
        raise UnitError(
            f"The plan wants {old} in {unit.name}, and {product.name} is {product.form} and metered in "
            f"{product.unit.name}: that rate can't be kept.",
            remedy=f"Let the plan want a nutrient, such as lb N/ac, or give rates in {product.unit.name}, "
            f"with --set rate[{product.name}]...",
        )


def _units(
    rate: RateOfPlan, product: Product, plan: Plan, cut: CutGround, tables: Mapping[str, Table]
) -> Iterator[Unit]:
    """Give the units in which a product is wanted, by its rate and its overlays."""
    if isinstance(rate, RateByTable):
        found = table_of_rates(rate, cut.layers[rate.zones].zones, plan, tables)
        wanted = list(found.values())
    elif isinstance(rate, RateByBreaks):
        wanted = list(rate.rates)
    elif isinstance(rate, RateByLine):
        wanted = [one for _, one in rate.points]
    else:
        wanted = []
        if isinstance(rate, RateByColumn | RateByFormula):
            yield parse_unit(rate.unit, plan.dialect)
    wanted += [said for one in plan.overlay if one.is_about(product.name) and (said := one.rate or one.add)]
    yield from (one.unit for one in wanted if one.value)  # nothing is nothing in every unit


def _are_fed(old: Product, new: Product) -> bool:
    """Tell whether nutrients matter: one of the two has an analysis, or is a fertiliser that should have one."""
    return bool(old.analysis or new.analysis) or "fertiliser" in (old.use, new.use)


def _with(plan: Plan, old: Product, name: str) -> Plan:
    """Return the plan with the old product under the new one's name, so that it goes over the same ground."""
    renamed = old.model_copy(update={"name": name})
    return plan.model_copy(update={"product": tuple(renamed if one.name == name else one for one in plan.product)})


def _account(plan: Plan, cut: CutGround, tables: Mapping[str, Table], name: str) -> ProductLedger:
    rates = tuple(one for one in plan.rate if one.product == name)
    alone = plan.model_copy(update={"rate": rates})
    try:
        prescription = prescribe(cut, alone, tables)
    except Problems as err:  # the plan does not work out with the old product: there is nothing to compare with
        raise UnitError(err.each[0].problem) from err
    return ledger_of(prescription, field=plan.field.name, system=plan.units).products[0]


def _lines(plan: Plan, before: tuple[Product, ProductLedger], after: tuple[Product, ProductLedger]) -> Iterator[str]:
    old, new = before[0], after[0]
    bare = [one.name for one in (old, new) if not one.analysis]
    if bare:
        yield f"{' and '.join(bare)} {'has' if len(bare) == 1 else 'have'} no analysis to compare"
        return
    for nutrient in _nutrients(old.analysis, new.analysis):
        unit = parse_unit(f"{'kg' if plan.units == 'metric' else 'lb'} {nutrient}")
        was, now = (nutrient_in(account.total_wanted, product, unit) for product, account in (before, after))
        if abs(now - was) > _SAME * max(was, now):
            yield _line(unit, was, now, gone=not carries(new, nutrient))


def _line(unit: Unit, was: float, now: float, *, gone: bool) -> str:
    if gone:
        return f"no {unit.of} instead of {amount_text(was)} {unit.name}"
    if not was:
        return f"{amount_text(now)} {unit.name} instead of none"
    change = f"{abs(now - was) / was:.1%}".replace("%", " %")
    by = f"{amount_text(abs(now - was))} {'more' if now > was else 'less'}, {change}"
    return f"{amount_text(now)} {unit.name} instead of {amount_text(was)} ({by})"


def _nutrients(old: Iterable[str], new: Iterable[str]) -> Iterator[str]:
    """Give the nutrients of both, each once: an oxide and its element are one."""
    seen: set[str] = set()
    for nutrient in (*old, *new):
        if not {nutrient, other_form(nutrient)} & seen:
            yield nutrient
        seen.add(nutrient)
