"""Running rules over a map: what they saw as findings, the worst first, and what could not be looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from vrx.checks.rule import Rule, Seen, missing
from vrx.checks.telling import on_earth
from vrx.model.check import Check, NotChecked
from vrx.model.checked_map import CheckedMap
from vrx.model.finding import Finding, Severity

_ORDER: Sequence[Severity] = ("stop", "caution", "note")


def run_rules(on: CheckedMap, rules: Iterable[Rule], severities: Mapping[str, tuple[Severity, ...]]) -> Check:
    """Let each rule look at a map.

    Parameters
    ----------
    rules : iterable of Rule
        In the order in which findings of one severity are told.
    severities : mapping of str to tuple
        Those that each rule may give, the gravest first.

    Raises
    ------
    ValueError
        A rule gave a severity that is not among its own.
    """
    findings: list[Finding] = []
    unseen: list[NotChecked] = []
    ids = set()
    for rule in rules:
        ids.add(rule.id)
        why = missing(rule, on)
        if why:
            unseen.append(NotChecked(id=rule.id, why=why))
            continue
        for one in rule.look(on):
            if isinstance(one, Seen):
                findings.append(_finding(rule.id, one, on, severities[rule.id]))
            else:
                unseen.append(NotChecked(id=rule.id, why=one.why))
    if on.layer is not None:
        findings += [one for one in on.layer.findings if one.id not in ids]
    return Check(on=on, findings=worst_first(findings), not_checked=tuple(unseen))


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings with stops first and notes last, otherwise in their order."""
    return tuple(sorted(findings, key=lambda one: _ORDER.index(one.severity)))


def _finding(rule: str, seen: Seen, on: CheckedMap, allowed: tuple[Severity, ...]) -> Finding:
    severity = seen.severity or allowed[0]
    if severity not in allowed:
        raise ValueError(f"{rule} gives {severity}, and may give {', '.join(allowed)}")
    where = seen.on_earth
    if seen.where is not None and not seen.where.is_empty and on.shapes is not None:
        where = on_earth(seen.where, on.shapes.frame)
    return Finding(
        id=rule,
        severity=severity,
        message=seen.message,
        remedy=seen.remedy,
        area_m2=seen.area_m2,
        where=where,
        features=seen.features or tuple(on.record(at) for at in seen.indices),
        product=seen.product or ("" if on.product is None else on.product.name),
        zone=seen.zone,
    )
