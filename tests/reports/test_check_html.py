"""The page of a check: valid HTML that says verdict, what to do first and why; text from files stays text."""

from __future__ import annotations

import re
from functools import partial
from math import fsum
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest
import shapely
from support_cases import area_ha, feature, moved, write_geojson, write_state_plane_feet, write_web_mercator, zone_ring
from support_check_pages import CASES, finding, hard_names, known, many, with_findings, write_zones
from support_html_content import HARD_NAME
from support_html_pages import SVG, XHTML, parsed, table_of, text_of

import vrx.reports.check_content
from vrx.model.check import Check
from vrx.reports.check_content import check_content
from vrx.reports.check_words import verdict_words
from vrx.reports.html.check import check_html
from vrx.runs.check import check


def bytes_of(made: Check) -> bytes:
    return check_html(made, check_content(made, written_by="vrx 0"))


def page_of(made: Check) -> Element:
    return parsed(bytes_of(made))


def words(text: str) -> str:
    return " ".join(text.split())


def part(root: Element, name: str) -> Element:
    (found,) = [each for each in root.iter() if each.get("id") == name]
    return found


every_case = pytest.mark.parametrize("name", CASES)


@every_case
def test_it_is_valid_html_and_says_all(tmp_path: Path, name: str) -> None:
    """The parser of the HTML standard, strict, finds no error; verdict, findings and reasons stand in it as text."""
    made = CASES[name](tmp_path)
    root = page_of(made)
    text = text_of(root)
    assert root.get("lang") == "en"
    verdict = words(verdict_words(made))
    header = text_of(next(root.iter(f"{XHTML}header")))
    assert verdict[len(made.verdict) :] in header
    assert made.verdict.capitalize() in header
    for one in made.findings:
        assert words(one.message) in text
        assert words(one.remedy) in text
        assert one.id in text
    for one in made.not_checked:
        assert words(one.why) in text
        assert one.id in text
    for file, digest in made.on.source.sha256.items():
        assert file in text
        assert digest in text


