"""What a check came to: a verdict, what was found, and what could not be looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from vrx.model.checked_map import CheckedMap
from vrx.model.finding import Finding

Verdict = Literal["clear", "caution", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotChecked:
    """A rule that could not look, and why: in a sentence that says what would let it."""

    id: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A check of one map.

    Attributes
    ----------
    on : CheckedMap
    findings : tuple of Finding
        The worst first.
    not_checked : tuple of NotChecked
    """

    on: CheckedMap
    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...]

    @property
    def verdict(self) -> Verdict:
        """``stop``: the map may not be loaded. ``caution``: look first. ``clear``: nothing was found against it."""
        worst = {one.severity for one in self.findings}
        return "stop" if "stop" in worst else "caution" if "caution" in worst else "clear"
