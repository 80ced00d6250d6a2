"""The report: valid HTML that says what the content says, in which text from files stays text."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from hashlib import sha256
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element

import pytest
from support_html_content import CASES, HARD_NAME, content, finding, hard_names, rates, two_products
from support_html_pages import SVG, XHTML, lines_of, parsed, table_of, text_of

from vrx.model.content import Content, MapFile
from vrx.reports.html.report import report_html

# Drawn, or shown in part, not said.
NOT_SAID = {"shape", "boundary", "patches", "png", "lines", "paper", "severity", "beside", "grid", "stopped"}
CELLS = ("zone", "inputs", "wanted", "limited", "given", "why", "true_area", "sheet_area", "amount")


@cache
def report_of(name: str) -> Element:
    return parsed(report_html(CASES[name]()))


def said(noun: Any) -> Iterator[str]:
    """Yield every text of a content that people have to find in the report."""
    if isinstance(noun, str):
        yield noun
    elif isinstance(noun, tuple):
        for each in noun:
            yield from said(each)
    elif is_dataclass(noun):
        for field in fields(noun):
            if field.name not in NOT_SAID and not (isinstance(noun, MapFile) and field.name == "sha256"):
                yield from said(getattr(noun, field.name))


every_case = pytest.mark.parametrize("name", CASES)


@every_case
def test_the_report_is_valid_html(name: str) -> None:
    """The parser of the HTML standard, strict, finds no error, and the language is said."""
    assert report_of(name).get("lang") == "en"


@every_case
def test_the_report_says_all_that_the_content_says(name: str) -> None:
    """Every text of the content stands in the page, as text."""
    made = CASES[name]()
    text = text_of(report_of(name))
    missing = {each for each in said(made) if " ".join(clean(each).split()) not in text}
    assert not missing


def clean(text: str) -> str:
    """Return text with what HTML can't hold as U+FFFD, the replacement character."""
    unfit = "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202d\u202e\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
    return re.sub(unfit, "\ufffd", text)


@every_case
def test_ledger_legend_and_summary_have_the_numbers_of_the_content(name: str) -> None:
    """Cell by cell, in the order of the content; the lowest rate stands at the foot of its legend."""
    root, made = report_of(name), CASES[name]()
    summary = table_of(root, "section#summary")[1:]
    for at, product in enumerate(made.products, start=1):
        head, *rows, total = table_of(root, f"article#ledger-{at}")
        assert head == [
            "Zone", "Inputs", f"Wanted {product.unit}", f"After limits {product.unit}", f"Given {product.unit}", "Why",
            f"True ground {made.area_unit}", f"Map sheet {made.area_unit}", f"Amount {product.amount_unit}",
        ]  # fmt: skip
        assert rows == [[" ".join(getattr(row, cell).split()) for cell in CELLS] for row in product.rows]
        assert total == ["Total", "", "", "", "", "", product.true_area, product.sheet_area, product.total]
        legend = table_of(root, f"article#map-{at}")[1:]
        assert legend[::-1] == [
            [one.rate + " (off)" * (one.shade < 0), one.area, one.share, one.amount] for one in product.classes
        ]
        assert summary[at - 1][2:4] == [product.true_area, product.total]


@every_case
def test_every_patch_of_a_map_knows_its_line_of_the_ledger(name: str) -> None:
    """Also without a script: its title says zone, rates, area and amount."""
    root, made = report_of(name), CASES[name]()
    marks = [each for each in root.iter() if each.get("data-key", "").startswith("patch ")]
    assert len(marks) == sum(len(product.patches) for product in made.products)
    for at, product in enumerate(made.products, start=1):
        (article,) = [each for each in root.iter(f"{XHTML}article") if each.get("id") == f"map-{at}"]
        for mark in article.iter():
            if mark.get("data-key", "").startswith("patch "):
                row = product.rows[product.patches[int(mark.get("data-key", "")[6:])].row]
                assert mark.get("data-row") == str(product.rows.index(row))
                title = " ".join((mark.findtext(f"{SVG}title") or "").split())
                assert f"given {row.given} {product.unit}" in title
                assert f"wanted {row.wanted}, after limits {row.limited}" in title
                assert f"{row.true_area} {made.area_unit}, {row.amount} {product.amount_unit}" in title


