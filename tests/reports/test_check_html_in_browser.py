"""The page of a check in a browser: it asks for nothing, fits the window, and ties map, rates and findings together."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest
from support_check_pages import CASES

from vrx.reports.check_content import check_content
from vrx.reports.html.check import check_html

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


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield running
        running.close()


class Opened:
    """A page opened in a browser, with all that it asked for and complained about."""

    def __init__(self, browser: Any, folder: Path, name: str, size: dict[str, int], **context: Any) -> None:
        made = CASES[name](folder)
        path = folder / "check.html"
        path.write_bytes(check_html(made, check_content(made, written_by="vrx 0")))
        self.url = path.as_uri()
        self.requests: list[str] = []
        self.said: list[str] = []
        self.context = browser.new_context(viewport=size, **context)
        self.page = self.context.new_page()
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.goto(self.url, wait_until="load")

    def readout(self) -> dict[str, str]:
        """Return what stands beside the map, by its words."""
        pairs = self.page.locator("#map-1 .readout dl > div").all()
        return {pair.locator("dt").inner_text(): pair.locator("dd").inner_text() for pair in pairs}

    def outlined(self) -> int:
        return self.page.locator("#map-1 .outlined.above > *").count()


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Any]:
    made: list[Opened] = []

    def open_page(name: str, size: dict[str, int] = WIDE, **options: Any) -> Opened:
        made.append(Opened(browser, tmp_path, name, size, **options))
        return made[-1]

    yield open_page
    for one in made:
        one.context.close()


@pytest.mark.parametrize("size", [pytest.param(WIDE, id="wide"), pytest.param(NARROW, id="narrow")])
@pytest.mark.parametrize("name", CASES)
def test_it_asks_for_nothing_complains_of_nothing_and_fits_the_window(opened: Any, name: str, size: Any) -> None:
    """The only request is the file itself; the console stays empty, also of the policy; no sideways scrolling."""
    shown = opened(name, size=size)
    shown.page.wait_for_timeout(50)
    assert shown.requests == [shown.url]
    assert shown.said == []
    shown.page.evaluate("document.querySelectorAll('details').forEach((each) => each.open = true)")
    assert shown.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.parametrize("size", [pytest.param(WIDE, id="wide"), pytest.param(NARROW, id="narrow")])
@pytest.mark.parametrize("name", ["clear", "caution", "stop", "no product", "unreadable"])
def test_verdict_and_first_step_are_in_sight_at_once(opened: Any, name: str, size: Any) -> None:
    """Without scrolling: the verdict whole, and the first thing to do."""
    shown = opened(name, size=size)
    verdict = shown.page.locator(".verdict").bounding_box()
    step = shown.page.locator("#first p, #first li").first.bounding_box()
    assert verdict["y"] + verdict["height"] < size["height"] / 2
    assert step["y"] + step["height"] < size["height"]


def test_pointing_at_a_shape_tells_its_rate(opened: Any) -> None:
    """Record, rate, ground and the findings that concern it; leaving the map clears it."""
    shown = opened("caution")
    shown.page.locator('#map-1 [data-row="1"]').hover(position={"x": 8, "y": 8})
    assert shown.readout() == {
        "Record": "B (record 2)", "Rate": "115 kg/ha", "True ground": "3.000 ha", "Findings": "1, 2",
    }  # fmt: skip
    assert shown.outlined() == 1
    assert "table of rates" in shown.page.locator("#map-1 .readout a").inner_text()
    shown.page.locator("h1").hover()
    assert shown.readout() == {}
    assert shown.outlined() == 0


def test_the_keyboard_goes_from_shape_to_shape(opened: Any) -> None:
    """One stop of the Tab key, arrows inside the map."""
    shown = opened("clear")
    assert shown.page.locator("#map-1 [data-row][tabindex]").count() == 1
    shown.page.locator('#map-1 [data-row="0"]').focus()
    shown.page.keyboard.press("ArrowRight")
    assert shown.readout()["Record"] == "B (record 2)"
    shown.page.keyboard.press("ArrowLeft")
    shown.page.keyboard.press("ArrowLeft")
    assert shown.readout()["Record"] == "C (record 3)"


def test_a_finding_shows_its_ground_and_the_map_leads_back(opened: Any) -> None:
    """From the text to the map, and from the number on the map to the text."""
    shown = opened("stop")
    shown.page.locator("#finding-1 .place a").click()
    assert shown.page.url.endswith("#map-1")
    assert shown.outlined() == 1
    assert shown.page.locator("#map-1 .readout").inner_text().startswith("Stop 1:")
    shown.page.locator('#map-1 a[data-finding="2"]').first.click()
    assert shown.page.url.endswith("#finding-2")


def test_many_records_are_told_by_their_rate(opened: Any) -> None:
    """All shapes of a span are outlined together, and the span is told."""
    shown = opened("many")
    shown.page.locator("#rates tbody th a").last.click()
    told = shown.readout()
    assert told["Records"] == str(shown.outlined())
    assert told["Rate"].removesuffix(" kg/ha") in shown.page.locator("#map-1 .legend tbody tr").first.inner_text()


def test_everything_can_be_read_without_a_script(opened: Any) -> None:
    """The panel of the map stays away, and nothing promises it."""
    shown = opened("caution", java_script_enabled=False)
    assert shown.page.locator("#rates tbody tr").count() == 3
    assert not shown.page.locator("#map-1 .readout").is_visible()
    assert shown.page.locator("#finding-1").is_visible()


def test_it_prints_with_the_verdict_first(opened: Any) -> None:
    """What is closed on the screen is on paper too, and each page says which map and verdict it is of."""
    shown = opened("no product")
    pages = pypdf.PdfReader(BytesIO(shown.page.pdf(prefer_css_page_size=True))).pages
    texts = [normalize("NFKC", " ".join(page.extract_text().split())) for page in pages]  # parts ligatures
    assert "as far as could be looked" in texts[0]
    assert all("Check of map.geojson: clear" in text for text in texts)
    whole = " ".join(texts)
    assert "Ground in the field has no zone gap" in whole
