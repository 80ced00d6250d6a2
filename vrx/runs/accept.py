"""Acceptances: a finding that a person has seen and answers for becomes a note that says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from vrx.model.finding import Finding

if TYPE_CHECKING:
    from vrx.model.plan import Accept, Plan

# Where no rate can be given, or none may: a signature changes nothing about the ground.
_NEVER: Final = frozenset(
    {
        "keep-out-not-off",
        "keep-out-empty",
        "part-empty",
        "unreadable",
        "no-crs",
        "empty-map",
        "in-keep-out",
        "other-field",
        "rate-column-unclear",
    }
)
_WITHOUT_A_RATE: Final = frozenset(
    {
        "overlap",
        "rate-missing",
        "rate-not-a-number",
        "rate-no-data-code",
        "rate-formula-failed",
        "rate-zero",
        "rate-below-min",
        "rate-above-max",
    }
)


def accepted(findings: Sequence[Finding], plan: Plan) -> tuple[Finding, ...]:
    """Return findings with those that the plan accepts as notes, and cautions for acceptances that hold for nothing.

    An acceptance that names a product or a zone is for findings of that product or zone alone.
    """
    used: set[int] = set()
    refused: dict[int, str] = {}
    found = []
    for finding in findings:
        meant = [at for at, one in enumerate(plan.accept) if _is_meant(one, finding)]
        used.update(meant)
        if not meant or finding.severity == "note":
            found.append(finding)
            continue
        at = meant[0]
        why_not = _why_not(finding, plan)
        if why_not:
            refused[at] = why_not
            found.append(finding)
        else:
            found.append(_signed(finding, plan.accept[at]))
    idle = [_idle(one) for at, one in enumerate(plan.accept) if at not in used]
    return (*found, *(_refused(plan.accept[at], why) for at, why in refused.items()), *idle)


def _is_meant(one: Accept, finding: Finding) -> bool:
    return (
        one.finding == finding.id
        and one.product in ("", finding.product)
        and (not one.zone or one.zone == finding.zone)
    )


def _why_not(finding: Finding, plan: Plan) -> str:
    """Return why a finding can't be accepted; empty where it can."""
    use = {product.name: product.use for product in plan.rated}.get(finding.product)
    if finding.id == "rate-above-max" and use == "crop protection":
        return "the label's maximum is the law for crop protection"
    if finding.severity == "stop" and finding.id in _WITHOUT_A_RATE:
        return "there is no rate to give until the plan says one"
    if finding.id in _NEVER:
        return "nothing that a person signs changes the ground"
    return ""


def _signed(finding: Finding, one: Accept) -> Finding:
    when = f" on {one.date.isoformat()}" if one.date else ""
    return replace(finding, severity="note", message=f"{finding.message} Accepted by {one.by}{when}: {one.why}")


def _idle(one: Accept) -> Finding:
    about = "".join(f", {key} {value}" for key, value in (("product", one.product), ("zone", one.zone)) if value)
    return Finding(
        id="accept-unmatched",
        severity="caution",
        message=f"The plan accepts {one.finding}{about}, and nothing of that kind was found.",
        remedy="Take the acceptance out of the plan, or correct its finding, product or zone.",
        product=one.product,
        zone=one.zone,
    )


def _refused(one: Accept, why: str) -> Finding:
    return Finding(
        id="accept-refused",
        severity="caution",
        message=f"The plan accepts {one.finding}, which can't be accepted: {why}.",
        remedy="Take the acceptance out of the plan, and settle what was found.",
        product=one.product,
        zone=one.zone,
    )
