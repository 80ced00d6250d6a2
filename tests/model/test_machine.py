"""The machine's drives and its narrowest group."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from vrx.model.machine import Machine


def drive(name: str, left: str, right: str, group: str = "", product: str = "A") -> dict[str, Any]:
    return {"name": name, "span": [left, right], "group": group, "product": product}


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
        pytest.param({"tank": "900 gal"}, "not there yet", id="tank"),
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