@every_case
def test_nothing_in_the_page_asks_for_anything_elsewhere(name: str) -> None:
    """Links lead to places in the page that are there, each once; no handler or style stands in an attribute."""
    root = report_of(name)
    ids = [each.get("id") for each in root.iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    for each in root.iter():
        for attribute, value in each.items():
            bare = attribute.rpartition("}")[2]
            assert not bare.startswith("on")
            assert bare not in {"style", "src", "action", "srcset", "formaction", "ping"}
            if bare == "href":
                assert value.startswith("data:") or value.removeprefix("#") in ids
            if "url(" in value:
                assert re.fullmatch(r"url\(#[\w-]+\)", value)


@every_case
def test_the_policy_allows_its_own_style_and_script_alone(name: str) -> None:
    """The hashes in it are those of what the page holds; everything else is forbidden."""
    root = report_of(name)
    (policy,) = [each.get("content") or "" for each in root.iter(f"{XHTML}meta") if each.get("http-equiv")]
    allowed = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    for tag in ("style", "script"):
        (made,) = list(root.iter(f"{XHTML}{tag}"))
        digest = b64encode(sha256((made.text or "").encode()).digest()).decode()
        assert allowed.pop(f"{tag}-src") == f"'sha256-{digest}'"
    assert allowed == {"default-src": "'none'", "img-src": "data:", "base-uri": "'none'", "form-action": "'none'"}


@every_case
def test_headings_go_down_step_by_step_and_tables_name_their_cells(name: str) -> None:
    """One first heading, no level left out; every head of a table says of what, every table has a caption."""
    root = report_of(name)
    levels = [int(each.tag[-1]) for each in root.iter() if re.fullmatch(f"{re.escape(XHTML)}h[1-6]", str(each.tag))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(each.get("scope") in {"row", "col"} for each in root.iter(f"{XHTML}th"))
    for each in root.iter(f"{XHTML}table"):
        assert text_of(each[0])
        assert each[0].tag == f"{XHTML}caption"


def test_names_with_markup_stay_text() -> None:
    """A name of a field, zone, product, file or finding makes no element, and ends no script or style."""
    root = report_of("hard names")
    assert [each.tag for each in root.iter(f"{XHTML}script")] == [f"{XHTML}script"]
    assert HARD_NAME in "".join(next(root.iter(f"{XHTML}h1")).itertext())
    plain = parsed(report_html(content(rates("Seed", ["80", "0", "90"]), size=(300.0, 100.0))))
    bold = [text_of(each) for each in root.iter(f"{XHTML}b")]
    assert set(bold) <= {text_of(each) for each in plain.iter(f"{XHTML}b")} | {"Caution", "Caution 1", "What to do:"}


def test_what_html_can_t_hold_is_replaced() -> None:
    """Control characters, half a surrogate pair, and a mark that would turn the text around."""
    page = report_html(hard_names()).decode("utf-8")
    assert "<dd>\ufffd\ufffd\ufffd\ufffdabc\ufffd</dd>" in page


def test_the_foot_of_a_printed_page_says_the_field_whatever_it_is_called() -> None:
    """A name can't break out of the style: only escapes stand in it."""
    style = "".join(next(report_of("hard names").iter(f"{XHTML}style")).itertext())
    (running,) = re.findall(r'@bottom-left \{ content: "([^\n]*)" \} \}\n$', style)
    assert re.fullmatch(r"(?:[A-Za-z0-9]|\\[0-9a-f]{6})+", running)
    told = re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), running)
    assert told == HARD_NAME


@pytest.mark.parametrize(("paper", "size"), [("letter", "letter"), ("a4", "A4")])
def test_the_page_is_printed_on_the_paper_of_the_place(paper: Any, size: str) -> None:
    """Letter where the plan is in US units, A4 elsewhere."""
    assert f"@page {{ size: {size};" in report_html(content(rates("Seed", ["80"]), paper=paper)).decode()


