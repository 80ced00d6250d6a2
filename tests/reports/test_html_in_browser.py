"""The report in a browser: it asks for nothing, fits the window, and ties maps, ledgers and findings together."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from support_html_content import CASES, content, rates, two_products

from vrx.model.content import Content, OrderLine
from vrx.reports.html.report import report_html

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
if CHROMIUM is None:
    pytest.skip("chromium is not installed", allow_module_level=True)
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed")

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
WIDE, NARROW = {"width": 1280, "height": 900}, {"width": 360, "height": 740}
POINTS_PER_INCH = 72


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield running
        running.close()


class Opened:
    """A report opened in a browser, with all that it asked for and complained about."""

    def __init__(self, browser: Any, folder: Path, made: Content, size: dict[str, int], **context: Any) -> None:
        path = folder / "report.html"
        path.write_bytes(report_html(made))
        self.url = path.as_uri()
        self.requests: list[str] = []
        self.said: list[str] = []
        self.context = browser.new_context(viewport=size, **context)
        self.page = self.context.new_page()
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.goto(self.url, wait_until="load")

    def readout(self, number: int) -> dict[str, str]:
        """Return what stands beside a map, by its words."""
        pairs = self.page.locator(f"#map-{number} .readout dl > div").all()
        return {pair.locator("dt").inner_text(): pair.locator("dd").inner_text() for pair in pairs}

    def outlined(self, number: int) -> list[str]:
        """Return the paths that are outlined on a map."""
        paths = self.page.locator(f"#map-{number} .outlined.above > *").all()
        return [path.get_attribute("d") for path in paths]

    def patch(self, number: int, at: int) -> Any:
        return self.page.locator(f'#map-{number} [data-key="patch {at}"]')

    def outline_of(self, number: int, at: int) -> str:
        """Return the path of a patch; a hatched one is a group of its outline and its lines."""
        outline = "(mark) => (mark.matches('path') ? mark : mark.querySelector('path')).getAttribute('d')"
        path: str = self.patch(number, at).evaluate(outline)
        return path


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Any]:
    made: list[Opened] = []

    def open_report(noun: Content, size: dict[str, int] = WIDE, **options: Any) -> Opened:
        made.append(Opened(browser, tmp_path, noun, size, **options))
        return made[-1]

    yield open_report
    for one in made:
        one.context.close()


@pytest.mark.parametrize("size", [pytest.param(WIDE, id="wide"), pytest.param(NARROW, id="narrow")])
@pytest.mark.parametrize("name", CASES)
def test_it_asks_for_nothing_complains_of_nothing_and_fits_the_window(opened: Any, name: str, size: Any) -> None:
    """The only request is the file itself; the console stays empty, also of the policy; no sideways scrolling."""
    report = opened(CASES[name](), size=size)
    report.page.wait_for_timeout(50)
    assert report.requests == [report.url]
    assert report.said == []
    assert report.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    report.page.evaluate("document.querySelectorAll('details').forEach((each) => each.open = true)")
    assert report.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_the_policy_stops_what_would_be_put_in(opened: Any) -> None:
    """A script and a picture added later are refused: the watch above would see them."""
    report = opened(two_products())
    report.page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.broken = true";
            document.body.append(script);
            const picture = document.createElement("img");
            picture.src = "https://example.invalid/x.png";
            document.body.append(picture);
        }"""
    )
    report.page.wait_for_timeout(200)
    assert report.page.evaluate("window.broken") is None
    assert len([each for each in report.said if "Content Security Policy" in each]) == 2


def corner(patch: Any) -> dict[str, float]:
    """Return a place in a patch away from its label and the marks at its middle."""
    box = patch.bounding_box()
    return {"x": box["width"] * 0.9, "y": box["height"] * 0.9}


def expected(made: Content, number: int, at: int) -> dict[str, str]:
    product = made.products[number - 1]
    row = product.rows[product.patches[at].row]
    return {
        "Zone": row.zone,
        "Inputs": row.inputs,
        "Wanted": f"{row.wanted} {product.unit}",
        "After limits": f"{row.limited} {product.unit}",
        "Given": f"{row.given} {product.unit}",
        "Why": row.why,
        "True ground": f"{row.true_area} {made.area_unit}",
        "Map sheet": f"{row.sheet_area} {made.area_unit}",
        "Amount": f"{row.amount} {product.amount_unit}",
    }


