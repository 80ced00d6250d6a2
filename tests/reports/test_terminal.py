"""A build as text: the numbers of the ledger, what to look at, and words that people understand."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given as drawn_by
from hypothesis import settings
from hypothesis import strategies as st
from support_products import granular, product, seed
from support_zone_maps import build_of, plan_of, prescription_of, zone_map

from vrx.model.build import Build
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.reports.as_json import build_json
from vrx.reports.terminal import build_text, findings_text
from vrx.units import ACRE_M2, SURVEY_ACRE_M2


def built(drawn: ZoneMap, *rated: tuple[Product, Mapping[str, float | None]], **plan: Any) -> Build:
    made = plan_of(*(of for of, _ in rated), **plan)
    return build_of(made, prescription_of(drawn, made, *(rates for _, rates in rated)))


def text_number(text: str) -> float:
    return float(text.replace(",", ""))


def rows_of(text: str, unit: str) -> list[list[str]]:
    """Return the cells of a product's table, which stand at least two spaces apart, the head left out."""
    lines = text.splitlines()
    (head,) = [at for at, line in enumerate(lines) if line.startswith("  zone") and f"wanted {unit}" in line]
    rows = []
    for line in lines[head + 1 :]:
        if line.startswith("  total given"):
            break
        rows.append(re.split(r" {2,}", line.strip()))
    return rows


def test_the_text_of_a_field_that_can_be_done_in_the_head() -> None:
    """Two hectares at 60 and 90 kg/ha and one at 240, lowered to 200: 60 + 90 + 200 kg."""
    text = build_text(built(zone_map("A B C"), (granular(), {"A": 60, "B": 90, "C": 240}), units="metric"))
    assert "Vlei, 2027" in text
    assert "Ground to treat: 3.000 ha true ground (geodesic); 2.998 ha on the map sheet (grid EPSG:32734)" in text
    assert "Granular B: 0, or 30 to 200 kg/ha in steps of 5" in text
    assert rows_of(text, "kg/ha") == [
        ["A", "60", "60", "1.000", "60.0"],
        ["B", "90", "90", "1.000", "90.0"],
        ["C", "240", "200", "1.000", "200.0", "above the maximum: lowered to 200 kg/ha"],
    ]
    assert (
        "  total given 350.0 kg on 3.000 ha = wanted 390.0, limits and steps -40.0, joining small parts +0.0\n" in text
    )
    assert "= 0.35 tonne, 771.6 lb, 0.3858 short ton" in text
    assert "Written and read back: vlei-bundle\n  machine/vlei.shp" in text


def test_the_head_of_the_table_says_the_units() -> None:
    """Acres in a US plan, hectares in a metric one; the amount in the product's own unit."""
    text = build_text(built(zone_map("A"), (product(), {"A": 15}), units="us"))
    assert re.search(r"zone +wanted gal/ac +given +ac +gal\n", text)
    assert rows_of(text, "gal/ac") == [["A", "15", "15", "2.471", "37.07"]]


@pytest.mark.parametrize(
    ("acre", "m2"),
    [
        pytest.param("international", ACRE_M2, id="international"),
        pytest.param("us_survey", SURVEY_ACRE_M2, id="US survey"),
    ],
)
def test_acres_are_those_of_the_plan(acre: str, m2: Any) -> None:
    """On 2,000 ha the two acres differ by 0.02: the text counts in the plan's."""
    drawn = zone_map("A", widths=[200_000.0])
    text = build_text(built(drawn, (product(), {"A": 15}), units="us", acre=acre))
    assert text_number(rows_of(text, "gal/ac")[0][3]) == pytest.approx(2e7 / float(m2), abs=5e-4)


@pytest.mark.parametrize(
    ("of", "rate", "width_m", "expected"),
    [
        pytest.param(product(), 15, 0.1, "0.03707", id="a trace keeps four digits"),
        pytest.param(product(), 15, 100, "37.07", id="tens"),
        pytest.param(granular(), 200, 100_000, "200,000.0", id="hundreds of tonnes"),
        pytest.param(seed(), 32000, 100_000, "79,073,722", id="seeds, without a power of ten"),
    ],
)
def test_amounts_of_every_size(of: Product, rate: float, width_m: float, expected: str) -> None:
    """Small totals are not rounded to nothing, large ones are written out."""
    text = build_text(built(zone_map("A", widths=[width_m]), (of, {"A": rate}), units="us"))
    assert f"total given {expected} " in text
    assert not re.search(r"\de[+-]\d", text)


def test_a_zone_without_a_rate_wants_none() -> None:
    """The word, not nan and not 0."""
    text = build_text(built(zone_map("A B"), (granular(), {"A": 60, "B": None})))
    assert rows_of(text, "kg/ha")[1][:3] == ["B", "none", "0"]
    assert "nan" not in text


def test_a_stop_writes_nothing_and_says_so() -> None:
    """STOP in words, with its remedy; no bundle, no cautions for the pass, no file."""
    found = built(zone_map("A A+B B"), (granular(), {"A": 60, "B": 90}))
    text = build_text(found)
    assert found.bundle is None
    assert "To look at: 1 stop\n  STOP     Granular B: zones A and B overlap" in text
    assert '> Mend the zones, or settle it with overlaps = "first"' in text
    assert text.endswith("Nothing was written for the machine: a finding marked STOP has to be settled first.\n")
    assert "Written and read back" not in text


