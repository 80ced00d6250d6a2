"""What the cab card says, before anything is laid out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from support_card_content import card_content, finding_content, product_content

from vrx.model.content import Content, Fact, LoadsContent, OrderLine
from vrx.reports.card.blocks import Card, Cell, Flow, Paragraph, Step, Table
from vrx.reports.card.steps import card_of


def texts(step: Step) -> list[str]:
    """All texts of a step in reading order."""
    found: list[str] = []
    for part in step.parts:
        if isinstance(part, Paragraph):
            found.append(part.text)
        else:
            rows = [part.cells] if isinstance(part, Flow) else part.rows
            found += part.head if isinstance(part, Table) else ()
            found += [item.text for row in rows for cell in row for item in cell.items]
    return found


def cells(step: Step) -> list[Cell]:
    """All cells of a step."""
    rows = [
        [part.cells] if isinstance(part, Flow) else part.rows for part in step.parts if not isinstance(part, Paragraph)
    ]
    return [cell for each in rows for row in each for cell in row]


def step_named(card: Card, title: str) -> Step:
    (found,) = [step for step in card.steps if step.title == title]
    return found


def test_each_step_rests_on_the_one_before() -> None:
    """The stick, then the machine, the field, what is on it, how it is set, the map, where not to go, how much."""
    assert [(step.number, step.title) for step in card_of(card_content()).steps] == [
        (1, "Look at the stick"), (2, "Set the machine"), (3, "Choose the field"), (4, "Products on drives"),
        (5, "Set each product"), (6, "Load the map"), (7, "Stand in the field"),
        (8, "Know the keep-outs"), (9, "Have this on hand"),
        (0, "Notes"), (0, "Open findings"), (0, "Cautions"), (0, "Sign"),
    ]  # fmt: skip


def test_the_stick_holds_each_file_once_with_the_start_of_its_checksum() -> None:
    """Products that share a file share its line; what lies beside a file is named by its endings."""
    shared = replace(product_content(1), files=product_content(0).files)
    step = step_named(card_of(card_content(products=(product_content(0), shared))), "Look at the stick")
    files = product_content(0).files
    assert texts(step) == [
        "Replaces revision 1 (k7aa).",
        "Code", "File", "Checksum",
        "k00q", files[0].name, "with .shx, .dbf, .prj, .cpg beside it", f"{files[0].sha256[:8]}…",
        "Solution 28, Solution 29", files[1].name, f"{files[1].sha256[:8]}…",
        "Of the files of one code, one is enough: in a format that the display loads.",
    ]  # fmt: skip
    assert sum(cell.box for cell in cells(step)) == len(files)


def test_one_file_of_a_code_is_not_told_to_be_enough() -> None:
    """Nothing is to choose where each code has one file."""
    one = product_content(0)
    step = step_named(card_of(card_content(products=(replace(one, files=one.files[:1]),))), "Look at the stick")
    assert not any("is enough" in text for text in texts(step))


def test_the_part_that_holds_the_rates_has_its_checksum_too() -> None:
    """Two products on the same shapes: their .shp are alike, their .dbf are not."""
    one = product_content(0)
    shapes = replace(one.files[0], sha256="5e" * 32, rates_sha256="d1" * 32)
    step = step_named(card_of(card_content(products=(replace(one, files=(shapes,)),))), "Look at the stick")
    assert [text for text in texts(step) if "…" in text] == [".shp\u00a05e5e5e5e…", ".dbf\u00a0d1d1d1d1…"]


LOADS = LoadsContent(
    summary="", boxes=("Fill to",), fills=(), watch=(), notes=(), stays="60.0", on_hand="6,010.0",
)  # fmt: skip
ORDER = (OrderLine(label="On the map", amount="5,917.2", cost=""), OrderLine(label="In all", amount="5,950.0", cost=""))


@pytest.mark.parametrize(
    ("changed", "beside"),
    [
        ({"total": "5,950.0 kg", "loads": LOADS}, "+ 60.0 kg that stay in the box = 6,010.0 kg"),
        ({"total": "5,917.2 kg", "order": ORDER, "loads": LOADS}, "+ 60.0 kg that stay in the box = 6,010.0 kg"),
        ({"total": "5,950.0 kg", "loads": replace(LOADS, boxes=("Box 1", "Box 2"))},
         "+ 60.0 kg that stay in the boxes = 6,010.0 kg"),
        ({"total": "5,950.0 kg", "loads": replace(LOADS, stays="", on_hand="")}, ""),
        ({"total": "5,950.0 kg"}, ""),
    ],
)  # fmt: skip
def test_what_stays_in_the_box_is_beside_the_amount(changed: dict[str, Any], beside: str) -> None:
    """5,950 kg and the 60 kg that can't be put out are 6,010 kg: what empty boxes need."""
    one = product_content(0, amount_unit="kg", other_units=(), **changed)
    step = step_named(card_of(card_content(products=(one,))), "Have this on hand")
    (amount,) = [cell for cell in cells(step) if cell.box]
    large, *rest = amount.items
    assert (large.text.replace("\u00a0", " "), large.role) == ("5,950.0 kg", "large")
    strong = [each.text.replace("\u00a0", " ") for each in rest if each.role == "strong"]
    assert strong == ([beside] if beside else [])


