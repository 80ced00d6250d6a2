"""SVG files: every mark is in them, well-formed, and the same bytes in another process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from support_drawings import words
from support_html_content import hard_names, two_products

from vrx.model.drawing import Area, Drawing, Line, Picture, Words
from vrx.reports.as_svg import svg_bytes, svg_element
from vrx.reports.fonts import printable, text_width
from vrx.reports.maps.page import map_page

SVG = "{http://www.w3.org/2000/svg}"
TRIANGLE = np.array(((1.0, 1.0), (9.0, 1.0), (5.0, 8.0), (1.0, 1.0)))


def read(drawing: Drawing) -> ET.Element:
    return ET.fromstring(svg_bytes(drawing))


def page(*marks: Area | Line | Words | Picture) -> Drawing:
    return Drawing(width=10, height=20, title="A <map> & more", marks=marks)


def test_a_page_in_millimetres() -> None:
    """Its size on paper, its coordinates, and its title for those who can't see it."""
    root = read(page())
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("10mm", "20mm", "0 0 10 20")
    assert root.findtext(f"{SVG}title") == "A <map> & more"


def test_an_area_with_its_style_and_key() -> None:
    """Closed rings, filled by the even-odd rule; the key's first word is its class."""
    mark = Area(rings=(TRIANGLE, TRIANGLE / 2), fill="#123456", opacity=0.5, stroke="#000000", width=0.3, key="patch 7")
    path = read(page(mark)).find(f"{SVG}path")
    assert path is not None
    assert path.get("d") == "M1 1L9 1L5 8ZM0.5 0.5L4.5 0.5L2.5 4Z"
    wanted = {"fill": "#123456", "fill-rule": "evenodd", "fill-opacity": "0.5", "stroke-width": "0.3",
              "class": "patch", "data-key": "patch 7"}  # fmt: skip
    assert {name: path.get(name) for name in wanted} == wanted


def test_a_hatched_area_is_one_thing() -> None:
    """Its hatch is drawn with it, and takes no pointer."""
    group = read(page(Area(rings=(TRIANGLE,), fill="#ffffff", hatch="slanted", key="patch 1"))).find(f"{SVG}g")
    assert group is not None
    assert group.get("data-key") == "patch 1"
    assert [path.get("pointer-events") for path in group] == [None, "none"]


def test_words_say_how_long_they_are() -> None:
    """Where the font is missing another takes its place, as wide as this one."""
    text = read(page(Words(x=5, y=9, text="Łąka <b>", size=3, anchor="middle", bold=True, halo="#ffffff")))
    text = text.find(f"{SVG}text")
    assert text is not None
    assert text.text == "Łąka <b>"
    assert float(text.get("textLength", "")) == pytest.approx(text_width("Łąka <b>", size=3, bold=True), abs=0.005)
    assert (text.get("text-anchor"), text.get("font-weight"), text.get("paint-order")) == ("middle", "bold", "stroke")


def test_lines_dashes_and_pictures() -> None:
    """Each as what it is; a picture within the file, stretched to its box."""
    line = Line(points=TRIANGLE[:2], stroke="#ff0000", width=0.5, dashes=(1.0, 0.5))
    root = read(page(Picture(x=1, y=2, width=3, height=4, png=b"\x89PNG", opacity=0.4), line))
    image, path = root.find(f"{SVG}image"), root.find(f"{SVG}path")
    assert image is not None
    assert path is not None
    assert (image.get("href"), image.get("preserveAspectRatio")) == ("data:image/png;base64,iVBORw==", "none")
    assert (path.get("d"), path.get("fill"), path.get("stroke-dasharray")) == ("M1 1L9 1", "none", "1 0.5")


@pytest.mark.parametrize("case", [two_products, hard_names])
def test_every_word_of_a_map_is_text(case: type) -> None:
    """As text, not as shapes: it can be searched, read out and copied; whatever files hold."""
    drawing = map_page(case(), 0)
    found = [element.text for element in read(drawing).iter(f"{SVG}text")]
    assert found == [printable(mark.text) for mark in words(drawing)]


def test_nothing_points_outside_and_nothing_runs() -> None:
    """No script, no style sheet, no link, no identifier that could meet another on a page."""
    root = svg_element(map_page(hard_names(), 0))
    assert {element.tag for element in root.iter()} <= {"svg", "title", "path", "g", "text", "image"}
    assert not [
        element for element in root.iter() if element.get("id") or (element.get("href") or "data:")[:5] != "data:"
    ]


CODE = """
import sys
from support_html_content import two_products
from vrx.reports.as_png import png_bytes
from vrx.reports.as_svg import svg_bytes
from vrx.reports.maps.page import map_page
drawing = map_page(two_products(), 1)
sys.stdout.buffer.write(svg_bytes(drawing) if sys.argv[1] == "svg" else png_bytes(drawing, dpi=60))
"""


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_the_same_bytes_in_another_process(kind: str) -> None:
    """Whatever the order in which Python keeps sets there."""
    tests = Path(__file__).resolve().parents[1]
    runs = [
        subprocess.run(
            [sys.executable, "-c", CODE, kind],
            cwd=tests,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(tests)},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]
    assert len(runs[0]) > 1000