def test_findings_stand_in_their_order_with_word_title_and_remedy() -> None:
    """Each with its number, and the id small; only what lies on a map leads there."""
    root = report_of("two products")
    items = [each for each in root.iter(f"{XHTML}li") if (each.get("id") or "").startswith("finding-")]
    assert [each.get("id") for each in items] == ["finding-1", "finding-2", "finding-3"]
    title = "Caution 1 : Wanted rates lie below the minimum rate-below-min Lime, zone zone 2"
    assert lines_of(items[0]).startswith(title)
    assert "What to do: Change the rates or the minimum." in text_of(items[0])
    leads = [[link.get("href") for link in each.iter(f"{XHTML}a")] for each in items]
    assert leads == [["#map-2"], ["#map-1"], []]


def test_the_map_leads_to_its_findings() -> None:
    """A finding of one product is on its map alone, one of the field on every map."""
    root = report_of("two products")
    for number, expected in ((1, ["#finding-2"]), (2, ["#finding-1", "#finding-2"])):
        (article,) = [each for each in root.iter(f"{XHTML}article") if each.get("id") == f"map-{number}"]
        found = {each.get("href") for each in article.iter(f"{SVG}a") if each.get("data-finding")}
        assert sorted(found) == expected


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        pytest.param(lambda: content(rates("Seed", ["80"])), "Nothing needs a look: no findings.", id="none"),
        pytest.param(
            lambda: content(rates("Seed", ["80"]), findings=(finding(1, severity="note"),)),
            "Nothing needs a look. 1 note is good to know",
            id="a note",
        ),
        pytest.param(
            two_products,
            "Caution: Wanted rates lie below the minimum: 1 (Lime, zone zone 2) Caution: A gap: 2 1 note is",
            id="cautions and a note",
        ),
        pytest.param(
            lambda: content(rates("Seed", ["80"]), findings=(finding(1, product="A"), finding(2, product="B"))),
            "Caution: Wanted rates lie below the minimum: 1 (A) 2 (B)",
            id="one title twice",
        ),
    ],
)
def test_the_summary_says_what_needs_a_look(made: Callable[[], Content], expected: str) -> None:
    """Stops and cautions with their titles; notes only by their count."""
    (summary,) = [each for each in parsed(report_html(made())).iter(f"{XHTML}section") if each.get("id") == "summary"]
    assert expected.replace(" ", "") in text_of(summary).replace(" ", "")


def test_a_stopped_build_says_so_first() -> None:
    """Above the facts, and where the files would be."""
    root = report_of("stopped, 60 findings")
    assert "Stop: no map files were written, a finding has to be settled first." in text_of(
        next(root.iter(f"{XHTML}header"))
    )
    (files,) = [each for each in root.iter(f"{XHTML}section") if each.get("id") == "files"]
    assert lines_of(files) == "Files to load No map files were written: a finding marked Stop has to be settled first."


def test_files_to_load_say_column_unit_and_code() -> None:
    """And what has to lie beside a file, by its ending."""
    rows = table_of(report_of("two products"), "section#files")
    assert rows[1] == ["Seed", "RATE", "kg/ha", "a1b2", "shapefile", "vlei_2027_a1b2.shp", ".dbf, .shx"]


def test_the_same_content_gives_the_same_bytes() -> None:
    """Nothing comes from a clock or a counter."""
    assert report_html(two_products()) == report_html(two_products())


def luminance(colour: str) -> float:
    """Return the relative luminance of ``#rgb`` or ``#rrggbb``."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * each for each in colour[1:])
    linear = []
    for at in (0, 2, 4):
        value = int(digits[at : at + 2], 16) / 255
        linear.append(value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.source("WCAG2", "relative luminance and contrast ratio; success criterion 1.4.6")
@pytest.mark.parametrize("name", ["ink", "soft", "link"])
def test_text_keeps_the_enhanced_contrast(name: str) -> None:
    """At least 7 to 1 on white, and on the wash of a marked line."""
    style = "".join(next(report_of("two products").iter(f"{XHTML}style")).itertext())
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6});", style))
    for ground in ("#ffffff", colours["wash"]):
        assert (luminance(ground) + 0.05) / (luminance(colours[name]) + 0.05) >= 7
