"""Whether all is ready for the pass: steps in the order in which things are set, each resting on those before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from vrx.model.check import Check, NotChecked, Verdict
from vrx.model.finding import Finding

State = Literal["fine", "by hand", "caution", "stop", "waits"]
"""``fine``: looked at, nothing against it. ``by hand``: only a person can see it. ``waits``: for a step before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """One thing to set or to see.

    Attributes
    ----------
    text : str
        What it is, or what is wrong with it.
    remedy : str
        What to do about it; empty where nothing is to do. It may have several lines, such as an entry to paste.
    finding : str
        The id of the finding behind it; empty where there is none.
    """

    text: str
    state: State
    remedy: str = ""
    finding: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyStep:
    """A step.

    Attributes
    ----------
    lines : tuple of ReadyLine
    waits_for : int
        The number of the step that has to be settled first; 0 where none has.
    """

    number: int
    title: str
    lines: tuple[ReadyLine, ...]
    waits_for: int = 0

    @property
    def state(self) -> State:
        """The gravest of its lines, or that it waits."""
        if self.waits_for:
            return "waits"
        states = {one.state for one in self.lines}
        return next((one for one in ("stop", "caution", "by hand") if one in states), "fine")


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """The walk-through of a plan.

    Attributes
    ----------
    field : str
        Client, farm and field, in words.
    steps : tuple of ReadyStep
    checks : tuple of (str, Check)
        The map of each product, by the product's name.
    findings : tuple of Finding
        All that was found, the worst first: of the maps, and of the plan as a whole.
    not_checked : tuple of NotChecked
        What no map could be asked.
    """

    field: str
    steps: tuple[ReadyStep, ...]
    checks: tuple[tuple[str, Check], ...]
    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...]

    @property
    def first_failing(self) -> ReadyStep | None:
        """The step that has to be settled first; None where all are fine."""
        return next((one for one in self.steps if one.state == "stop"), None)

    @property
    def verdict(self) -> Verdict:
        """``stop``: not ready. ``caution``: ready once someone has looked. ``clear``: nothing speaks against it."""
        states = {one.state for one in self.steps}
        return "stop" if "stop" in states else "caution" if "caution" in states else "clear"
