"""What ``vrx ready --json`` prints: plain values, ready for a JSON writer."""

from __future__ import annotations

from vrx.model.readiness import Readiness, ReadyStep
from vrx.reports.as_json import finding_json
from vrx.reports.check_json import check_json


def ready_json(found: Readiness) -> dict[str, object]:
    """Return a walk-through: verdict, steps in order, and the check of each product's map."""
    failing = found.first_failing
    return {
        "verdict": found.verdict,
        "field": found.field,
        "first_failing": None if failing is None else failing.number,
        "steps": [_step(one) for one in found.steps],
        "maps": [{**check_json(check), "product": product} for product, check in found.checks],
        "findings": [finding_json(one) for one in found.findings],
        "not_checked": [{"id": one.id, "why": one.why} for one in found.not_checked],
    }


def _step(step: ReadyStep) -> dict[str, object]:
    return {
        "number": step.number,
        "title": step.title,
        "state": step.state,
        "waits_for": step.waits_for or None,
        "lines": [
            {"text": one.text, "state": one.state, "remedy": one.remedy, "id": one.finding or None}
            for one in step.lines
        ],
    }
