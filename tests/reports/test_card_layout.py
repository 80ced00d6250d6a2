"""The cab card's pages: nothing cut off, nothing on top of anything, type as large as it can be."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from support_card_content import HARD_NAME, card_content, hard_content, keep_out_content, product_content
from support_content import SAMPLES, sample_content

from vrx.model.content import Content, Fact
from vrx.model.drawing import Area, Drawing, Line, Words
from vrx.reports.card.layout import SIZES_PT, fitted, pages
from vrx.reports.card.steps import card_of
from vrx.reports.fonts import text_width

POINT_MM = 25.4 / 72
# What DejaVu Sans says of itself (hhea): the highest and lowest that its letters reach, in 2048ths of an em.
ASCENT, DESCENT = 1901 / 2048, 483 / 2048
# A printer doesn't reach the outermost few millimetres; common practice, no source.
MARGIN = 6.0

CASES = MappingProxyType(
    {
        "one product": card_content(1),
        "two products": card_content(2),
        "three products": card_content(3),
        "three products on a4": card_content(3, paper="a4"),
        "twelve products": card_content(12),
        "no products": card_content(0),
        "long notes": card_content(notes="The bank is soft, and so is the ford. " * 53),
        "one word of 2,000 letters": card_content(notes="w" * 2000),
        "60 keep-outs": card_content(keep_outs=tuple(keep_out_content(at) for at in range(60))),
        "a long name": card_content(title=HARD_NAME),
        "stopped": card_content(stopped=True, products=(product_content(files=()),)),
        "nothing said": card_content(facts=(), machine=(), areas=(), cautions=(), findings=(), keep_outs=(), notes=""),
        "500 rates to pick": card_content(
            products=(
                product_content(settings=(Fact(label="Rates to pick by hand", value=", ".join(map(str, range(500)))),)),
            )
        ),
        "everything": hard_content(),
        "everything on a4": replace(hard_content(), paper="a4"),
        "a long edition": card_content(facts=(Fact(label="Revision", value=HARD_NAME * 3),)),
    }
)


def boxes(drawing: Drawing) -> NDArray[np.float64]:
    """Left, top, right and bottom of each line of type, shape (n, 4)."""
    return np.array(
        [
            (
                one.x,
                one.y - ASCENT * one.size,
                one.x + text_width(one.text, size=one.size, bold=one.bold),
                one.y + DESCENT * one.size,
            )
            for one in drawing.marks
            if isinstance(one, Words)
        ]
    ).reshape(-1, 4)


def ticks(drawing: Drawing) -> NDArray[np.float64]:
    """Left, top, right and bottom of each box to tick, shape (n, 4)."""
    rings = [one.rings[0] for one in drawing.marks if isinstance(one, Area) and one.stroke and not one.fill]
    found = [(*ring.min(axis=0), *ring.max(axis=0)) for ring in rings]
    square = [one for one in found if abs((one[2] - one[0]) - (one[3] - one[1])) < 1e-6]
    return np.array(square).reshape(-1, 4)


def meeting(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which boxes of the first lie over which of the second, by more than a hundredth of a millimetre."""
    low = np.maximum(first[:, None, :2], second[None, :, :2])
    high = np.minimum(first[:, None, 2:], second[None, :, 2:])
    return np.asarray(((high - low) > 0.01).all(axis=2))


def must_be_sound(drawing: Drawing) -> None:
    """Everything is on the page, and no type lies over other type, a box or a rule."""
    found, boxed = boxes(drawing), ticks(drawing)
    for each in (found, boxed):
        assert (each[:, :2] >= MARGIN).all()
        assert (each[:, 2] <= drawing.width - MARGIN).all()
        assert (each[:, 3] <= drawing.height - MARGIN).all()
    over = meeting(found, found)
    np.fill_diagonal(over, val=False)
    assert not over.any()
    assert not meeting(found, boxed).any()
    rules = [one.points for one in drawing.marks if isinstance(one, Line)]
    level = np.array([(points[0, 0], points[0, 1], points[1, 0], points[0, 1] + 0.011) for points in rules])
    # A rule may touch the empty room above or below letters, but not the letters: between capitals and base line.
    letters = found + np.column_stack((np.zeros((len(found), 1)), (found[:, 3] - found[:, 1]) * 0.18,
                                       np.zeros((len(found), 1)), (found[:, 1] - found[:, 3]) * 0.21))  # fmt: skip
    assert not meeting(letters, level).any()
    assert min(one.size for one in drawing.marks if isinstance(one, Words)) >= 8 * POINT_MM - 1e-9


def squeezed(text: str) -> str:
    """A text without white space, to be found again however it was wrapped."""
    return "".join(text.split())