@pytest.mark.parametrize("number", [1, 2])
def test_pointing_at_a_zone_tells_its_line_of_the_ledger(opened: Any, number: int) -> None:
    """All nine cells, for every zone of either product; leaving the map clears it."""
    made = two_products()
    report = opened(made)
    for at in range(6):
        report.patch(number, at).hover(position=corner(report.patch(number, at)))
        assert report.readout(number) == expected(made, number, at)
        assert report.outlined(number) == [report.outline_of(number, at)]
    report.page.locator("h1").hover()
    assert report.readout(number) == {}
    assert report.outlined(number) == []


def test_a_tap_tells_it_on_a_phone_and_keeps_it(opened: Any) -> None:
    """What was tapped stays when something else is touched."""
    made = two_products()
    report = opened(made, size=NARROW, has_touch=True, is_mobile=True)
    report.patch(1, 4).tap(position=corner(report.patch(1, 4)))
    report.page.locator("#map-1 h3").tap()
    assert report.readout(1) == expected(made, 1, 4)
    assert report.page.locator("#map-1 .readout").bounding_box()["y"] < NARROW["height"]


def test_the_keyboard_goes_from_zone_to_zone(opened: Any) -> None:
    """One stop of the Tab key a map, arrows inside it, and Escape to put it back."""
    made = two_products()
    report = opened(made)
    assert report.page.locator("#map-1 [data-row][tabindex]").count() == 1
    report.patch(1, 0).focus()
    assert report.readout(1) == expected(made, 1, 0)
    report.page.keyboard.press("ArrowRight")
    assert report.readout(1) == expected(made, 1, 1)
    report.page.keyboard.press("ArrowLeft")
    report.page.keyboard.press("ArrowLeft")
    assert report.readout(1) == expected(made, 1, 5)
    report.page.keyboard.press("Enter")
    report.page.evaluate("document.activeElement.blur()")
    assert report.readout(1) == expected(made, 1, 5)
    report.page.keyboard.press("Escape")
    assert report.readout(1) == {}


def test_all_parts_of_a_zone_are_outlined_together(opened: Any) -> None:
    """The numbers are those of the whole line of the ledger."""
    report = opened(CASES["several parts"]())
    report.patch(1, 1).hover()
    assert report.outlined(1) == [report.outline_of(1, at) for at in (0, 1)]
    assert "It lies in 2 parts" in report.page.locator("#map-1 .readout").inner_text()


def test_a_finding_shows_its_ground_on_the_map(opened: Any) -> None:
    """Finding 1 lies on zone 2 and nowhere else; its outline has the place and size of that zone on the screen."""
    report = opened(two_products())
    report.page.locator("#finding-1 .place a").click()
    assert report.page.url.endswith("#map-2")
    told = report.page.locator("#map-2 .readout").inner_text()
    assert told.startswith("Caution 1: Wanted rates lie below the minimum")
    measure = "(mark) => { const box = mark.getBBox(); return [box.x, box.y, box.width, box.height] }"
    outline = report.page.locator("#map-2 .outlined.above > *").evaluate(measure)
    assert outline == pytest.approx(report.patch(2, 2).evaluate(measure), abs=0.02)
    assert report.outlined(1) == []
    report.page.keyboard.press("Escape")
    assert report.outlined(2) == []


def test_the_number_on_the_map_leads_to_the_finding(opened: Any) -> None:
    """The way back; a finding of the whole field is outlined on every map."""
    report = opened(two_products())
    report.page.locator('#map-2 a[data-finding="1"]').first.click()
    assert report.page.url.endswith("#finding-1")
    report.page.locator("#finding-2 .place a").click()
    assert len(report.outlined(1)) == 1
    assert len(report.outlined(2)) == 1


def test_a_line_of_the_ledger_leads_to_its_zone_and_back(opened: Any) -> None:
    """Also where the ledger is long and closed: the way back opens it."""
    made = CASES["2,000 zones"]()
    report = opened(made)
    report.page.locator("#ledger-1 summary").click()
    report.page.locator("#row-1-1234 a").click()
    assert report.outlined(1) == [report.outline_of(1, 1234)]
    report.page.locator("#ledger-1 summary").evaluate("(each) => each.parentElement.open = false")
    report.page.locator("#map-1 .readout a").click()
    assert report.page.url.endswith("#row-1-1234")
    assert report.page.locator("#row-1-1234").is_visible()


def test_everything_can_be_read_without_a_script(opened: Any) -> None:
    """The panel of the map stays away, and nothing promises it."""
    report = opened(two_products(), java_script_enabled=False)
    assert report.page.locator("#ledger-1 .ledger tbody tr").count() == 6
    assert not report.page.locator("#map-1 .readout").is_visible()
    assert report.page.locator("#map-1 .legend").is_visible()