def test_no_findings() -> None:
    """That there is nothing to look at is said."""
    assert list(findings_text([])) == ["Nothing to look at: no findings."]
    assert "Nothing to look at: no findings." in build_text(built(zone_map("A"), (granular(), {"A": 60})))


def test_findings_are_counted_and_the_worst_comes_first() -> None:
    """One stop, one caution: in this order, with the id small behind."""
    drawn = zone_map("A B C")
    text = build_text(built(drawn, (granular(above_max="refuse"), {"A": 22, "B": 240, "C": 60})))
    # Raised on a third of the ground, and the total with it: two cautions.
    assert "To look at: 1 stop, 2 cautions" in text
    assert text.index("STOP") < text.index("CAUTION")
    assert "[rate-above-max]" in text
    assert "[rate-below-min]" in text


def test_keep_outs_are_told_only_where_there_are_some() -> None:
    """With the ground in the boundary beside it."""
    with_one = build_text(built(zone_map("A A!0", keep_outs=[()]), (granular(), {"A": 60}), units="metric"))
    assert "Keep-outs for every product: 1.000 ha of the 2.000 ha in the boundary" in with_one
    assert "Keep-outs" not in build_text(built(zone_map("A"), (granular(), {"A": 60})))


def test_both_units_stand_in_the_text() -> None:
    """What is written in another unit than the machine's is shown in both."""
    text = build_text(built(zone_map("A"), (product(), {"A": 18}), units="us", receiver={"unit": "L/ha"}))
    assert "Liquid A is written in L/ha: 18 gal/ac as 168.4." in text


LONG = "Überlanger Schlag am Rand der großen Wiese, Ñandú – 東の畑"


def test_long_and_foreign_names() -> None:
    """Names stay whole and the table stays a table."""
    drawn = zone_map("P Q", names={"P": LONG, "Q": "B"})
    of = granular(name="Schwefelsaures Ammoniak (grobkörnig), 20,5 % N + 24 % S")
    text = build_text(built(drawn, (of, {LONG: 60, "B": 240})))
    assert f"{of.name}: 0, or 30 to 200" in text
    rows = rows_of(text, "kg/ha")
    assert [row[0] for row in rows] == ["B", LONG]
    lines = [line for line in text.splitlines() if line.startswith(("  zone", "  B ", f"  {LONG}"))]
    end = lines[0].index("given") + len("given")
    assert [line[end - 5 : end].strip() for line in lines] == ["given", "200", "60"]
    findings = text[text.index("To look at") : text.index("Written")]
    assert all(len(line) <= 100 for line in findings.splitlines())


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """Reports return values; the command line prints."""
    found = built(zone_map("A A+B B"), (granular(), {"A": 60, "B": 90}))
    build_text(found)
    build_json(found)
    assert capfd.readouterr() == ("", "")


# --- text and JSON of one build

RATES = st.one_of(st.none(), st.sampled_from([0.0, 29.0, 240.0, -3.0]), st.floats(0, 300))


@settings(deadline=None)
@drawn_by(rates=st.lists(RATES, min_size=3, max_size=3), widths=st.lists(st.floats(1, 900), min_size=5, max_size=5))
def test_text_and_json_agree_with_the_ledger(rates: list[float | None], widths: list[float]) -> None:
    """Every number of the text is the ledger's within half of its last digit, and JSON's is the ledger's itself."""
    drawn = zone_map("A A+B B . C", widths=widths)
    found = built(drawn, (granular(default="45 kg/ha"), dict(zip("ABC", rates, strict=True))), overlaps="lowest")
    (account,) = found.ledger.products
    text, said = build_text(found), build_json(found)
    assert json.dumps(said, allow_nan=False)
    (listed,) = said["products"]  # type: ignore[misc]  # a list of one
    for name in ("total_wanted", "total_given", "changed_by_limits", "changed_by_joining", "geodesic_area_m2"):
        assert listed[name] == getattr(account, name)
    table = rows_of(text, "kg/ha")
    assert len(table) == len(account.rows) == len(listed["zones"])
    for cells, row, zone in zip(table, account.rows, listed["zones"], strict=True):
        assert (cells[0], zone["zone"]) == (row.zone, row.zone)
        assert (cells[1] == "none") is (zone["wanted"] is None)
        if zone["wanted"] is not None:
            assert zone["wanted"] == row.wanted
            assert text_number(cells[1]) == pytest.approx(row.wanted, abs=0.005 + 1e-9)
        assert text_number(cells[2]) == zone["given"] == float(row.given)
        assert zone["geodesic_area_m2"] == row.geodesic_area_m2
        assert text_number(cells[3]) == pytest.approx(row.geodesic_area_m2 / 1e4, abs=0.0005 + 1e-9)
        assert text_number(cells[4]) == pytest.approx(row.amount_given, abs=0.05 + 1e-9)
    pattern = r"total given (\S+) kg on (\S+) ha = wanted (\S+), limits and steps (\S+), joining small parts (\S+)"
    sums = re.search(pattern, text)
    assert sums
    expected = (
        account.total_given,
        account.geodesic_area_m2 / 1e4,
        account.total_wanted,
        account.changed_by_limits,
        account.changed_by_joining,
    )
    for printed, value in zip(sums.groups(), expected, strict=True):
        assert text_number(printed) == pytest.approx(value, abs=0.05 + 1e-9)
    assert [one["id"] for one in said["findings"]] == [one.id for one in found.findings]  # type: ignore[index, attr-defined]  # a list
    for one in found.findings:
        assert f"[{one.id}]" in text
