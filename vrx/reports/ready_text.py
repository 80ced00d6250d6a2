"""The walk-through of a plan as text for a terminal: what fails first comes first, with what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

from vrx.model.readiness import Readiness, ReadyLine, ReadyStep, State

_WIDTH: Final = 100
_MARKS: Final[dict[State, str]] = {
    "stop": "STOP   ", "caution": "CAUTION", "fine": "fine   ", "by hand": "[ ]    ", "waits": "waits  ",
}  # fmt: skip
_HEADS: Final[dict[State, str]] = {
    "stop": "STOP", "caution": "look", "fine": "fine", "by hand": "tick by hand", "waits": "",
}  # fmt: skip


def ready_text(found: Readiness) -> str:
    """Return a walk-through as people read it: the verdict, the first step that fails, then all steps in order."""
    lines = [*_wrapped(_verdict(found), ""), ""]
    failing = found.first_failing
    if failing is not None:
        lines += ["Settle this first:", *_failing(failing), ""]
    for step in found.steps:
        lines += _step(step)
    lines += ["", *_unseen(found)]
    return "\n".join(lines).rstrip() + "\n"


def _verdict(found: Readiness) -> str:
    failing = found.first_failing
    if failing is not None:
        return f"NOT READY: {found.field}. Step {failing.number}, {failing.title.lower()}, has to be settled first."
    if found.verdict == "caution":
        count = sum(line.state == "caution" for step in found.steps for line in step.lines)
        return f"LOOK FIRST: {found.field}. {count} thing{'s' * (count != 1)} to look at, marked CAUTION below."
    return f"READY as far as data can tell: {found.field}. Tick what only a person can see, from top to bottom."


def _failing(step: ReadyStep) -> Iterator[str]:
    for line in step.lines:
        if line.state == "stop":
            yield from _wrapped(line.text + _id(line), "  ")
            yield from _remedy(line, "  > ")


def _step(step: ReadyStep) -> Iterator[str]:
    if step.waits_for:
        yield f"{step.number}. {step.title}: waits for step {step.waits_for}"
        return
    yield f"{step.number}. {step.title}: {_HEADS[step.state]}"
    for line in step.lines:
        yield from _wrapped(line.text + _id(line), f"   {_MARKS[line.state]} ")
        if line.state == "caution" or (line.state == "by hand" and line.remedy):
            yield from _remedy(line, " " * 11 + "> ")


def _remedy(line: ReadyLine, first: str) -> Iterator[str]:
    head, *pasted = line.remedy.split("\n")
    yield from _wrapped(head, first)
    yield from (f"{' ' * len(first)}{text}" for text in pasted)  # to be copied as it stands


def _id(line: ReadyLine) -> str:
    return f" [{line.finding}]" if line.finding else ""


def _unseen(found: Readiness) -> Iterator[str]:
    by_why: dict[str, list[str]] = {}
    for one in found.not_checked:
        by_why.setdefault(one.why, []).append(one.id)
    if by_why:
        yield "Not looked at on any map:"
    for why, ids in by_why.items():
        yield from _wrapped(f"{why} [{', '.join(ids)}]", "  ")


def _wrapped(text: str, first: str) -> list[str]:
    return wrap(
        text,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_on_hyphens=False,
        break_long_words=False,
    )
