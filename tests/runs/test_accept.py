"""Acceptances: what a person answers for becomes a note, and what nobody may sign away stays."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from support_products import granular, product
from support_zone_maps import plan_of

from vrx.model.finding import Finding, Severity
from vrx.model.plan import Plan
from vrx.runs.accept import accepted

SIGNED = {"by": "office", "why": "seen with the operator", "date": "2027-04-12"}


def finding(name: str = "thin-part", severity: Severity = "caution", **keys: Any) -> Finding:
    return Finding(id=name, severity=severity, message="A part is narrow.", remedy="Redraw it.", **keys)


def plan(*tables: dict[str, str], of: Any = None) -> Plan:
    return plan_of(of or granular(), accept=[SIGNED | one for one in tables])


def test_what_is_accepted_becomes_a_note_that_says_so() -> None:
    """Who, when and why; ground and remedy stay."""
    (found,) = accepted([finding(area_m2=20.0)], plan({"finding": "thin-part"}))
    assert found.severity == "note"
    assert found.message == "A part is narrow. Accepted by office on 2027-04-12: seen with the operator"
    assert (found.id, found.area_m2, found.remedy) == ("thin-part", 20.0, "Redraw it.")


def test_without_a_date_none_is_made_up() -> None:
    """The clock has no say."""
    (found,) = accepted(
        [finding()], plan_of(granular(), accept=[{"finding": "thin-part", "by": "office", "why": "ok"}])
    )
    assert found.message.endswith("Accepted by office: ok")
    assert str(dt.date.today().year) not in found.message


@pytest.mark.parametrize(
    ("table", "matches"),
    [
        pytest.param({"product": "Granular B"}, True, id="its product"),
        pytest.param({"product": "Other"}, False, id="another product"),
        pytest.param({"zone": "KeB"}, True, id="its zone"),
        pytest.param({"zone": "KeA"}, False, id="another zone"),
        pytest.param({"product": "Granular B", "zone": "KeB"}, True, id="both"),
    ],
)
def test_an_acceptance_may_be_for_a_product_or_a_zone_alone(table: dict[str, str], matches: bool) -> None:
    """Another one's finding stays what it is, and the acceptance that holds for nothing is told."""
    one = finding(product="Granular B", zone="KeB")
    found = accepted([one], plan({"finding": "thin-part"} | table))
    assert (found[0].severity == "note") is matches
    assert [each.id for each in found[1:]] == ([] if matches else ["accept-unmatched"])


def test_one_acceptance_covers_every_finding_of_its_kind() -> None:
    """Both parts are notes, and nothing is left over."""
    found = accepted([finding(zone="A"), finding(zone="B")], plan({"finding": "thin-part"}))
    assert [one.severity for one in found] == ["note", "note"]


def test_an_acceptance_of_nothing_is_a_caution() -> None:
    """So that last year's is not carried along for ever."""
    (found,) = accepted([], plan({"finding": "gap"}))
    assert (found.id, found.severity) == ("accept-unmatched", "caution")
    assert "accepts gap" in found.message


def test_a_note_uses_its_acceptance_up_and_stays_as_it_is() -> None:
    """What is good to know needs no signature, and is no reason to complain about one."""
    note = finding(severity="note")
    assert accepted([note], plan({"finding": "thin-part"})) == (note,)


def test_a_stop_may_be_accepted() -> None:
    """A receiver that loads more than the plan says."""
    (found,) = accepted([finding("too-many-features", "stop")], plan({"finding": "too-many-features"}))
    assert found.severity == "note"


@pytest.mark.parametrize(
    ("one", "of"),
    [
        pytest.param(finding("rate-missing", "stop"), granular(), id="no rate"),
        pytest.param(finding("rate-below-min", "stop"), granular(), id="a refused rate"),
        pytest.param(finding("keep-out-not-off", "stop"), granular(), id="a rate in a keep-out"),
        pytest.param(finding("keep-out-empty", "stop"), granular(), id="a keep-out that is not there"),
        pytest.param(
            finding("rate-above-max", "caution", product="UAN 32"), product(use="crop protection"), id="above a label"
        ),
    ],
)
def test_what_nobody_may_sign_away_stays(one: Finding, of: Any) -> None:
    """The finding keeps its severity, and the acceptance is told to be none."""
    if one.product:
        one = finding(one.id, one.severity, product=of.name)
    found = accepted([one], plan({"finding": one.id}, of=of))
    assert found[0] == one
    assert [each.id for each in found[1:]] == ["accept-refused"]


def test_a_fertiliser_above_its_maximum_may_be_accepted() -> None:
    """Its maximum is the machine's or the plan's own."""
    (found,) = accepted([finding("rate-above-max", product="Granular B")], plan({"finding": "rate-above-max"}))
    assert found.severity == "note"
