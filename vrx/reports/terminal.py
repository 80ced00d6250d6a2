"""A build as text for a terminal: what each zone gets, what changed and why, what to look at, what was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap
from typing import TYPE_CHECKING

from vrx.model.content import CHANGED, Content, FindingContent, ProductContent
from vrx.model.finding import Finding

if TYPE_CHECKING:
    from vrx.model.build import Build

WIDTH = 100
"""Columns of a terminal that text is wrapped to."""
_WORDS = {"stop": "STOP", "caution": "CAUTION", "note": "note"}
# What a program reads, and no person.
_NOT_NAMED = ("report content",)
_TITLE_FACTS = ("Client", "Farm", "Field", "Season", "Crop")


def build_text(build: Build) -> str:
    """Return a build as people read it."""
    content = build.content
    lines = [*_field(content)]
    for product in content.products:
        lines += ["", *_product(product, content)]
    if content.cost:
        lines += ["", f"To have it all costs {content.cost}"]
    lines += ["", *findings_text(content.findings), ""]
    if build.bundle is None:
        lines.append("Nothing was written for the machine: a finding marked STOP has to be settled first.")
        if build.stopped_report is not None:
            lines.append(f"The report: {build.stopped_report}")
    else:
        lines.append(f"Written and read back: {build.bundle}")
        lines += [f"  {one.path}" for one in build.files if one.format not in _NOT_NAMED and "part" not in one.format]
        lines += ["", *(line for one in content.cautions for line in wrapped(one))]
    return "\n".join(lines) + "\n"


def findings_text(findings: Iterable[FindingContent]) -> Iterator[str]:
    """Yield findings as given, each with its remedy; its id stands small behind it."""
    found = list(findings)
    if not found:
        yield "Nothing to look at: no findings."
        return
    counts = [(sum(one.severity == severity for one in found), severity) for severity in ("stop", "caution", "note")]
    yield "To look at: " + ", ".join(f"{count} {severity}" + "s" * (count != 1) for count, severity in counts if count)
    for one in found:
        yield from finding_lines(one)


def finding_lines(one: FindingContent | Finding) -> Iterator[str]:
    """Yield one finding with its remedy."""
    head = f"{_WORDS[one.severity]:<8}"
    yield from wrapped(f"{one.message} [{one.id}]", f"  {head} ", " " * 11)
    if one.remedy and one.severity != "note":
        yield from wrapped(one.remedy, " " * 11 + "> ", " " * 13)


def _field(content: Content) -> Iterator[str]:
    yield ", ".join(fact.value for fact in content.facts if fact.label in _TITLE_FACTS)
    yield from (line for one in content.facts if one.label == CHANGED for line in wrapped(f"{one.label}: {one.value}"))
    treated = content.areas[-1]
    sheet = f"{treated.sheet} on the map sheet (grid {content.grid})"
    yield f"Ground to treat: {treated.true} true ground (geodesic); {sheet}"
    whole, *without, _ = content.areas
    for line in without:
        yield f"{line.label}: {line.true} of the {whole.true} in the boundary"


def _product(product: ProductContent, content: Content) -> Iterator[str]:
    yield f"{product.name}: {product.allowed}"
    if product.width_note:
        yield from wrapped(product.width_note, "  ", "  ")
    head = ("zone", f"wanted {product.unit}", "given", content.area_unit, product.amount_unit, "")
    rows = [(row.zone, row.wanted, row.given, row.true_area, row.amount, row.why) for row in product.rows]
    widths = [max(len(row[at]) for row in (head, *rows)) for at in range(len(head))]
    for row in (head, *rows):
        cells = [row[0].ljust(widths[0]), *(row[at].rjust(widths[at]) for at in range(1, 5)), row[5]]
        yield ("  " + "  ".join(cells)).rstrip()
    for overlay in product.overlays:
        yield f"  of which overlay {overlay.name} ({overlay.what}): {overlay.amount} on {overlay.area}"
    yield from wrapped(product.sums, "  ", "    ") if product.width_note else (f"  {product.sums}",)
    if product.other_units:
        yield from wrapped(f"= {', '.join(product.other_units)}", "  ", "    ")
    if product.order_sum:
        yield from wrapped(product.order_sum, "  ", "    ")
    if product.loads is not None:
        yield from wrapped(f"to load: {product.loads.summary}", "  ", "    ")


def wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    """Wrap text at spaces alone: ids and file names stay whole, to be searched for and copied."""
    return wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False, break_long_words=False
    )
