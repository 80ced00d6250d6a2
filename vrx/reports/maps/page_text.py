"""What a map's page says in words: head, facts, foot."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vrx.model.content import Content, ProductContent
from vrx.model.drawing import Mark, Words
from vrx.reports.fonts import printable
from vrx.reports.maps.panel import TEXT_MM, Block, stacked, text_block
from vrx.reports.typeset import fitted

SEPARATOR: Final = " · "
_FIELD_MM: Final = (6.5, 4.2)
_PRODUCT_MM: Final = (4.6, 3.4)
_FACTS_MM: Final = 2.8
_FOOT_MM: Final = 2.2
# Said elsewhere on the page, or by another name.
_FIELD, _DATE, _BY = "Field", "Date", ("Prepared by", "Approved by")


def header(content: Content, product: ProductContent, *, width: float) -> Block:
    """Return field, product and unit in large type, and who it is for, when it was planned and its revision."""
    field = _title(content.title, width, _FIELD_MM)
    rates = _title(f"{product.name}: rates in {product.unit}", width, _PRODUCT_MM)
    named = [
        f"{'Plan date' if fact.label == _DATE else fact.label}: {printable(fact.value)}"
        for fact in content.facts
        if fact.label != _FIELD and fact.label not in _BY
    ]
    blocks = [field, rates]
    if named:
        blocks.append(text_block(SEPARATOR.join(named), width=width, size=_FACTS_MM))
    return stacked(blocks, gap=1.2)


def facts_block(content: Content, *, width: float) -> Block:
    """Return where the field is, how its places are measured, and who prepared the plan."""
    lines = [f"Place: {content.place}"] if content.place else []
    lines += [f"{fact.label}: {fact.value}" for fact in content.crs]
    lines += [f"Behind the map: {content.backdrop.name}"] if content.backdrop else []
    lines += [f"{fact.label}: {fact.value}" for fact in content.facts if fact.label in _BY]
    return stacked([text_block(line, width=width, size=_FACTS_MM * 0.85) for line in lines], gap=0.4)


def left_out(parts: str, findings: int) -> str:
    """Return what the map leaves to the report, as a sentence; empty where nothing."""
    said = [f"{parts}, without a label"] if parts else []
    if findings:
        said.append(f"{findings:,} finding{'s' if findings > 1 else ''} without a mark")
    return f"{'; '.join(said)}: the report lists them." if said else ""


def footer(text: str, note: str, *, left: float, right: float, bottom: float) -> Iterator[Mark]:
    """Yield a line at the foot of the page, and above it what is left out."""
    if note:
        yield from _line(note, left, bottom - 3.6, right - left, TEXT_MM)
    yield from _line(text, left, bottom, right - left, _FOOT_MM)


def _line(text: str, x: float, y: float, width: float, size: float) -> Iterator[Mark]:
    one = fitted(text, width=width, size=size, least=size * 0.5)
    yield Words(x=x, y=y, text=one.lines[0], size=one.size)


def _title(text: str, width: float, sizes: tuple[float, float]) -> Block:
    size, least = sizes
    set_text = fitted(text, width=width, size=size, least=least, bold=True)
    return text_block(text, width=width + 0.01, size=set_text.size, bold=True)
