"""A page of the manual of findings: what one means, why it matters, and how to put it right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from vrx.model.finding import Severity

Subject = Literal["file", "shapes", "rates", "belonging", "amounts", "building"]
SUBJECTS: Final[dict[Subject, str]] = {
    "file": "The file of a map",
    "shapes": "Its shapes",
    "rates": "Its rates",
    "belonging": "Whether it belongs to this field and pass",
    "amounts": "Acres and amounts",
    "building": "Reading files, building and copying",
}
"""What findings are about, in the order in which the manual has them."""

NEED_WORDS: Final[dict[str, str]] = {
    "rates": "the column of the rates",
    "unit": "the unit of the rates",
    "product": "the product",
    "plan": "the plan",
    "field": "the boundary of the field",
    "machine": "the drives of the machine",
    "bundle": "the bundle that the map comes from",
}
"""What a person may have to name before a rule can look; the map itself is not among it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ManualPage:
    """A page of the manual.

    Attributes
    ----------
    id : str
    title : str
        As it stands over a finding.
    subject : str
        One of :data:`SUBJECTS`.
    severities : tuple of str
        How grave a check finds it, the gravest first; empty where each message says it itself.
    needs : tuple of str
        What a check has to know beside the map before it can look, in words.
    sentence : str
        What is found.
    why, how, source : str
        Why it matters; how to put it right; where the rule comes from. A source may be empty.
    """

    id: str
    title: str
    subject: Subject
    severities: tuple[Severity, ...]
    needs: tuple[str, ...]
    sentence: str
    why: str
    how: str
    source: str