def words_of(drawings: tuple[Drawing, ...]) -> str:
    """All type of some pages, without white space."""
    return squeezed("".join(one.text for drawing in drawings for one in drawing.marks if isinstance(one, Words)))


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_cut_off_or_on_top_of_anything(name: str) -> None:
    """On every page of every case, from the largest type to the smallest."""
    card = card_of(CASES[name])
    for size_pt in (SIZES_PT[0], SIZES_PT[len(SIZES_PT) // 2], SIZES_PT[-1]):
        for drawing in pages(card, size_pt=size_pt):
            must_be_sound(drawing)


@pytest.mark.parametrize("name", sorted(one.name for one in SAMPLES.iterdir() if one.is_dir()))
def test_a_sample_fields_card_is_one_page(name: str) -> None:
    """With every file, setting and total of it."""
    content = sample_content(name)
    drawings = fitted(card_of(content))
    assert len(drawings) == 1
    must_be_sound(drawings[0])
    said = words_of(drawings)
    for product in content.products:
        for file in product.files:
            assert squeezed(file.name) in said
            assert file.sha256[:8] in said
        for text in (product.name, product.total, product.true_area, product.column, *product.other_units):
            assert squeezed(text) in said
        assert all(squeezed(fact.value) in said for fact in product.settings)
    assert all(squeezed(one.name) in said for one in content.keep_outs)
    assert squeezed(content.notes) in said


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("count", [1, 2, 3])
def test_up_to_three_products_fit_on_one_page(count: int, paper: Any) -> None:
    """In type that is larger where there is less to say."""
    assert len(fitted(card_of(card_content(count, paper=paper)))) == 1


def body_pt(drawings: tuple[Drawing, ...]) -> float:
    """The size of the body's type, as the first setting has it."""
    return next(
        one.size / POINT_MM
        for drawing in drawings
        for one in drawing.marks
        if isinstance(one, Words) and one.text == "Minimum"
    )


@pytest.mark.parametrize("name", ["one product", "three products", "twelve products", "long notes"])
def test_type_is_as_large_as_the_pages_allow(name: str) -> None:
    """The next size up would take more pages; one page is worth type of 8 points, further ones are not."""
    card = card_of(CASES[name])
    drawings = fitted(card)
    chosen = body_pt(drawings)
    assert chosen == pytest.approx(min(SIZES_PT, key=lambda size: abs(size - chosen)))
    larger = [size for size in SIZES_PT if size > chosen + 0.01]
    assert all(len(pages(card, size_pt=size)) > len(drawings) for size in larger)
    assert len(drawings) == len(pages(card, size_pt=8.0))


def test_more_to_say_makes_smaller_type() -> None:
    """One product, two, three: at arm's length as long as it can be."""
    sizes = [body_pt(fitted(card_of(card_content(count)))) for count in (1, 2, 3)]
    assert all(first >= second for first, second in pairwise(sizes))
    assert sizes[0] > sizes[-1]


def test_each_further_page_says_what_it_belongs_to() -> None:
    """Field, revision, date and page number on every one; a step that goes on has its title again."""
    drawings = fitted(card_of(card_content(12)))
    assert len(drawings) > 1
    for number, drawing in enumerate(drawings, start=1):
        texts = [one.text for one in drawing.marks if isinstance(one, Words)]
        assert "Birch Rise" in texts
        assert "Revision 2, 2027-04-12" in texts
        assert f"page {number} of {len(drawings)}" in texts
        assert ("Cab card, continued" in texts) is (number > 1)
    assert words_of(drawings).count("continued") >= len(drawings) - 1


def test_a_table_that_goes_on_has_its_head_again() -> None:
    """No column of settings stands under nothing."""
    content = card_content(12)
    gone_on = 0
    for size_pt in SIZES_PT:
        for drawing in pages(card_of(content), size_pt=size_pt):
            texts = [one.text for one in drawing.marks if isinstance(one, Words)]
            first = texts.index("No position, signal lost") if "No position, signal lost" in texts else 0
            if first and "Unit" not in texts[:first]:
                gone_on += 1
                assert any(product.name in texts[:first] for product in content.products)
    assert gone_on


names = st.text(max_size=60) | st.text(alphabet="abcdefg _-/", max_size=80) | st.just(HARD_NAME)


@given(
    title=names, product=names, keep_out=names, notes=st.text(max_size=400), value=names, size=st.sampled_from(SIZES_PT)
)
@settings(deadline=None, max_examples=40)
def test_any_text_stays_within_its_place(
    title: str, product: str, keep_out: str, notes: str, value: str, size: float
) -> None:
    """Whatever names and notes hold: control characters, other alphabets, words without end, nothing."""
    content = card_content(
        title=title,
        notes=notes,
        products=(product_content(0, name=product), product_content(1, drives=(value,), total=value)),
        keep_outs=(keep_out_content(name=keep_out, binds=product),),
        machine=(Fact(label=value, value=product),),
    )
    for drawing in pages(card_of(content), size_pt=size):
        must_be_sound(drawing)


def test_every_word_of_the_hardest_case_is_there() -> None:
    """All names, notes and numbers, in the order of the content."""
    content: Content = hard_content()
    drawings = fitted(card_of(content))
    said = words_of(drawings)
    for product in content.products:
        assert said.count(squeezed(product.name)) >= 4
        assert squeezed(product.total) in said
        assert product.written_rates[-1].value.replace(" ", "") in said
    for keep_out in content.keep_outs:
        assert squeezed(keep_out.name) in said
        assert squeezed(f"set-back {keep_out.set_back}") in said
    assert said.count(squeezed("Leave the ford by the old oak;")) == content.notes.count(
        "Leave the ford by the old oak;"
    )
    assert "theend." in said
