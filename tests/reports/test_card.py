"""The cab card as a PDF, read back by another library (pypdf)."""

from __future__ import annotations

import hashlib
import io
import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest
from freezegun import freeze_time
from pypdf.generic import ContentStream
from support_card_content import HARD_NAME, card_content, hard_content, product_content
from support_clock import clock_library, run_shifted
from support_content import SAMPLES, sample_content

from vrx.model.content import Content, Fact
from vrx.model.drawing import Words
from vrx.reports.card.card import cab_card
from vrx.reports.card.layout import fitted
from vrx.reports.card.steps import card_of

POINTS_PER_MM = 72 / 25.4
# Operators of PDF 1.7 that set a colour other than a grey (ISO 32000-1, table 74; from memory).
COLOUR_OPERATORS = {b"rg", b"RG", b"k", b"K", b"cs", b"CS", b"sc", b"SC", b"scn", b"SCN", b"sh"}


def read(content: Content) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(cab_card(content)), strict=True)


def squeezed(text: str) -> str:
    """A text without white space, to be found again however it was wrapped."""
    return "".join(text.split())


def text_of(reader: pypdf.PdfReader) -> str:
    return squeezed("".join(page.extract_text() for page in reader.pages))


def operations(reader: pypdf.PdfReader) -> Iterator[tuple[int, list[Any], bytes]]:
    """Page number, operands and operator of all that the pages draw."""
    for number, page in enumerate(reader.pages):
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            yield number, operands, operator


def must_follow(text: str, wanted: Sequence[str]) -> None:
    """Each wanted text comes behind the one before."""
    at = 0
    for each in wanted:
        found = text.find(squeezed(each), at)
        assert found >= 0, f"{each!r} is not behind what comes before it"
        at = found + len(squeezed(each))


def test_the_operator_reads_every_step_in_order() -> None:
    """All names and numbers, as selectable text, in the order in which they are set."""
    content = card_content(2)
    must_follow(text_of(read(content)), [
        "Cab card", "Revision 2, 2027-04-12", "Birch Rise",
        "1", "Look at the stick", "Replaces revision 1 (k7aa).",
        "k00q", content.products[0].files[0].name, content.products[0].files[0].sha256[:8],
        content.products[0].files[1].name, "k01q", content.products[1].files[1].name,
        content.products[1].files[1].sha256[:8],
        "2", "Set the machine", "toolbar 40, 40 ft wide", "Group all", "left: Solution 28", "right: Solution 28",
        "3", "Choose the field", "Larkspur Growers", "Alder Bend", "Birch Rise", "2027", "grain sorghum",
        "4", "Products on drives", "Solution 28", "left (group all)", "Solution 29",
        "5", "Set each product", "Solution 28", "Solution 29", "Unit", "gal/ac", "gal/ac",
        "Minimum", "8 gal/ac", "9 gal/ac", "Maximum", "26 gal/ac", "27 gal/ac", "Step", "1 gal/ac", "1 gal/ac",
        "Default rate", "14 gal/ac", "15 gal/ac", "Outside", "0 gal/ac", "No position", "15 gal/ac", "16 gal/ac",
        "by hand", "12, 18 gal/ac", "13, 18 gal/ac",
        "6", "Load the map", "Solution 28", "k00q", "RATE0", "gal/ac", "Solution 29", "k01q", "RATE1", "gal/ac",
        "7", "Stand in the field", "the machine in the field", "the rate that the map has there",
        "8", "Know the keep-outs", "Waterway 1", "35 ft", "every product", "house well", "36 ft", "Solution 28",
        "9", "Have this on hand", "2,100.4 gal", "23,214 lb, 11.61 short ton", "118.600 ac", "118.500 ac",
        "2,101.4 gal", "118.601 ac", "Within the boundary: 121.004 ac", "Ground to treat: 118.600 ac",
        "Notes", "Stay off the terrace after rain.",
        "Open findings", "CAUTION", "Wanted rates lie below the minimum",
        "Cautions", *content.cautions,
        "Sign", "Prepared by: agronomy office", "Approved by: A. Reviewer", "Set and checked by:", "Date:",
        "vrx 0.1.0", "page 1 of 1",
    ])  # fmt: skip


def test_accents_and_alphabets_come_back_as_they_were() -> None:
    """Latin, Greek and Cyrillic, and what looks like markup, in every name."""
    content = hard_content()
    said = text_of(read(content))
    assert said.count(squeezed(HARD_NAME[:30])) > 100
    assert all(squeezed(product.name) in said for product in content.products)


def test_what_the_font_lacks_is_stood_in_for() -> None:
    """A tractor, a Chinese character, half a surrogate pair, a mark that turns writing round: seen, and no error."""
    name = "Field \U0001f69c \u7530 \ud800 \u202e end"
    reader = read(card_content(title=name, facts=(Fact(label="Field", value=name),)))
    assert text_of(reader).count(squeezed("Field � � � � end")) == 2
    assert reader.metadata is not None
    assert reader.metadata.title == "Cab card, Field � � � � end"


