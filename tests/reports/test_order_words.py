"""Order, cost and loads as people read them: in the terminal, the report, the card and the JSON."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import Any

import pytest
from support_card_content import card_content, product_content
from support_products import granular, product, seed
from support_zone_maps import build_of, plan_of, prescription_of, zone_map

from vrx.model.build import Build
from vrx.model.content import FillContent, LoadsContent, OrderLine, ProductContent
from vrx.model.product import Product
from vrx.reports.as_json import build_json
from vrx.reports.card.blocks import Paragraph, Table
from vrx.reports.card.steps import card_of
from vrx.reports.content_json import content_json, read_content
from vrx.reports.html.report import report_html
from vrx.reports.terminal import build_text
from vrx.reports.words import money_number
from vrx.units import ACRE_M2

ACRE = float(ACRE_M2)
TOTE = {"overlap": "4 %", "package": "220 gal", "price": "412 USD/short_ton", "density": "11.06 lb/gal"}
TANK = {"product": "Liquid A", "size": "1000 gal", "keep_back": "40 gal"}


def built(of: Product, rates: dict[str, float], *, acres: list[float], tank: Any = (), **machine: Any) -> Build:
    """Zones of so many acres, in a US plan."""
    drawn = zone_map(" ".join(rates), widths=[size * ACRE / 100 for size in acres])
    plan = plan_of(of, units="us", machine={"tank": tank} | machine)
    return build_of(plan, prescription_of(drawn, plan, rates))


def full() -> Build:
    """40 ac at 12 and 60 at 18 gal/ac: 1,560 gal, 1,622.4 with overlap, 8 totes of 220 gal, 4,009.91 USD."""
    return built(product(**TOTE), {"A": 12, "B": 18}, acres=[40, 60], tank=TANK)


def only(made: Build) -> ProductContent:
    (one,) = made.content.products
    return one


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        pytest.param("0", "0.00", id="free"),
        pytest.param("1234567.895", "1,234,567.90", id="half a cent goes up"),
        pytest.param("0.004", "0.00", id="less than half a cent"),
        pytest.param("-0.004", "0.00", id="no minus before nothing"),
        pytest.param("-12.345", "-12.35", id="away from zero"),
        pytest.param("2.675", "2.68", id="N01i: exact, where floating point gives 2.67"),
    ],
)
def test_money(amount: str, text: str) -> None:
    """To the hundredth, half away from zero."""
    assert money_number(Fraction(amount)) == text


def test_the_order_adds_up_in_one_line() -> None:
    """Every number as worked out by hand: 1,560 + 62.4 + 137.6 = 1,760 gal, x 2.27836 USD/gal = 4,009.91 USD."""
    assert only(full()).order_sum == (
        "to have 1,760.0 gal = on the map 1,560.0, overlap of passes (4 %) +62.4, "
        "whole packages (8 x 220 gal) +137.6; 4,009.91 USD at 412 USD/short_ton = 2.27836 USD/gal"
    )
    assert full().content.cost == "4,009.91 USD"


def test_cost_of_zones_and_rates_is_that_of_the_map() -> None:
    """480 gal and 1,080 gal at 2.27836: 1,093.61 and 2,460.63, together 3,554.24 USD, without overlap and packages."""
    one = only(full())
    assert [row.cost for row in one.rows] == ["1,093.61", "2,460.63"]
    assert [each.cost for each in one.classes] == ["1,093.61", "2,460.63"]
    assert [(line.label, line.cost) for line in one.order] == [
        ("On the map", "3,554.24"),
        ("Overlap of passes (4 %)", "142.17"),
        ("Whole packages (8 x 220 gal)", "313.50"),
        ("To have", "4,009.91"),
    ]


@pytest.mark.parametrize(
    ("keys", "labels", "cost"),
    [
        pytest.param({}, [], "", id="nothing said"),
        pytest.param({"price": "2 USD/gal"}, ["To have"], "240.00 USD", id="a price alone"),
        pytest.param({"price": "0 USD/gal"}, ["To have"], "0.00 USD", id="free"),
        pytest.param({"overlap": "0 %"}, [], "", id="no overlap, said"),
        pytest.param({"overlap": "5 %"}, ["On the map", "Overlap of passes (5 %)", "To have"], "", id="overlap alone"),
        pytest.param(
            {"package": "50 gal"}, ["On the map", "Whole packages (3 x 50 gal)", "To have"], "", id="packages alone"
        ),
    ],
)
def test_only_what_the_plan_names_is_told(keys: dict[str, str], labels: list[str], cost: str) -> None:
    """10 ac at 12 gal/ac, with one thing at a time."""
    made = built(product(**keys), {"A": 12}, acres=[10])
    one = only(made)
    assert [line.label for line in one.order] == labels
    assert made.content.cost == cost
    assert bool(one.price) is bool(cost)
    assert ("to have" in build_text(made)) is bool(labels)
    assert ('id="order"' in report_html(made.content).decode()) is bool(labels)


def test_a_product_without_a_price_is_named_beside_the_sum() -> None:
    """The sum of the orders says which product is not in it."""
    plan = plan_of(product(price="2 USD/gal"), granular(), units="us")
    made = build_of(plan, prescription_of(zone_map("A", widths=[10 * ACRE / 100]), plan, {"A": 12}, {"A": 60}))
    assert made.content.cost == "240.00 USD, without Granular B"


def test_the_fill_sheet() -> None:
    """1,622.4 gal in loads of 960: one, and 662.4, for which the tank is filled to 702.4; acres at 16.224 gal/ac."""
    loads = only(full()).loads
    assert loads is not None
    assert loads.summary == "1 whole load of 960.0 gal and a last part load of 662.4 gal"
    assert loads.boxes == ("Fill to",)
    assert loads.fills == (
        FillContent(load="1", fill_to=("1,000.0",), puts_out="960.0", covers="59.172 ac"),
        FillContent(load="2", fill_to=("702.4",), puts_out="662.4", covers="40.828 ac"),
    )
    assert loads.watch == ("40 gal stay in at the end: filled in once, and not in the order.",)
    words = " ".join(loads.notes)
    assert "The box holds 1,000 gal; 40 gal of it can't be put out." in words
    assert "average rate of the ground that gets any, 16.224 gal/ac, overlap of passes counted in" in words


@pytest.mark.parametrize(
    ("rate", "acres", "summary"),
    [
        pytest.param(12, 240, "3 whole loads of 960.0 gal", id="whole loads alone"),
        pytest.param(12, 10, "one part load of 120.0 gal", id="a part alone"),
        pytest.param(12, 170, "2 whole loads of 960.0 gal and a last part load of 120.0 gal", id="both"),
        pytest.param(0, 10, "nothing to load", id="none"),
    ],
)
def test_loads_in_words(rate: float, acres: float, summary: str) -> None:
    """What the terminal says."""
    made = built(product(), {"A": rate}, acres=[acres], tank=TANK)
    assert f"  to load: {summary}\n" in build_text(made)


def test_several_boxes_by_name() -> None:
    """Which share the boxes have, which is empty first, and how far each is filled."""
    drives = [
        {"name": "left", "span": ["-20 ft", "0 ft"], "product": "Liquid A"},
        {"name": "right", "span": ["0 ft", "20 ft"], "product": "Liquid A"},
    ]
    tank = [
        {"product": "Liquid A", "size": "150 gal", "drives": ["left"]},
        {"product": "Liquid A", "size": "100 gal", "drives": ["right"]},
    ]
    loads = only(built(product(), {"A": 12}, acres=[25], tank=tank, drive=drives)).loads
    assert loads is not None
    assert loads.boxes == ("Box 1 (left)", "Box 2 (right)")
    assert [(fill.load, fill.fill_to) for fill in loads.fills] == [("1", ("100.0", "100.0")), ("2", ("50.0", "50.0"))]
    assert loads.watch == (
        "The boxes share the product as their drives share the width.",
        "Box 2 (right) is empty first and ends a load.",
    )
    unsaid = only(built(product(), {"A": 12}, acres=[25], tank=[box | {"drives": []} for box in tank], drive=drives))
    assert unsaid.loads is not None
    assert unsaid.loads.watch[0].startswith("The plan does not say which drives each box feeds")


def test_a_level_is_never_rounded_to_above_what_a_box_may_hold() -> None:
    """1,500 lb at 11 lb/gal are 136.36 gal: 136.4 would be too heavy. 3 decimals show 136.363, not 136.364."""
    of = product(density="11 lb/gal")
    loads = only(
        built(of, {"A": 12}, acres=[25], tank={"product": "Liquid A", "size": "200 gal", "most_weight": "1500 lb"})
    ).loads
    assert loads is not None
    assert loads.fills[0].fill_to == ("136.3",)
    assert "holds 136.4 gal, the most that it may weigh" in loads.notes[0]


def test_the_report_has_order_loads_and_costs() -> None:
    """In tables, beside the ledger's own cost column."""
    text = re.sub("<[^>]+>", " ", report_html(full().content).decode())
    words = " ".join(text.split())
    assert "Order and cost" in words
    assert "To have it all costs 4,009.91 USD ." in words
    assert "Price: 412 USD/short_ton = 2.27836 USD/gal." in words
    assert "Overlap of passes (4 %) +62.4 142.17" in words
    assert "To have 1,760.0 4,009.91" in words
    assert "Load Fill to gal Puts out gal Each covers 1 1,000.0 960.0 59.172 ac 2 702.4 662.4 40.828 ac" in words
    assert re.search(r"Total 100\.000 ac \S+ ac 1,560\.0 gal 3,554\.24", words)


