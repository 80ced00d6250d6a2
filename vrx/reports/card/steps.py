"""What the cab card says: the content of a build as steps, in the order in which each rests on the one before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from math import ceil
from typing import Final

from vrx.model.content import (
    CHANGED,
    Content,
    Fact,
    FindingContent,
    KeepOutContent,
    LoadsContent,
    MapFile,
    ProductContent,
)
from vrx.reports.card.blocks import Card, Cell, Flow, Item, Paragraph, Part, Role, Step, Table
from vrx.reports.card.text import TOGETHER

_PAPERS_MM: Final = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
_NO_DATE: Final = date(1980, 1, 1)
_FIELD_FACTS: Final = ("Client", "Farm", "Field", "Season", "Crop")
_SIGNED_FACTS: Final = ("Prepared by", "Approved by", "Date", "Revision")
_CHECKSUM_DIGITS: Final = 8
_MOST_BESIDE_EACH_OTHER: Final = 3
_MOST_PAIRS: Final = 12


def card_of(content: Content) -> Card:
    """Return the cab card of a build."""
    said = {fact.label: fact.value for fact in content.facts}
    width, height = _PAPERS_MM[content.paper]
    revision = f"Revision {said['Revision']}" if said.get("Revision") else ""
    return Card(
        title=content.title,
        edition=", ".join(one for one in (revision, said.get("Date", "")) if one),
        stopped="STOPPED: there is no map for the machine. Do not drive with this card." if content.stopped else "",
        steps=tuple(_steps(content, said)),
        written_by=content.written_by,
        stamp=_stamp(said.get("Date", "")),
        width=width,
        height=height,
    )


def _stamp(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return _NO_DATE


def _steps(content: Content, said: dict[str, str]) -> Iterator[Step]:
    products = content.products
    yield Step(number=1, title="Look at the stick", parts=tuple(_stick(content)))
    yield Step(number=2, title="Set the machine", parts=(_machine(content.machine),))
    yield Step(number=3, title="Choose the field", parts=(_field(content, said),))
    yield Step(number=4, title="Products on drives", parts=(_on_drives(products),))
    yield Step(number=5, title="Set each product", parts=tuple(_settings(products)))
    yield Step(number=6, title="Load the map", parts=tuple(_load(products)))
    yield Step(number=7, title="Stand in the field", parts=(_start(),))
    yield Step(number=8, title="Know the keep-outs", parts=(_keep_outs(content.keep_outs),))
    yield Step(number=9, title="Have this on hand", parts=tuple(_on_hand(content)))
    if content.notes.strip():
        yield Step(number=0, title="Notes", parts=tuple(_paragraphs(content.notes.splitlines())))
    yield Step(number=0, title="Open findings", parts=(_findings(content.findings),))
    if content.cautions:
        yield Step(number=0, title="Cautions", parts=tuple(_paragraphs(content.cautions)))
    yield Step(number=0, title="Sign", parts=tuple(_sign(said)))


def _stick(content: Content) -> Iterator[Part]:
    for fact in content.facts:
        if fact.label == CHANGED:
            yield Paragraph(text=f"{fact.label}: {fact.value}.", role="strong", box=True)
    if content.replaces:
        yield Paragraph(text=content.replaces, role="strong", box=True)
    held: dict[MapFile, list[str]] = {}
    for product in content.products:
        for file in product.files:
            held.setdefault(file, []).append(product.name)
    if not held:
        yield Paragraph(text="No files: no map was written.", role="strong")
        return
    by_code: dict[str, list[MapFile]] = {}
    for file in held:
        by_code.setdefault(file.code, []).append(file)
    rows = [row for files in by_code.values() for row in _code_rows(files, held)]
    yield Table(head=("Code", "File", "Checksum"), rows=tuple(rows))
    if any(len(files) > 1 for files in by_code.values()):
        yield Paragraph(text="Of the files of one code, one is enough: in a format that the display loads.")


def _code_rows(files: Sequence[MapFile], held: dict[MapFile, list[str]]) -> Iterator[tuple[Cell, ...]]:
    names = dict.fromkeys(name for file in files for name in held[file])
    products = _item(", ".join(names), "small")
    for at, file in enumerate(files):
        # The product stands under the code, beside the second file where there is one.
        code = [_item(file.code, "code")] if at == 0 else []
        code += [products] if at == min(1, len(files) - 1) else []
        name = [_item(file.name, "strong")]
        name += [_item(f"with {_beside(file)} beside it", "small")] if file.beside else []
        yield Cell(items=tuple(code)), Cell(items=tuple(name), box=True), Cell(items=tuple(_checksums(file)))


def _checksums(file: MapFile) -> Iterator[Item]:
    short = f"{file.sha256[:_CHECKSUM_DIGITS]}…"
    if not file.rates_sha256:
        yield _item(short)
        return
    # The shapes of two products may be the same; their rates are beside them.
    ending = file.name.rpartition(".")[2]
    yield _item(f".{ending} {short}".replace(" ", TOGETHER))
    yield _item(f".dbf {file.rates_sha256[:_CHECKSUM_DIGITS]}…".replace(" ", TOGETHER))


def _beside(file: MapFile) -> str:
    """Name what lies beside a file, by the endings alone where the rest of the name is the same."""
    stem = file.name.rpartition(".")[0]
    return ", ".join(one.removeprefix(stem) if one.startswith(f"{stem}.") else one for one in file.beside)


def _machine(facts: Sequence[Fact]) -> Part:
    if not facts:
        return Flow(cells=(_to_write("Machine and drives, not in the plan:"),))
    rows = []
    for fact in facts:
        # A group names its drives one by one, and there may be many.
        rows += [(_cell(fact.label), _cell(drive, "strong", box=True)) for drive in fact.value.split("; ")]
    return Table(rows=tuple(rows))


def _field(content: Content, said: dict[str, str]) -> Part:
    facts = {label: said[label] for label in _FIELD_FACTS if said.get(label)} or {"Field": content.title}
    return Flow(cells=tuple(_labelled(label, value, box=True) for label, value in facts.items()))


def _on_drives(products: Sequence[ProductContent]) -> Part:
    return Table(
        rows=tuple(
            (
                _cell(one.name, "strong", box=True),
                _cell(one.kind),
                _cell(", ".join(one.drives)) if one.drives else _to_write("drives:"),
            )
            for one in products
        )
    )


def _settings(products: Sequence[ProductContent]) -> Iterator[Part]:
    count = ceil(len(products) / max(1, ceil(len(products) / _MOST_BESIDE_EACH_OTHER)))
    for first in range(0, len(products), max(1, count)):
        beside = products[first : first + count]
        values = [{fact.label: fact.value for fact in one.settings} for one in beside]
        labels = _in_order([[fact.label for fact in one.settings] for one in beside])
        yield Table(
            head=("", *(one.name for one in beside)),
            rows=tuple(
                (
                    _cell(label),
                    *(_cell(each[label], "strong", box=True) if label in each else _cell("-") for each in values),
                )
                for label in labels
            ),
        )


def _in_order(lists: Sequence[Sequence[str]]) -> list[str]:
    """Merge lists that name the same things in the same order, each with some left out."""
    merged: list[str] = []
    for labels in lists:
        at = 0
        for label in labels:
            if label in merged:
                at = merged.index(label) + 1
            else:
                merged.insert(at, label)
                at += 1
    return merged


def _load(products: Sequence[ProductContent]) -> Iterator[Part]:
    rows = []
    for one in products:
        codes = ", ".join(dict.fromkeys(file.code for file in one.files))
        if codes:
            chosen = (
                _cell(codes, "large", box=True),
                _cell(one.column, "strong", box=True),
                _cell(one.written_unit, "strong", box=True),
            )
        else:
            chosen = (_cell("no map"), _cell("-"), _cell("-"))
        rows.append((_cell(one.name, "strong"), *chosen))
    yield Table(head=("Product", "File with the code", "Rate column", "Unit"), rows=tuple(rows))
    for one in products:
        if one.written_rates:
            shown = _spread(one.written_rates, _MOST_PAIRS)
            some = (
                "" if len(shown) == len(one.written_rates) else f"; {len(shown)} of its {len(one.written_rates)} rates"
            )
            yield Paragraph(
                text=f"{one.name}: the map is written in {one.written_unit}, the machine steps in {one.unit}{some}:",
                leads=True,
            )
            yield Flow(columns=3, cells=tuple(_cell(f"{fact.label} = {fact.value}") for fact in shown))


def _spread(facts: Sequence[Fact], most: int) -> tuple[Fact, ...]:
    """Return facts evenly from the first to the last, so many at most."""
    if len(facts) <= most:
        return tuple(facts)
    return tuple(facts[round(at * (len(facts) - 1) / (most - 1))] for at in range(most))


def _start() -> Part:
    """Return what only a person in the cab can see: where the display has the machine, and what it would do there."""
    seen = ("Display shows the machine in the field", "and the rate that the map has there")
    return Flow(columns=2, cells=tuple(_cell(one, box=True) for one in seen))


def _keep_outs(keep_outs: Sequence[KeepOutContent]) -> Part:
    if not keep_outs:
        return Paragraph(text="None in the plan.")
    return Flow(
        columns=2,
        cells=tuple(
            Cell(
                items=(
                    _item(one.name, "strong"),
                    _item(f"{f'set-back {one.set_back}' if one.set_back else 'no set-back'}, binds {one.binds}"),
                ),
                box=True,
            )
            for one in keep_outs
        ),
    )


def _on_hand(content: Content) -> Iterator[Part]:
    yield Table(
        head=("Product", "Amount", "On true ground (geodesic)"),
        rows=tuple(
            (
                _cell(one.name, "strong"),
                Cell(items=tuple(_amounts(one)), box=True),
                Cell(
                    items=(
                        *_true_ground(one),
                        *([_item(f"map sheet (grid) {one.sheet_area}", "small")] if one.sheet_area else []),
                    )
                ),
            )
            for one in content.products
        ),
    )
    if content.areas:
        yield Flow(cells=tuple(_cell(f"{line.label}: {line.true}", "small") for line in content.areas))
    loaded = [(one, one.loads) for one in content.products if one.loads is not None and one.loads.fills]
    if loaded:
        yield Table(
            head=("Fill sheet", "Load", "Fill to", "Each covers"),
            rows=tuple(row for product, loads in loaded for row in _fill_rows(product, loads)),
        )
    for product, loads in loaded:
        if loads.watch:
            yield Paragraph(text=f"{product.name}: {' '.join(loads.watch)}", role="small")


def _true_ground(product: ProductContent) -> Iterator[Item]:
    """Say on how much ground a product goes, and what it gets of that where it is on a part of the width."""
    if not product.product_area:
        yield _item(product.true_area, "strong")
        return
    yield _item(f"{_together([product.product_area])} of this product:", "strong")
    yield _item(f"{product.share} of the width, on {_together([product.true_area])} of the field", "small")


def _amounts(product: ProductContent) -> Iterator[Item]:
    others = f"= {_together(product.other_units)}" if product.other_units else ""
    if len(product.order) < 2:
        yield _item(product.total, "large")
        yield from _with_what_stays(product)
        if others:
            yield _item(others, "small")
        return
    on_the_map, *parts, last = product.order
    yield _item(f"{last.amount} {product.amount_unit}", "large")
    yield from _with_what_stays(product)
    yield _item(" ".join(filter(None, (_together([f"{on_the_map.label} {product.total}"]), others))), "small")
    yield _item(", ".join(_together([f"{one.label} {one.amount}"]) for one in parts), "small")


def _with_what_stays(product: ProductContent) -> Iterator[Item]:
    loads = product.loads
    if loads is None or not loads.stays:
        return
    boxes = "box" if len(loads.boxes) == 1 else "boxes"
    stays, on_hand = (_together([f"{one} {product.amount_unit}"]) for one in (loads.stays, loads.on_hand))
    yield _item(f"+ {stays} that stay in the {boxes} = {on_hand}", "strong")


def _fill_rows(product: ProductContent, loads: LoadsContent) -> Iterator[tuple[Cell, ...]]:
    unit = product.amount_unit
    for at, fill in enumerate(loads.fills):
        levels = [f"{level} {unit}".replace(" ", TOGETHER) for level in fill.fill_to]
        named = [
            level if len(levels) == 1 else f"{name}: {level}" for name, level in zip(loads.boxes, levels, strict=True)
        ]
        yield (
            _cell(product.name if at == 0 else "", "strong"),
            _cell(fill.load, "strong", box=True),
            Cell(items=tuple(_item(one, "strong") for one in named)),
            _cell(fill.covers),
        )


def _findings(findings: Iterable[FindingContent]) -> Part:
    open_ones: dict[tuple[str, str], list[int]] = {}
    for one in findings:
        if one.severity != "note":
            open_ones.setdefault((one.severity, one.title), []).append(one.number)
    if not open_ones:
        return Paragraph(text="None.")
    return Table(
        rows=tuple(
            (
                _cell(severity.upper(), "badge"),
                _cell(title, box=True),
                _cell(f"in the report: {', '.join(map(str, numbers))}", "small"),
            )
            for (severity, title), numbers in open_ones.items()
        )
    )


def _sign(said: dict[str, str]) -> Iterator[Part]:
    yield Flow(
        cells=tuple(
            _cell(f"{label}: {said[label]}") if said.get(label) else _to_write(f"{label}:", 22.0)
            for label in _SIGNED_FACTS
        ),
    )
    yield Flow(cells=(_to_write("Set and checked by:", 60.0), _to_write("Date:", 25.0)))


def _together(amounts: Iterable[str]) -> str:
    """Join amounts, none of which is parted from its unit."""
    return ", ".join(one.replace(" ", TOGETHER) for one in amounts)


def _paragraphs(texts: Iterable[str]) -> Iterator[Part]:
    for text in texts:
        if text.strip():
            yield Paragraph(text=text)


def _item(text: str, role: Role = "body") -> Item:
    return Item(text=text, role=role)


def _cell(text: str, role: Role = "body", *, box: bool = False) -> Cell:
    return Cell(items=(Item(text=text, role=role),) if text else (), box=box)


def _labelled(label: str, value: str, *, box: bool = False) -> Cell:
    return Cell(items=(_item(label, "small"), _item(value, "strong")), box=box)


def _to_write(text: str, length_mm: float = 40.0) -> Cell:
    return Cell(items=(_item(text),), write=length_mm)