def test_files_beside_with_other_names_are_named_in_full() -> None:
    """An ending alone would say the wrong thing."""
    file = replace(product_content().files[0], beside=("other.dbf",))
    step = step_named(card_of(card_content(products=(product_content(files=(file,)),))), "Look at the stick")
    assert "with other.dbf beside it" in texts(step)


def test_each_drive_of_a_group_has_a_box() -> None:
    """Beside its group, so that it is clear on a further page too."""
    step = step_named(card_of(card_content()), "Set the machine")
    assert texts(step) == [
        "Machine", "toolbar 40, 40 ft wide",
        "Group all", "left: Solution 28, from 20 ft left to the centre line",
        "Group all", "right: Solution 28, from the centre line to 20 ft right",
    ]  # fmt: skip
    assert sum(cell.box for cell in cells(step)) == 3


def test_what_the_plan_does_not_say_is_written_by_hand() -> None:
    """Machine, drives and approval leave a line to write on."""
    content = card_content(machine=(), facts=(), products=(product_content(drives=()),))
    card = card_of(content)
    lines = [item.text for step in card.steps for cell in cells(step) if cell.write for item in cell.items]
    assert lines == [
        "Machine and drives, not in the plan:", "drives:",
        "Prepared by:", "Approved by:", "Date:", "Revision:", "Set and checked by:", "Date:",
    ]  # fmt: skip
    assert card.edition == ""
    assert texts(step_named(card, "Choose the field")) == ["Field", "Birch Rise"]


@pytest.mark.parametrize(
    ("count", "heads"),
    [(1, [1]), (2, [2]), (3, [3]), (4, [2, 2]), (5, [3, 2]), (7, [3, 3, 1]), (12, [3, 3, 3, 3])],
)
def test_products_are_set_beside_each_other_three_at_most(count: int, heads: list[int]) -> None:
    """Every product's settings are there, in the order in which they are set."""
    step = step_named(card_of(card_content(count)), "Set each product")
    tables = [part for part in step.parts if isinstance(part, Table)]
    assert [len(table.head) - 1 for table in tables] == heads
    at = 0
    for table in tables:
        for column in range(1, len(table.head)):
            found = [
                Fact(label=row[0].items[0].text, value=row[column].items[0].text)
                for row in table.rows
                if row[column].box
            ]
            assert table.head[column] == product_content(at).name
            assert found == list(product_content(at).settings)
            at += 1
    assert at == count