def test_the_json_has_them_beside_the_old_keys() -> None:
    """Plain numbers, nothing rounded; null where the plan says nothing."""
    (said,) = json.loads(json.dumps(build_json(full()), allow_nan=False))["products"]
    assert said["total_given"] == pytest.approx(1560)
    order = said["order"]
    assert (order["packages"], order["package"], order["to_order"], order["unit"]) == (8, "220 gal", 1760, "gal")
    assert order["overlap"] == pytest.approx(62.4)
    assert order["price_of_one"] == pytest.approx(2.27836)
    assert order["cost"] == pytest.approx(4009.9136)
    assert sum(zone["cost"] for zone in said["zones"]) == pytest.approx(order["cost_prescribed"])
    assert (said["loads"]["whole"], said["loads"]["each"]) == (1, 960)
    assert said["loads"]["last"] == pytest.approx(662.4)
    assert said["loads"]["fills"][1]["fill_to"] == [pytest.approx(702.4)]
    (plain,) = json.loads(json.dumps(build_json(built(seed(), {"A": 30000}, acres=[1])), allow_nan=False))["products"]
    assert (plain["order"]["cost"], plain["order"]["packages"], plain["loads"]) == (None, None, None)
    assert plain["zones"][0]["cost"] is None


def test_the_content_comes_back_from_its_file() -> None:
    """Order and loads are in the content that a bundle keeps."""
    content = full().content
    assert read_content(content_json(content), source="report.json") == content


