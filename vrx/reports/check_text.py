"""A check as text for a terminal: the verdict first, then what was read, what was found, and what was not looked at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from vrx.model.check import Check
from vrx.model.finding import Finding
from vrx.reports.check_words import next_step, not_looked_at, purpose_words, read_words, verdict_words
from vrx.reports.terminal import WIDTH, finding_lines, wrapped

_SCREEN: Final = 24
# However much else there is to say, so many lines are for what was found.
_LEAST: Final = 10
_MOST_REASONS: Final = 4
_OF_A_KIND: Final = 3
_LONG: Final = 320
_ONE_LINE: Final = 55
_HOLDS: Final = "The label, local rules and the machine's manual hold over this map."


def check_text(check: Check, *, every: bool = False) -> str:
    """Return a check as people read it, at most a screen of it unless all is asked for.

    Parameters
    ----------
    every : bool
        With every finding, and every rule that could not look.
    """
    head = [
        *wrapped(verdict_words(check)),
        *wrapped(purpose_words(check.on), "  ", "  "),
        *(line for one in read_words(check.on) for line in wrapped(one, "  ", "    ")),
    ]
    if every:
        return "\n".join([*head, *_found(check.findings, 0, every=True), *_unseen(check), *_end(check)]) + "\n"
    least = _LEAST if check.findings else 0
    for most in range(_MOST_REASONS, 0, -1):
        tail = [*_unseen(check, most), *_end(check)]
        room = _SCREEN - len(head) - len(tail) - 1
        if room >= least:
            break
    return "\n".join([*head, *_found(check.findings, room, every=False), *tail]) + "\n"


def _found(findings: Sequence[Finding], room: int, *, every: bool) -> Iterator[str]:
    """Yield findings, the worst first, as many as there is room for; the first of them whole.

    Where not all are asked for, those of one kind stand for the others of it, so that every kind is seen.
    """
    if not findings:
        return
    yield ""
    told = list(findings) if every else [_cut(one) for one in _of_each_kind(findings)]
    used, remedy = 0, ""
    for at, one in enumerate(told):
        # What is to be done stands once for a row of findings that ask for the same.
        lines = list(finding_lines(replace(one, remedy="") if one.remedy == remedy else one))
        left = len(findings) - at
        if not every and at and used + len(lines) + (left > 1) > room:
            break
        used, remedy = used + len(lines), one.remedy
        yield from lines
    else:
        left = len(findings) - len(told)
    if left:
        yield f"  ... and {left:,} more: --all"


def _of_each_kind(findings: Sequence[Finding]) -> list[Finding]:
    seen: Counter[tuple[str, str]] = Counter()
    kept = []
    for one in findings:
        seen[one.severity, one.id] += 1
        if seen[one.severity, one.id] <= _OF_A_KIND:
            kept.append(one)
    return kept


def _cut(one: Finding) -> Finding:
    """Return a finding whose message leaves room for others."""
    if len(one.message) <= _LONG:
        return one
    return replace(one, message=f"{one.message[:_LONG].rpartition(' ')[0]} ...")


def _unseen(check: Check, most: int | None = None) -> Iterator[str]:
    """Yield why some rules could not look; so many reasons at most, or all of them with all ids."""
    groups = not_looked_at(check)
    if not groups:
        return
    yield ""
    count = len({one.id for one in check.not_checked})
    yield f"Not looked at by {count} rule{'s'[: count != 1]}:"
    for why, ids in groups[:most]:
        yield from wrapped(f"{why} [{', '.join(ids)}]" if most is None else _short(why, ids), "  ", "    ")
    left = 0 if most is None else len(groups) - most
    if left > 0:
        yield f"  ... and for {left} other reason{'s'[: left != 1]}: --all"


def _short(why: str, ids: Sequence[str]) -> str:
    """Return a reason with as many ids as its line, or the second of two, has room for."""
    room = WIDTH - 2 if len(why) < _ONE_LINE else 2 * WIDTH - 30
    for count in range(len(ids), 0, -1):
        more = f" and {len(ids) - count} more" if count < len(ids) else ""
        text = f"{why} [{', '.join(ids[:count])}{more}]"
        if len(text) <= room:
            return text
    return f"{why} ({len(ids)} rule{'s'[: len(ids) != 1]}: --all)"


def _end(check: Check) -> Iterator[str]:
    if check.verdict != "stop":
        yield ""
        yield from wrapped(f"{next_step(check)} {_HOLDS}")
