"""A build as text for a terminal: what each zone gets, what changed and why, what to look at, what was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isnan
from textwrap import wrap

from vrx.model.build import Build
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger, LedgerRow, ProductLedger
from vrx.model.plan import Plan
from vrx.model.product import Product
from vrx.units import ACRE_M2, HECTARE_M2, SURVEY_ACRE_M2, amount_decimals, amount_text, number_text

_WIDTH = 100
_WORDS = {"stop": "STOP", "caution": "CAUTION", "note": "note"}


def build_text(build: Build) -> str:
    """Return a build as people read it."""
    lines = [*_field(build.plan, build.ledger)]
    for product, account in zip(build.plan.rated, build.ledger.products, strict=True):
        lines += ["", *_product(product, account, build.plan)]
    lines += ["", *findings_text(build.findings)]
    if build.bundle is None:
        lines += ["", "Nothing was written: a finding marked STOP has to be settled first."]
    else:
        lines += ["", f"Written and read back: {build.bundle}"]
        lines += [f"  {one.path}" for one in build.files if "part" not in one.format]
        lines += ["", *cautions(build.plan)]
    return "\n".join(lines) + "\n"


def findings_text(findings: Iterable[Finding]) -> Iterator[str]:
    """Yield findings as given, each with its remedy; its id stands small behind it."""
    found = list(findings)
    if not found:
        yield "Nothing to look at: no findings."
        return
    counts = [(sum(one.severity == severity for one in found), severity) for severity in ("stop", "caution", "note")]
    yield "To look at: " + ", ".join(f"{count} {severity}" + "s" * (count != 1) for count, severity in counts if count)
    for one in found:
        head = f"{_WORDS[one.severity]:<8}"
        yield from _wrap(f"{one.message} [{one.id}]", f"  {head} ", " " * 11)
        if one.remedy and one.severity != "note":
            yield from _wrap(one.remedy, " " * 11 + "> ", " " * 13)


def cautions(plan: Plan) -> list[str]:
    """Return the usual cautions for what the plan puts on the field."""
    uses, forms = {one.use for one in plan.rated}, {one.form for one in plan.rated}
    said = ["Before the pass: a qualified person reviews this map; the machine's manual limits what it can do."]
    if "crop protection" in uses:
        said.append("The product's label is the law: its rates, set-backs and timing hold over this map.")
    if uses & {"fertiliser", "lime"}:
        said.append("Local nutrient rules and set-backs from water and wells hold over this map.")
    if "gas" in forms:
        said.append("Pressurised ammonia burns and blinds: trained people, goggles, gloves, water at hand.")
    return [line for one in said for line in _wrap(one)]


def _field(plan: Plan, ledger: Ledger) -> Iterator[str]:
    titles = [plan.field.client, plan.field.farm, plan.field.name, str(plan.field.season or ""), plan.field.crop]
    yield ", ".join(title for title in titles if title)
    treat, sheet = _area(ledger.geodesic_area_m2, plan), _area(ledger.grid_area_m2, plan)
    yield f"Ground to treat: {treat} true ground (geodesic); {sheet} on the map sheet (grid {ledger.grid_crs})"
    if ledger.keep_out_area_m2:
        kept, whole = _area(ledger.keep_out_area_m2, plan), _area(ledger.boundary_area_m2, plan)
        yield f"Keep-outs for every product: {kept} of the {whole} in the boundary"


def _product(product: Product, account: ProductLedger, plan: Plan) -> Iterator[str]:
    unit = account.total_unit
    yield f"{product.name}: {product.allowed_text}"
    # Millions of seeds need no tenth of one; what is weighed or pumped shows it also beside a large total.
    decimals = max(0 if account.total_unit == "seeds" else 1, amount_decimals(account.total_given))
    rows = [_row(row, product, plan, decimals) for row in account.rows]
    head = ("zone", f"wanted {account.unit}", "given", _area_word(plan), unit, "")
    widths = [max(len(row[at]) for row in (head, *rows)) for at in range(len(head))]
    for row in (head, *rows):
        cells = [row[0].ljust(widths[0]), *(row[at].rjust(widths[at]) for at in range(1, 5)), row[5]]
        yield ("  " + "  ".join(cells)).rstrip()
    limits, joining = (_change(one, decimals) for one in (account.changed_by_limits, account.changed_by_joining))
    yield (
        f"  total given {account.total_given:,.{decimals}f} {unit} on {_area(account.geodesic_area_m2, plan)}"
        f" = wanted {account.total_wanted:,.{decimals}f}, limits and steps {limits}, joining small parts {joining}"
    )
    others = [f"{amount_text(amount)} {name}" for name, amount in account.to_buy if name != unit]
    if others:
        yield from _wrap(f"= {', '.join(others)}", "  ", "    ")


def _row(row: LedgerRow, product: Product, plan: Plan, amount_digits: int) -> tuple[str, ...]:
    decimals = len(number_text(product.step.value).partition(".")[2])
    return (
        row.zone,
        "none" if isnan(row.wanted) else f"{row.wanted:,.{decimals + 2}f}".rstrip("0").rstrip("."),
        number_text(row.given),
        _acres(row.geodesic_area_m2 / _unit_m2(plan)),
        f"{row.amount_given:,.{amount_digits}f}",
        row.why,
    )


def _change(amount: float, decimals: int) -> str:
    return f"{round(amount, decimals) + 0.0:+,.{decimals}f}"  # no "-0.0"


def _acres(area: float) -> str:
    return "< 0.001" if 0 < area < 0.0005 else f"{area:,.3f}"


def _area(area_m2: float, plan: Plan) -> str:
    return f"{area_m2 / _unit_m2(plan):,.3f} {_area_word(plan)}"


def _area_word(plan: Plan) -> str:
    return "ha" if plan.units == "metric" else "ac"


def _unit_m2(plan: Plan) -> float:
    if plan.units == "metric":
        return float(HECTARE_M2)
    return float(SURVEY_ACRE_M2 if plan.acre == "us_survey" else ACRE_M2)


def _wrap(text: str, first: str = "", rest: str = "") -> list[str]:
    """Wrap text at spaces alone: ids and file names stay whole, to be searched for and copied."""
    return wrap(
        text, _WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False, break_long_words=False
    )
