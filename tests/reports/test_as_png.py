"""Pictures of drawings: painted twice by programs that share nothing, they agree."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageFilter
from support_html_content import hard_names, many_zones, stopped, two_products
from support_map_content import cell_map, scattered

from vrx.model.content import Content
from vrx.model.drawing import Area, Drawing, Line, Picture, Words
from vrx.reports.as_png import png_bytes
from vrx.reports.as_svg import svg_bytes
from vrx.reports.maps.page import map_page

DPI = 96


def picture(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def grey(image: Image.Image) -> NDArray[np.float64]:
    """Return a picture in levels of grey from 0 to 1, each the mean of 4 by 4 pixels."""
    small = image.convert("L").resize((image.width // 4, image.height // 4), Image.Resampling.BOX)
    return np.asarray(small, dtype=np.float64) / 255


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no chromium here")
    playwright = pytest.importorskip("playwright.sync_api")
    flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync", "--force-color-profile=srgb"]  # fmt: skip
    with playwright.sync_playwright() as started:
        found = started.chromium.launch(executable_path=chromium, args=flags)
        yield found
        found.close()


def cells() -> Content:
    return cell_map(scattered(40, 5), ["80", "82.5", "0", "90"], width=800, height=600)


@pytest.mark.parametrize("case", [two_products, hard_names, stopped, cells, many_zones])
def test_the_browser_and_the_painter_agree(case: Any, browser: Any, tmp_path: Path) -> None:
    """The SVG in a browser and the PNG, made small: what differs is a fringe here and there."""
    drawing = map_page(case(), 0)
    file = tmp_path / "map.svg"
    file.write_bytes(svg_bytes(drawing))
    painted = picture(png_bytes(drawing, dpi=DPI))
    page = browser.new_page(viewport={"width": painted.width, "height": painted.height})
    page.goto(file.as_uri())
    seen = picture(page.screenshot())
    page.close()
    difference = np.abs(grey(seen) - grey(painted))
    assert difference.mean() < 0.02
    assert (difference > 0.25).mean() < 0.002
    # The comparison sees what is missing: without its words a page is not the same.
    wordless = Drawing(
        width=drawing.width, height=drawing.height, title="",
        marks=tuple(mark for mark in drawing.marks if not isinstance(mark, Words)),
    )  # fmt: skip
    without = np.abs(grey(seen) - grey(picture(png_bytes(wordless, dpi=DPI))))
    assert (without > 0.25).mean() > 2 * (difference > 0.25).mean() + 0.001


def test_a_page_has_the_size_and_the_resolution_asked_for() -> None:
    """A4 at 200 dots an inch; nothing but the picture and its resolution is in the file."""
    made = picture(png_bytes(map_page(two_products(), 0)))
    assert made.size == (round(297 / 25.4 * 200), round(210 / 25.4 * 200))
    assert made.info["dpi"] == pytest.approx((200, 200), abs=0.01)
    assert set(made.info) == {"dpi"}


def square(low: float, high: float) -> NDArray[np.float64]:
    return np.array(((low, low), (high, low), (high, high), (low, high), (low, low)))


def painted(*marks: Area | Line | Words | Picture) -> Image.Image:
    """Paint marks on a page of 40 by 40 pixels, a millimetre each."""
    return picture(png_bytes(Drawing(width=40, height=40, title="", marks=marks), dpi=25.4)).convert("RGB")


@pytest.mark.parametrize("inner", [square(10, 30), square(10, 30)[::-1]])
@pytest.mark.parametrize("outer", [square(2, 38), square(2, 38)[::-1]])
def test_holes_stay_open_whichever_way_rings_turn(outer: NDArray[np.float64], inner: NDArray[np.float64]) -> None:
    """The even-odd rule, and an island in the hole is filled again."""
    made = painted(Area(rings=(outer, inner, square(16, 24)), fill="#0000ff"))
    assert [made.getpixel((at, 20)) for at in (0, 5, 13, 20)] == [
        (255, 255, 255), (0, 0, 255), (255, 255, 255), (0, 0, 255),
    ]  # fmt: skip


def test_later_marks_lie_over_earlier_ones_and_half_transparent_ones_mix() -> None:
    """Half of red over blue."""
    blue, red = Area(rings=(square(0, 40),), fill="#0000ff"), Area(rings=(square(0, 20),), fill="#ff0000", opacity=0.5)
    made = painted(blue, red)
    assert made.getpixel((30, 30)) == (0, 0, 255)
    assert made.getpixel((10, 10)) == pytest.approx((128, 0, 128), abs=1)
    assert painted(red, blue).getpixel((10, 10)) == (0, 0, 255)


def test_a_picture_lies_upright_in_its_box() -> None:
    """Black above, white below, at half its strength."""
    file = io.BytesIO()
    Image.fromarray(np.repeat(np.array([[0], [255]], dtype=np.uint8), 2, axis=1)).save(file, format="PNG")
    made = painted(
        Area(rings=(square(0, 40),), fill="#ffffff"),
        Picture(x=10, y=10, width=20, height=20, png=file.getvalue(), opacity=0.5),
    )
    assert [made.getpixel((20, y))[0] for y in (5, 11, 28, 35)] == pytest.approx([255, 127, 255, 255], abs=2)


def test_lines_are_as_wide_as_they_say_and_dashes_have_gaps() -> None:
    """A line of 4 mm covers four pixels."""
    made = painted(Line(points=np.array(((0.0, 10.0), (40.0, 10.0))), width=4))
    assert [made.getpixel((20, y))[0] < 128 for y in (7, 8, 9, 10, 11, 12)] == [False, True, True, True, True, False]
    dashed = painted(Line(points=np.array(((0.0, 10.0), (40.0, 10.0))), width=4, dashes=(10.0, 10.0)))
    assert [dashed.getpixel((x, 10))[0] < 128 for x in (5, 15, 25, 35)] == [True, False, True, False]


def test_letters_that_the_font_lacks_are_shown_as_unknown() -> None:
    """No warning, and not nothing."""
    known, unknown = (np.asarray(painted(Words(x=2, y=30, text=text, size=30))) for text in ("\ufffd", "漢"))
    assert np.array_equal(known, unknown)
    assert known.min() < 100


CODE = """
import sys
from support_html_content import two_products
from vrx.reports.as_png import png_bytes
from vrx.reports.maps.page import map_page
sys.stdout.buffer.write(png_bytes(map_page(two_products(), 0), dpi=60))
"""


@pytest.mark.parametrize("home", ["missing", "a file", "with a matplotlibrc"])
def test_a_home_that_can_not_be_written_is_no_matter(home: str, tmp_path: Path) -> None:
    """Not a word on standard error, and the same picture; settings of matplotlib found there change nothing."""
    tests = Path(__file__).resolve().parents[1]
    place = tmp_path / "home"
    if home == "a file":
        place.write_text("")
    elif home == "with a matplotlibrc":
        place.mkdir()
        (place / "matplotlibrc").write_text(
            "path.simplify: False\nfigure.facecolor: red\nagg.path.chunksize: 200\nno: no\n"
        )
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    unset = {"MPLCONFIGDIR", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "MATPLOTLIBRC"}
    environment = {name: value for name, value in os.environ.items() if name not in unset}
    environment |= {"HOME": str(place), "TMPDIR": str(temporary), "PYTHONPATH": str(tests)}
    if home != "missing":
        environment["MPLCONFIGDIR"] = str(place)
    if home == "with a matplotlibrc":
        environment["MATPLOTLIBRC"] = str(place / "matplotlibrc")
    child = subprocess.run([sys.executable, "-c", CODE], cwd=tests, env=environment, capture_output=True, check=False)
    assert child.returncode == 0, child.stderr.decode()
    assert child.stderr.decode() == ""
    assert child.stdout == png_bytes(map_page(two_products(), 0), dpi=60)


def test_a_grey_printer_keeps_the_order_of_rates() -> None:
    """The middle of each zone, in grey: more product is darker, off lightest."""
    drawing = map_page(two_products(), 0)
    made = picture(png_bytes(drawing, dpi=DPI)).convert("L").filter(ImageFilter.BoxBlur(2))
    patches = {
        mark.key: mark.rings[0] for mark in drawing.marks if isinstance(mark, Area) and mark.key.startswith("patch")
    }
    levels = {}
    for at, row in enumerate(two_products().products[0].rows):
        low, high = patches[f"patch {at}"].min(axis=0), patches[f"patch {at}"].max(axis=0)
        x, y = (low + 0.12 * (high - low)) * DPI / 25.4
        levels[float(row.given)] = int(made.getpixel((int(x), int(y))))  # type: ignore[call-overload]
    on = [levels[rate] for rate in sorted(levels) if rate > 0]
    assert on == sorted(on, reverse=True)
    assert len(set(on)) == len(on)