@pytest.mark.parametrize(("paper", "size_mm"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
@pytest.mark.parametrize("hard", [False, True])
def test_each_page_is_the_paper(paper: Any, size_mm: tuple[float, float], hard: bool) -> None:
    """ANSI Y14.1 letter and ISO 216 A4, upright."""
    content = replace(hard_content() if hard else card_content(), paper=paper)
    reader = read(content)
    assert (len(reader.pages) > 1) is hard
    for page in reader.pages:
        assert page.mediabox.lower_left == (0, 0)
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            tuple(each * POINTS_PER_MM for each in size_mm), abs=0.01
        )


@pytest.mark.parametrize("content", [card_content(), hard_content()], ids=["ordinary", "hard"])
def test_type_stands_where_it_was_laid_out(content: Content) -> None:
    """Place, size and weight of every line of type in the file are those whose fit was tested."""
    drawings = fitted(card_of(content))
    laid_out = [
        (number, one.x * POINTS_PER_MM, (drawing.height - one.y) * POINTS_PER_MM, one.size * POINTS_PER_MM)
        for number, drawing in enumerate(drawings)
        for one in drawing.marks
        if isinstance(one, Words)
    ]
    found = []
    size = 0.0
    reader = read(content)
    for number, operands, operator in operations(reader):
        if operator == b"Tf":
            size = float(operands[1])
        elif operator == b"Td":
            found.append((number, float(operands[0]), float(operands[1]), size))
    assert len(found) == len(laid_out) > 100
    for there, wanted in zip(found, laid_out, strict=True):
        assert there == pytest.approx(wanted, abs=0.006)


@pytest.mark.parametrize("content", [card_content(), card_content(stopped=True), hard_content()])
def test_it_prints_grey(content: Content) -> None:
    """Black, white and grey alone, and no picture."""
    reader = read(content)
    used = {operator for _, _, operator in operations(reader)}
    assert not used & COLOUR_OPERATORS
    assert {b"g", b"G"} <= used
    assert b"Do" not in used


def test_its_fonts_are_inside_and_are_subsets() -> None:
    """It looks the same where nobody has the font, and stays small."""
    data = cab_card(card_content())
    reader = pypdf.PdfReader(io.BytesIO(data))
    fonts = reader.pages[0]["/Resources"]["/Font"].values()
    names = []
    for font in fonts:
        (inner,) = font.get_object()["/DescendantFonts"]
        descriptor = inner.get_object()["/FontDescriptor"].get_object()
        assert len(descriptor["/FontFile2"].get_object().get_data()) > 1000
        assert "/ToUnicode" in font.get_object()
        names.append(str(descriptor["/FontName"]).removeprefix("/"))
    # A subset's name begins with six capitals and a plus sign (ISO 32000-1, 9.6.4; from memory).
    assert sorted(name[7:] for name in names) == ["DejaVuSansBold", "DejaVuSansBook"]
    assert all(name[6] == "+" and name[:6].isupper() for name in names)
    assert len(data) < 100_000


def test_it_names_the_field_and_nothing_of_the_machine_that_made_it() -> None:
    """Title, language, and the plan's date as the day of making."""
    data = cab_card(card_content())
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert reader.metadata is not None
    assert set(reader.metadata) == {"/Title", "/CreationDate"}
    assert reader.metadata.title == "Cab card, Birch Rise"
    assert str(reader.metadata["/CreationDate"]).startswith("D:20270412000000")
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert str(Path.home()).encode() not in data
    undated = pypdf.PdfReader(io.BytesIO(cab_card(card_content(facts=()))))
    assert undated.metadata is not None
    assert str(undated.metadata["/CreationDate"]).startswith("D:19800101000000")


MAKE = """
import hashlib
from support_card_content import card_content, hard_content
from vrx.reports.card.card import cab_card
print([hashlib.sha256(cab_card(each)).hexdigest() for each in (card_content(), card_content(facts=()), hard_content())])
"""


def test_the_same_bytes_on_another_day() -> None:
    """Two processes, their clocks years apart."""
    digests = set()
    for day in ("1999-12-31 23:59:58", "2031-07-01"):
        code = f"from freezegun import freeze_time\nwith freeze_time({day!r}):\n" + "".join(
            f"    {line}\n" for line in MAKE.strip().splitlines()
        )
        paths = json.dumps([str(Path(__file__).parents[1]), str(Path(__file__).parents[2])])
        done = subprocess.run(
            [sys.executable, "-c", f"import sys\nsys.path[:0] = {paths}\n{code}"],
            check=True, capture_output=True, text=True, timeout=120,
        )  # fmt: skip
        digests.add(done.stdout)
    assert len(digests) == 1
    with freeze_time("2040-02-29"):
        assert hashlib.sha256(cab_card(card_content())).hexdigest() in digests.pop()


def test_the_same_bytes_whatever_the_systems_clock_says(tmp_path: Path) -> None:
    """The clock of C libraries as well."""
    library = clock_library(tmp_path)
    now, then = (run_shifted(library, days, MAKE) for days in (0, 4000))
    assert now == then
    assert len(json.loads(now.replace("'", '"'))) == 3


@pytest.mark.parametrize("name", sorted(one.name for one in SAMPLES.iterdir() if one.is_dir()))
def test_a_sample_fields_card_reads_back(name: str) -> None:
    """One page with the totals, columns and files of the build."""
    content = sample_content(name)
    reader = read(content)
    assert len(reader.pages) == 1
    said = text_of(reader)
    must_follow(said, [content.title, *dict.fromkeys(one.files[0].name for one in content.products)])
    must_follow(said, [fact.value for fact in content.products[0].settings[:4]])
    must_follow(said, [one.total for one in content.products])


def test_a_stopped_builds_card_warns_on_every_page() -> None:
    """Above everything else."""
    products = tuple(product_content(number, files=()) for number in range(12))
    reader = read(card_content(stopped=True, products=products))
    assert len(reader.pages) > 1
    for page in reader.pages:
        assert squeezed("STOPPED: there is no map for the machine.") in squeezed(page.extract_text())