def test_a_setting_that_one_product_lacks_keeps_its_place() -> None:
    """The rows stay in the order of setting; a dash has no box."""
    plain = product_content(0)
    shut = Fact(label="Shut off", value="not possible: lift the machine")
    other = replace(plain, settings=(*plain.settings[:4], shut, *plain.settings[4:-1]))
    (table,) = step_named(card_of(card_content(products=(plain, other))), "Set each product").parts
    assert isinstance(table, Table)
    labels = [row[0].items[0].text for row in table.rows]
    assert labels == [
        *(one.label for one in plain.settings[:4]),
        "Shut off",
        *(one.label for one in plain.settings[4:]),
    ]
    row = table.rows[4]
    assert [cell.items[0].text for cell in row[1:]] == ["-", shut.value]
    assert [cell.box for cell in row[1:]] == [False, True]


def test_rates_in_both_units_where_they_differ() -> None:
    """All of them up to twelve; of more the lowest, the highest and some between, and how many there are."""
    rates = tuple(Fact(label=f"{at} gal/ac", value=f"{at * 9.35396:.2f} L/ha") for at in range(8, 30))
    for count, shown in ((5, 5), (12, 12), (13, 12), (22, 12)):
        product = product_content(written_unit="L/ha", written_rates=rates[:count])
        found = texts(step_named(card_of(card_content(products=(product,))), "Load the map"))
        pairs = [text for text in found if " = " in text]
        assert len(pairs) == len(set(pairs)) == shown
        assert pairs[0] == "8 gal/ac = 74.83 L/ha"
        assert pairs[-1] == f"{rates[count - 1].label} = {rates[count - 1].value}"
        assert any(f"12 of its {count} rates" in text for text in found) is (count > 12)
        assert "L/ha" in found
    assert not [text for text in texts(step_named(card_of(card_content()), "Load the map")) if " = " in text]


def test_keep_outs_say_set_back_and_whom_they_bind() -> None:
    """By name, each with a box."""
    step = step_named(card_of(card_content()), "Know the keep-outs")
    assert texts(step) == [
        "Waterway 1", "set-back 35 ft, binds every product", "house well", "set-back 36 ft, binds Solution 28",
    ]  # fmt: skip
    assert all(cell.box for cell in cells(step))
    plain = card_content()
    bare = replace(plain, keep_outs=(replace(plain.keep_outs[0], set_back=""),))
    assert "no set-back, binds every product" in texts(step_named(card_of(bare), "Know the keep-outs"))
    assert texts(step_named(card_of(replace(plain, keep_outs=())), "Know the keep-outs")) == ["None in the plan."]


def test_open_findings_of_one_kind_share_a_line() -> None:
    """Notes are not open; the numbers lead to the report."""
    found = (
        finding_content(1, "stop", "Zones overlap"),
        finding_content(2, "caution", "A gap"),
        finding_content(3, "caution", "A gap"),
        finding_content(4, "note", "A note"),
    )
    step = step_named(card_of(card_content(findings=found)), "Open findings")
    assert texts(step) == ["STOP", "Zones overlap", "in the report: 1", "CAUTION", "A gap", "in the report: 2, 3"]
    assert texts(step_named(card_of(card_content(findings=found[3:])), "Open findings")) == ["None."]


def test_a_stopped_build_says_so() -> None:
    """Nobody drives with its card."""
    product = product_content(files=(), column="", written_unit="")
    card = card_of(card_content(stopped=True, products=(product,)))
    assert card.stopped
    assert texts(step_named(card, "Look at the stick"))[-1] == "No files: no map was written."
    assert "no map" in texts(step_named(card, "Load the map"))
    assert not card_of(card_content()).stopped


@pytest.mark.parametrize(
    ("content", "stamp"),
    [
        pytest.param(card_content(), date(2027, 4, 12), id="the plan's date"),
        pytest.param(card_content(facts=()), date(1980, 1, 1), id="none"),
        pytest.param(card_content(facts=(Fact(label="Date", value="spring"),)), date(1980, 1, 1), id="no date"),
    ],
)
def test_the_stamp_is_the_plans_date(content: Content, stamp: date) -> None:
    """Never the day on which the card is made."""
    assert card_of(content).stamp == stamp
