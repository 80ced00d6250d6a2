"""A mended map as text for a terminal and as JSON: what was changed, what was left, and what its own check says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vrx.model.content import Fact
from vrx.model.fixed import Fixed
from vrx.reports.check_words import verdict_words
from vrx.reports.terminal import finding_lines, wrapped

_MOST = 12
_MOST_FINDINGS = 4


def fixed_text(fixed: Fixed, *, every: bool = False) -> str:
    """Return what was mended as people read it; every change and finding where that is asked for."""
    return "\n".join(_lines(fixed, every=every)) + "\n"


def fixed_json(fixed: Fixed) -> dict[str, object]:
    """Return what was mended, and the verdict of the mended map."""
    return {
        "path": str(fixed.path.resolve()),
        "files": [str(one.resolve()) for one in fixed.files],
        "changes": list(fixed.changes),
        "left": list(fixed.left),
        "verdict": fixed.check.verdict,
    }


def fixed_facts(fixed: Fixed) -> tuple[Fact, ...]:
    """Return what the page of a mended map tells of its making: from which map, what was changed, what was left."""
    told = (
        ("Mended from", f"{fixed.source}, which is unchanged: load only one of the two"),
        ("Changed in it", " ".join(fixed.changes) or "nothing had to be"),
        ("Left as it was", " ".join(fixed.left)),
    )
    return tuple(Fact(label=label, value=value) for label, value in told if value)


def _lines(fixed: Fixed, *, every: bool) -> Iterator[str]:
    yield from wrapped(f"Mended map, written and read back: {fixed.path}")
    yield from wrapped(f"The map as it was, {fixed.source}, is unchanged; load only one of the two.", "  ", "  ")
    if fixed.changes:
        yield "  Changed:"
        yield from _listed(fixed.changes, every=every)
    else:
        yield "  Nothing had to be mended."
    if fixed.left:
        yield "  Left as it is:"
        yield from _listed(fixed.left, every=every)
    yield ""
    yield from wrapped(verdict_words(fixed.check))
    found = fixed.check.findings
    told = found if every else [one for one in found if one.severity != "note"][:_MOST_FINDINGS]
    for one in told:
        yield from finding_lines(one)
    if len(told) < len(found):
        yield f"  ... and {len(found) - len(told):,} more: vrx check {fixed.path.name}"


def _listed(texts: Sequence[str], *, every: bool) -> Iterator[str]:
    told = texts if every or len(texts) <= _MOST + 1 else texts[:_MOST]
    for one in told:
        yield from wrapped(one, "    - ", "      ")
    if len(told) < len(texts):
        yield f"    ... and {len(texts) - len(told):,} more: --all"