@every_case
def test_nothing_in_it_asks_for_anything_elsewhere(tmp_path: Path, name: str) -> None:
    """Links lead to places in the page that are there, each once; no handler, style or source stands in it."""
    root = page_of(CASES[name](tmp_path))
    ids = [each.get("id") for each in root.iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    for each in root.iter():
        for attribute, value in each.items():
            bare = attribute.rpartition("}")[2]
            assert not bare.startswith("on")
            assert bare not in {"style", "src", "action", "srcset", "formaction", "ping"}
            if bare == "href" and each.tag.rpartition("}")[2] == "a":
                assert value[1:] in ids
    policy = next(each.get("content") for each in root.iter() if each.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'; ")


@every_case
def test_the_same_check_gives_the_same_page(tmp_path: Path, name: str) -> None:
    """Byte for byte."""
    made = CASES[name](tmp_path)
    assert bytes_of(made) == bytes_of(made)


@pytest.mark.parametrize(
    ("name", "say"),
    [
        pytest.param(
            "clear",
            ["Load it.", "choose the column rate and the unit kg/ha", "85 to 140 kg/ha, on 10.500 ha"],
            id="clear",
        ),
        pytest.param(
            "caution",
            ["Look at each of these", "Have its shapes drawn so that they meet. See 1.", "choose the column"],
            id="caution",
        ),
        pytest.param(
            "stop",
            ["Do not load it.", "drawn so that they meet. See 1.", "Ask whoever made the map. See 2.",
             "Then check the map again.", "Look at these too"],
            id="stop",
        ),
        pytest.param(
            "no product",
            ["name the plan of the pass", "Not all could be looked at, with no plan, no product"],
            id="no product",
        ),
        pytest.param("unreadable", ["Do not load it.", "Copy it again."], id="unreadable"),
    ],
)  # fmt: skip
def test_what_to_do_first_is_said(tmp_path: Path, name: str, say: list[str]) -> None:
    """In every case; nothing tells to load a map that was stopped."""
    made = CASES[name](tmp_path)
    first = text_of(part(page_of(made), "first"))
    for each in say:
        assert each in first
    assert made.verdict != "stop" or not re.search(r"\b[Ll]oad the|display", first)


def test_a_map_that_could_not_be_read_is_not_drawn(tmp_path: Path) -> None:
    """Its page says why, and promises no map."""
    root = page_of(CASES["unreadable"](tmp_path))
    assert not [each for each in root.iter() if each.get("id") in {"maps", "rates"}]
    assert "The map could not be read" in text_of(part(root, "read"))


def test_records_rates_and_ground_are_those_of_the_map(tmp_path: Path) -> None:
    """4.5, 3 and 3 ha by construction; each record names the findings that concern it."""
    made = CASES["caution"](tmp_path)
    root = page_of(made)
    assert table_of(root, "section#rates") == [
        ["Record", "Rate kg/ha", "True ground ha", "Findings"],
        ["A (record 1)", "85", "4.500", "1, 2"],
        ["B (record 2)", "115", "3.000", "1, 2"],
        ["C (record 3)", "140", "3.000", ""],
    ]
    legend = table_of(root, "article#map-1")[1:]
    assert legend == [["140", "3.000", "28.6 %"], ["115", "3.000", "28.6 %"], ["85", "4.500", "42.9 %"]]


def test_every_shape_of_the_map_knows_its_line(tmp_path: Path) -> None:
    """Also without a script: its title says record, rate and ground."""
    root = page_of(CASES["clear"](tmp_path))
    marks = [each for each in root.iter() if each.get("data-key", "").startswith("patch ")]
    titles = sorted(words(each.findtext(f"{SVG}title") or "") for each in marks)
    assert titles == [
        "A (record 1): 85 kg/ha 4.500 ha", "B (record 2): 115 kg/ha 3.000 ha", "C (record 3): 140 kg/ha 3.000 ha",
    ]  # fmt: skip
    ids = {each.get("id") for each in root.iter()}
    assert all(f"row-1-{each.get('data-row')}" in ids for each in marks)


def test_a_map_of_many_rates_is_told_by_spans(tmp_path: Path) -> None:
    """400 records of 400 rates: eight spans at most and the one without, whose ground adds up to all of it."""
    head, *rows = table_of(page_of(many(tmp_path)), "section#rates")
    assert head == ["Rate kg/ha", "True ground ha", "Records"]
    assert len(rows) == 9
    assert sum(int(row[2]) for row in rows) == 400
    assert rows[0] == ["no rate", "0.024", "1"]  # 20 x 12 m
    assert fsum(float(row[1]) for row in rows) == pytest.approx(400 * 0.024, abs=0.005)


def test_zero_and_no_rate_look_and_read_differently(tmp_path: Path) -> None:
    """A record without a rate is not shown as off."""
    made = check([write_zones(tmp_path / "map.geojson", rates=(0, None, 140))], unit="kg/ha")
    root = page_of(with_findings(made))
    assert [row[0] for row in table_of(root, "article#map-1")[1:]] == ["140", "0 (off)", "no rate"]
    written = {each.text for each in root.iter(f"{SVG}text")}
    assert {"off", "no rate", "140"} <= written


def test_stops_and_cautions_are_numbered_on_the_map(tmp_path: Path) -> None:
    """Each leads to its finding; notes, and what has no place, have no mark."""
    root = page_of(CASES["stop"](tmp_path))
    links = [each for each in root.iter() if each.get("data-finding")]
    assert sorted(each.get("data-finding", "") for each in links) == ["1", "2"]
    assert all(each.get("href") == f"#finding-{each.get('data-finding')}" for each in links)


def test_in_web_mercator_it_says_why_the_map_s_own_areas_mislead(tmp_path: Path) -> None:
    """The share beside plain shapely on the sheet, and beside Karney's areas through pyproj on the ground."""
    path = write_web_mercator(tmp_path)
    made = with_findings(check([path], unit="kg/ha"))
    rings = [shapely.Polygon(moved_ring) for moved_ring in map(in_web_mercator, "ABC")]
    sheet = sum(ring.area for ring in rings) / 1e4
    true = sum(area_ha(ring, "EPSG:3857") for ring in rings)
    root = page_of(made)
    assert table_of(root, "section#areas")[-1][1:] == [f"{true:.3f} ha", f"{sheet:.3f} ha"]
    text = text_of(part(root, "areas"))
    assert f"tells {100 * sheet / true:.1f} % of the true ground" in text


def in_web_mercator(zone: str) -> Any:
    return moved(zone_ring(zone), "EPSG:3857")


def test_a_plain_map_is_not_told_about_web_mercator(tmp_path: Path) -> None:
    """The sentence stands only where it holds."""
    assert "Web Mercator" not in text_of(page_of(known(tmp_path)))


def test_what_comes_from_files_is_text(tmp_path: Path) -> None:
    """Names with markup, in a file name, a zone, a message and a reason, make no element."""
    root = page_of(hard_names(tmp_path))
    assert len(list(root.iter(f"{XHTML}script"))) == 1
    assert words(HARD_NAME) in text_of(part(root, "findings"))
    assert "a<b>&'c.geojson" in text_of(next(root.iter(f"{XHTML}h1")))


def test_a_finding_without_a_place_is_not_promised_on_the_map(tmp_path: Path) -> None:
    """No link to a map that shows nothing of it."""
    made = with_findings(known(tmp_path), finding(), finding(where=None))
    root = page_of(made)
    shown = partial(part, root)
    assert "Show 1 on the map" in text_of(shown("finding-1"))
    assert "on the map" not in text_of(shown("finding-2"))


def test_thousands_of_shapes_are_drawn_as_few(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Shapes of one class become one: 9 rows stay, on far fewer patches, with the same ground in the table."""
    made = many(tmp_path)
    whole = page_of(made)
    monkeypatch.setattr(vrx.reports.check_content, "_MOST_PATCHES", 100)
    few = page_of(made)
    assert table_of(few, "section#rates") == table_of(whole, "section#rates")
    assert count_of_patches(whole) == 400
    assert 9 <= count_of_patches(few) < 40


def count_of_patches(root: Element) -> int:
    return sum(each.get("data-key", "").startswith("patch ") for each in root.iter())


def test_a_map_without_ground_has_a_page(tmp_path: Path) -> None:
    """Points are no ground: nothing is drawn, and nothing is told to load."""
    path = write_geojson(tmp_path / "map.geojson", [feature({"type": "Point", "coordinates": [-96.0, 40.05]}, rate=85)])
    root = page_of(with_findings(check([path], unit="kg/ha"), finding("stop", where=None)))
    assert not [each for each in root.iter() if each.get("id") in {"maps", "rates"}]
    assert "Do not load it." in text_of(part(root, "first"))


def test_sheets_in_feet_are_told_in_people_s_units(tmp_path: Path) -> None:
    """Beside plain shapely in US survey feet of 1200/3937 m (SP811)."""
    path = write_state_plane_feet(tmp_path)
    feet = sum(shapely.Polygon(moved(zone_ring(zone), "EPSG:26852")).area for zone in "ABC")
    root = page_of(with_findings(check([path], unit="kg/ha")))
    assert table_of(root, "section#areas")[-1][2] == f"{feet * (1200 / 3937) ** 2 / 1e4:.3f} ha"