def loaded(number: int = 0) -> ProductContent:
    """A product for the card with an order and two kinds of loads."""
    return product_content(
        number,
        order=(
            OrderLine(label="On the map", amount="2,100.4", cost=""),
            OrderLine(label="Overlap of passes (4 %)", amount="+84.0", cost=""),
            OrderLine(label="To have", amount="2,184.4", cost=""),
        ),
        loads=LoadsContent(
            summary="",
            boxes=("Box 1", "Box 2"),
            fills=(
                FillContent(load="1 to 3", fill_to=("250.0", "400.0"), puts_out="600.0", covers="31.2 ac"),
                FillContent(load="4", fill_to=("192.0", "242.4"), puts_out="384.4", covers="20.0 ac"),
            ),
            watch=("Box 1 is empty first and ends a load.",),
            notes=("A note for the report.",),
        ),
    )


def test_the_card_says_what_to_have_and_how_far_to_fill() -> None:
    """In step 9: the amount to have large, the map's below it; a row for loads alike, a level for each box."""
    (step,) = [one for one in card_of(card_content(products=(loaded(),))).steps if one.number == 9]
    amounts, fills = [part for part in step.parts if isinstance(part, Table)]
    held = [item.text.replace("\u00a0", " ") for item in amounts.rows[0][1].items]
    assert held == [
        "2,184.4 gal",
        "On the map 2,100.4 gal = 23,214 lb, 11.61 short ton",
        "Overlap of passes (4 %) +84.0",
    ]
    assert fills.head == ("Fill sheet", "Load", "Fill to", "Each covers")
    assert [[item.text.replace("\u00a0", " ") for cell in row for item in cell.items] for row in fills.rows] == [
        ["Solution 28", "1 to 3", "Box 1: 250.0 gal", "Box 2: 400.0 gal", "31.2 ac"],
        ["4", "Box 1: 192.0 gal", "Box 2: 242.4 gal", "20.0 ac"],
    ]
    assert all(row[1].box for row in fills.rows)
    texts = [part.text for part in step.parts if isinstance(part, Paragraph)]
    assert texts == ["Solution 28: Box 1 is empty first and ends a load."]


def test_twelve_products_with_boxes_come_on_paper() -> None:
    """A card of twelve products with orders and loads is laid out; each product's rows are there."""
    pypdf = pytest.importorskip("pypdf")
    from io import BytesIO

    from vrx.reports.card.card import cab_card

    data = cab_card(card_content(products=tuple(loaded(number) for number in range(12))))
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(data)).pages)
    assert text.count("1 to 3") == 12
    assert text.count("Box 2: 242.4 gal") == 12
