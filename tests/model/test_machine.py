"""The machine's drives and its narrowest group."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from vrx.model.machine import Machine


def drive(name: str, left: str, right: str, group: str = "", product: str = "A") -> dict[str, Any]:
    return {"name": name, "span": [left, right], "group": group, "product": product}


def box(size: str, product: str = "A", **keys: Any) -> list[dict[str, Any]]:
    return [{"product": product, "size": size} | keys]


TWO = [drive("1", "-3 m", "0 m"), drive("2", "0 m", "3 m")]


@pytest.mark.parametrize(
    ("machine", "product", "narrowest_m"),
    [
        pytest.param({}, "A", None, id="nothing known"),
        pytest.param({"width": "20 m"}, "A", 20, id="the width where no drive is given"),
        pytest.param({"width": "20 m", "drive": [drive("1", "-9 m", "9 m", product="B")]}, "A", 20, id="other's drive"),
        pytest.param({"width": "20 m", "drive": [drive("1", "-10 m", "2 m"), drive("2", "2 m", "10 m")]}, "A", 8,
                     id="each drive for itself"),
        pytest.param({"width": "20 m", "drive": [drive("1", "-10 m", "2 m", "g"), drive("2", "2 m", "10 m", "g")]}, "A",
                     20, id="a group runs as one"),
        pytest.param({"drive": [drive("g", "-6 m", "0 m"), drive("2", "0 m", "3 m", "g"), drive("3", "3 m", "9 m", "g")]
                      }, "A", 6, id="a drive named like a group is not in it"),
        pytest.param({"drive": [drive("1", "-10 ft", "10 ft")]}, "A", 6.096, id="in feet"),
    ],
)  # fmt: skip
def test_the_narrowest_group_of_a_product(machine: dict[str, Any], product: str, narrowest_m: float | None) -> None:
    """The width that the machine can treat apart, for one product."""
    assert Machine.model_validate(machine).narrowest_m(product) == pytest.approx(narrowest_m)


@pytest.mark.parametrize(
    ("machine", "words"),
    [
        pytest.param({"width": "0 m"}, "width is not above 0", id="no width"),
        pytest.param({"drive": [drive("1", "2 m", "2 m")]}, "has no width", id="a drive without width"),
        pytest.param({"drive": [drive("1", "2 m", "-2 m")]}, "has no width", id="right before left"),
        pytest.param(
            {"drive": [drive("1", "-2 m", "0 m"), drive("1", "0 m", "2 m")]}, "Two drives", id="one name twice"
        ),
        pytest.param(
            {"width": "8 m", "drive": [drive("1", "0 m", "9 m")]}, "beyond the machine", id="beyond the width"
        ),
        pytest.param(
            {"width": "40 ft", "drive": [drive("1", "-40 ft", "40 ft")]}, "beyond the machine", id="twice the width"
        ),
        pytest.param(
            {"width": "40 ft", "drive": [drive("1", "-21 ft", "0 ft")]}, "beyond the machine", id="a foot too far left"
        ),
        pytest.param({"width": 8}, "has no unit", id="a bare number"),
        pytest.param({"width": "8 kg"}, "a length is needed", id="a wrong kind"),
        pytest.param({"width": "1e999 m"}, "beyond any", id="beyond a float"),
        pytest.param({"speed": "5 mph"}, "not there yet", id="speed"),
        pytest.param({"tank": "900 gal"}, "is no box", id="a tank as text"),
        pytest.param({"tank": box("0 L")}, "holds nothing", id="a tank of nothing"),
        pytest.param({"tank": box("-5 L")}, "holds nothing", id="a tank below nothing"),
        pytest.param({"tank": box("900 L", keep_back="900 L")}, "leaves nothing", id="all kept back"),
        pytest.param({"tank": box("900 L", keep_back="1 m3")}, "leaves nothing", id="more than all, in another unit"),
        pytest.param({"tank": box("900 L", keep_back="-1 L")}, "below 0", id="less than nothing kept back"),
        pytest.param({"tank": box("900 L", most_weight="0 kg")}, "not above 0", id="no weight at all"),
        pytest.param({"tank": box("900 L", most_weight="900 L")}, "a mass is needed", id="a weight in litres"),
        pytest.param({"tank": box("900 kg N")}, "counts N", id="a tank of nutrient"),
        pytest.param({"tank": box("900 L", drives=["1"])}, "no drive '1'", id="a drive that is not there"),
        pytest.param(
            {"drive": [drive("1", "0 m", "2 m", product="B")], "tank": box("900 L", drives=["1"])},
            "Drive '1' carries 'B', and this box 'A'",
            id="a drive of another product",
        ),
        pytest.param(
            {"drive": TWO, "tank": box("900 L", drives=["1", "2"]) + box("900 L", drives=["2"])},
            "fed by two boxes",
            id="two boxes for a drive",
        ),
        pytest.param({"drive": TWO, "tank": box("900 L", drives=["1"])}, "No box feeds '2'", id="a drive left out"),
        pytest.param(
            {"drive": TWO, "tank": box("900 L", drives=["1", "2"]) + box("900 L")},
            "names no drives, and another one does",
            id="drives of one box alone",
        ),
        pytest.param({"drive": [drive("1", "0 m", "2 m") | {"flow": "1"}]}, "not there yet", id="flow"),
    ],
)
def test_a_machine_that_can_not_be_is_refused(machine: dict[str, Any], words: str) -> None:
    """A wrong machine can't be made, and the error says what is wrong."""
    with pytest.raises(ValidationError) as caught:
        Machine.model_validate(machine)
    assert words in str(caught.value)


def test_drives_that_fill_a_machine_whose_width_was_rounded() -> None:
    """Two drives of 20 ft on a machine of 40 ft, given as 12.19 m: 2 mm less than 40 ft is no drive too wide."""
    made = Machine.model_validate(
        {"width": "12.19 m", "drive": [drive("1", "-20 ft", "0 ft"), drive("2", "0 ft", "20 ft")]}
    )
    assert made.narrowest_m("A") == pytest.approx(6.096)


def test_a_tank_is_one_table_or_several() -> None:
    """One box may stand as a table; boxes of a product keep their order."""
    one = Machine.model_validate({"tank": box("900 L")[0]})
    assert one == Machine.model_validate({"tank": box("900 L")})
    two = Machine.model_validate({"tank": [*box("900 L"), *box("1 tonne", "B"), *box("400 L")]})
    assert [str(each.size) for each in two.boxes_of("A")] == ["900 L", "400 L"]
    assert two.boxes_of("C") == ()