def printed(report: Any) -> Any:
    return pypdf.PdfReader(BytesIO(report.page.pdf(prefer_css_page_size=True)))


@pytest.mark.parametrize(
    ("paper", "inches"), [pytest.param("letter", (8.5, 11), id="letter"), pytest.param("a4", (8.27, 11.69), id="A4")]
)
def test_it_prints_on_the_paper_of_the_place(opened: Any, paper: Any, inches: tuple[float, float]) -> None:
    """Every page says which field it belongs to, and which of how many it is."""
    pages = printed(opened(content(rates("Seed", ["80"]), paper=paper))).pages
    for at, page in enumerate(pages, start=1):
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            [POINTS_PER_INCH * inch for inch in inches], abs=1
        )
        text = " ".join(page.extract_text().split())
        assert "Vlei, Season 2027, Revision 2" in text
        assert f"{at} / {len(pages)}" in text


def test_each_map_is_printed_on_a_page_of_its_own_with_its_legend(opened: Any) -> None:
    """Twelve products: twelve pages, each with the total of its product."""
    made = CASES["12 products"]()
    texts = [" ".join(page.extract_text().split()) for page in printed(opened(made)).pages]
    maps = [text for text in texts if "printed in the zones" in text]
    assert len(maps) == 12
    for text, product in zip(maps, made.products, strict=True):
        assert product.name in text
        assert all(f"{one.area} {one.share} {one.amount}" in text for one in product.classes)


def priced() -> Content:
    """Return a ledger with long numbers in every column and a cost in each line."""
    made = rates("Seed", ["80", "85", "12.5"])
    order = (OrderLine(label="To have", amount="1,234,567.8", cost="1,914,634.39"),)
    rows = tuple(
        replace(row, inputs="cec_meq 25.2", why=f"{row.why}; too narrow a part: joined to its neighbour",
                wanted="1,234.56", true_area="1,132.660", sheet_area="1,131.540", amount="1,234,567.8",
                cost=f"{at + 1},914,634.39")
        for at, row in enumerate(made.rows)
    )  # fmt: skip
    return content(replace(made, rows=rows, order=order, price="412 USD/tonne", currency="USD"))


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_numbers_of_a_ledger_are_printed_whole(opened: Any, paper: str) -> None:
    """Ten columns on paper: no number is broken over lines, the cost as little as the amount."""
    made = replace(priced(), paper=paper)
    text = "\n".join(page.extract_text() for page in printed(opened(made)).pages)
    for row in made.products[0].rows:
        assert row.cost in text
    assert text.count("1,234,567.8") >= 3
    assert text.count("1,131.540") >= 3


@pytest.mark.parametrize("make", [pytest.param(priced, id="cost"), pytest.param(two_products, id="no cost")])
def test_the_last_column_of_a_ledger_is_in_sight_on_a_wide_screen(opened: Any, make: Any) -> None:
    """At 1280 px the last cell ends within the box of its table."""
    report = opened(make())
    cell = report.page.locator("#ledger-1 .ledger tbody tr:first-child > :last-child").bounding_box()
    around = report.page.locator("#ledger-1 .scroll").first.bounding_box()
    assert cell["x"] + cell["width"] <= around["x"] + around["width"] + 0.5


@pytest.mark.slow
def test_long_tables_are_printed_whole_under_their_head(opened: Any) -> None:
    """2,000 lines that are closed on the screen: all are on paper, and every page repeats the head."""
    texts = [page.extract_text() for page in printed(opened(CASES["2,000 zones"]())).pages]
    lines = re.findall(r"zone (\d+) clay \1 %", " ".join(" ".join(texts).split()))
    assert sorted(map(int, lines)) == list(range(2000))
    assert all(re.search(r"After\s+limits", text) for text in texts if re.search(r"zone \d+\s+clay", text))


@pytest.mark.slow
def test_2000_zones_open_within_a_second(opened: Any) -> None:
    """Until the page has loaded; opening the ledger lays all of it out within another."""
    best_load, best_open = 1e9, 1e9
    for _ in range(3):
        report = opened(CASES["2,000 zones"]())
        best_load = min(best_load, report.page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd"))
        best_open = min(
            best_open,
            report.page.evaluate(
                """() => {
                    const start = performance.now();
                    document.querySelector("#ledger-1 details").open = true;
                    document.body.getBoundingClientRect();
                    return performance.now() - start;
                }"""
            ),
        )
    assert best_load < 1000
    assert best_open < 1000
