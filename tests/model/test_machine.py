"""The machine's drives and its narrowest group."""

from __future__ import annotations

import pickle
from fractions import Fraction
from typing import Any

import pytest
from pydantic import ValidationError

from vrx.model.machine import Machine


def drive(name: str, left: str, right: str, group: str = "", product: str = "A") -> dict[str, Any]:
    return {"name": name, "span": [left, right], "group": group, "product": product}


def box(size: str, product: str = "A", **keys: Any) -> list[dict[str, Any]]:
    return [{"product": product, "size": size} | keys]


def with_keys(**keys: Any) -> dict[str, Any]:
    """Return a machine of one drive with other keys."""
    return {"drive": [drive("1", "0 m", "2 m") | keys]}


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
        pytest.param({"speed": "0 mph"}, "no speed above 0", id="no speed"),
        pytest.param({"speed": "0 to 6 mph"}, "no speed above 0", id="from a standstill"),
        pytest.param({"speed": "6 to 4 mph"}, "falls", id="a falling speed"),
        pytest.param({"speed": "6 mph to 8 km/h"}, "falls", id="a speed that falls across units"),
        pytest.param({"speed": "4-6 mph"}, 'no "to" between', id="a dash for to"),
        pytest.param({"speed": "4 to 5 to 6 mph"}, "more than two ends", id="three speeds"),
        pytest.param({"speed": "4 to 6 m"}, "a speed is needed", id="a length for a speed"),
        pytest.param({"speed": "4 to 6"}, "has no unit", id="a speed without unit"),
        pytest.param({"speed": 5}, "has no unit", id="a bare speed"),
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
        pytest.param(with_keys(flow="9 L/min"), "the least and the most", id="a flow of one number"),
        pytest.param(with_keys(flow="9 to 2 L/min"), "falls", id="a falling flow"),
        pytest.param(with_keys(flow="0 to 0 L/min"), "gives nothing", id="no flow"),
        pytest.param(with_keys(flow="-1 to 9 L/min"), "below 0", id="a flow below 0"),
        pytest.param(with_keys(flow="1 L/min to 9 kg/min"), "two kinds", id="a flow of two kinds"),
        pytest.param(with_keys(flow="1 to 9 kg N/min"), "counts N", id="a flow of nutrient"),
        pytest.param(with_keys(flow="1 to 9 L/ha"), "volume/time", id="a rate for a flow"),
        pytest.param(
            with_keys(outlet_flow="1 to 2 L/min"),
            "outlet_flow of drive '1' says little alone",
            id="an outlet without its spacing",
        ),
        pytest.param(
            with_keys(outlet_spacing="50 cm"),
            "outlet_spacing of drive '1' says little alone",
            id="a spacing without its outlet",
        ),
        pytest.param(
            with_keys(outlet_flow="1 to 2 L/min", outlet_spacing="0 cm"), "not above 0", id="outlets at one place"
        ),
        pytest.param(with_keys(form="powder"), "form", id="a form that there is not"),
        pytest.param(with_keys(sections=0), "sections", id="no section"),
        pytest.param(with_keys(sections=2.5), "sections", id="half a section"),
        pytest.param(with_keys(response="-1 s"), "below 0", id="before it is told"),
        pytest.param(with_keys(response="1 m"), "a time is needed", id="a response in metres"),
        pytest.param(with_keys(one_of=["A", "B"]), "has a product and one_of", id="a product and several"),
        pytest.param(with_keys(product=""), "carries nothing", id="a drive of nothing"),
        pytest.param(with_keys(product="", one_of=["A"]), "different products", id="a choice of one"),
        pytest.param(with_keys(product="", one_of=["A", "A"]), "different products", id="a choice of the same"),
        pytest.param(with_keys(product="", one_of=["A", ""]), "empty name", id="a choice of no name"),
        pytest.param({"tank": box("900 L", flow="9 L/min")}, "the least and the most", id="a tank's one flow"),
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


def test_speed_and_flow_are_kept_as_given_and_in_si() -> None:
    """People see their own unit; sums see m/s and m3/s."""
    made = Machine.model_validate(
        {
            "speed": "4 to 6 mph",
            "tank": box("900 L", flow="5 to 80 us_gal/min"),
            **with_keys(
                flow="0 to 40 kg/min", outlet_flow="0.3 L/min to 0.9 L/min", outlet_spacing="50 cm", response="1500 s",
                sections=4, form="liquid",
            ),
        }
    )  # fmt: skip
    assert made.speed is not None
    assert (str(made.speed), made.speed.low_m_s, made.speed.high_m_s) == (
        "4 to 6 mph", Fraction("1.78816"), Fraction("2.68224"),
    )  # fmt: skip
    (one,) = made.drive
    assert one.flow is not None
    assert one.outlet_flow is not None
    assert (str(one.flow), one.flow.kind, one.flow.high_si) == ("0 to 40 kg/min", "mass/time", Fraction(2, 3))
    assert (str(one.outlet_flow), one.outlet_flow.low_si) == ("0.3 to 0.9 L/min", Fraction(3, 600_000))
    assert (one.outlet_spacing, one.response, one.sections, one.form) == (0.5, 1500, 4, "liquid")
    assert str(made.tank[0].flow) == "5 to 80 us_gal/min"
    assert str(Machine.model_validate({"speed": "8 km/h"}).speed) == "8 km/h"
    assert str(Machine.model_validate({"speed": "4 mph to 10 km/h"}).speed) == "4 mph to 10 km/h"
    again = pickle.loads(pickle.dumps(made))
    assert again == made


def test_a_drive_of_several_products() -> None:
    """It counts for each of them: as a group, as what boxes feed, and by name."""
    both = {"name": "2", "span": ["0 m", "3 m"], "one_of": ["A", "B"]}
    made = Machine.model_validate(
        {
            "width": "12 m",
            "drive": [drive("1", "-6 m", "0 m"), both],
            "tank": [*box("900 L", drives=["1", "2"]), *box("400 L", "B", drives=["2"])],
        }
    )
    assert [one.products for one in made.drive] == [("A",), ("A", "B")]
    assert [one.name for one in made.drives_of("A")] == ["1", "2"]
    assert (made.narrowest_m("A"), made.narrowest_m("B"), made.narrowest_m("C")) == (3, 3, 12)
    with pytest.raises(ValidationError, match="carries 'A' or 'B', and this box 'C'"):
        Machine.model_validate({"drive": [both], "tank": box("9 L", "C", drives=["2"])})
    with pytest.raises(ValidationError, match="No box feeds '2'"):
        Machine.model_validate({"drive": [drive("1", "-6 m", "0 m"), both], "tank": box("9 L", drives=["1"])})


FORMS = {"A": "seed", "B": "seed", "L": "liquid", "M": "liquid"}


@pytest.mark.parametrize(
    ("drives", "shares"),
    [
        pytest.param([], {"A": 1, "L": 1}, id="no drives"),
        pytest.param([drive("1", "0 m", "6 m")], {"A": 1, "B": 1}, id="the only product, and one that none carries"),
        pytest.param(
            [drive("1", "-30 ft", "0 ft"), drive("2", "0 ft", "30 ft", product="B")],
            {"A": Fraction(1, 2), "B": Fraction(1, 2)}, id="halves",
        ),
        pytest.param(
            [drive("1", "-6 m", "0 m"), drive("2", "0 m", "3 m", product="B")],
            {"A": Fraction(2, 3), "B": Fraction(1, 3)}, id="two thirds and one",
        ),
        pytest.param(
            [drive("1", "-30 in", "30 in"), drive("2", "-30 in", "30 in", product="L")], {"A": 1, "L": 1},
            id="seed and liquid on the same ground",
        ),
        pytest.param(
            [drive("1", "-3 m", "3 m", product="L"), drive("2", "-3 m", "3 m", product="M")], {"L": 1, "M": 1},
            id="two liquids on the same ground",
        ),
        pytest.param(
            [drive("1", "-3 m", "1 m"), drive("2", "-1 m", "3 m", product="B")],
            {"A": Fraction(2, 3), "B": Fraction(2, 3)}, id="spans that overlap by a third of the width",
        ),
        pytest.param(
            [drive("1", "-3 m", "-1 m"), drive("2", "1 m", "3 m", product="B")],
            {"A": Fraction(1, 2), "B": Fraction(1, 2)}, id="ground between them is nobody's",
        ),
        pytest.param(
            [drive("1", "-3 m", "0 m"), {"name": "2", "span": ["0 m", "3 m"], "one_of": ["A", "B"]}],
            {"A": 1, "B": Fraction(1, 2)}, id="one of several counts whole",
        ),
        pytest.param(
            [drive("1", "-3 m", "0 m"), drive("2", "0 m", "3 m", product="not of this pass")], {"A": 1},
            id="a product of which nothing is known",
        ),
        pytest.param(
            [drive("1", "-3 m", "0 m"), drive("2", "0 m", "3 m", product="not of this pass") | {"form": "seed"}],
            {"A": Fraction(1, 2)}, id="a product of which the drive tells the form",
        ),
    ],
)  # fmt: skip
def test_the_share_of_the_width(drives: list[dict[str, Any]], shares: dict[str, Fraction]) -> None:
    """Width of the drives that carry a product over that of all drives that carry its form, exactly."""
    made = Machine.model_validate({"drive": drives})
    assert {name: made.share_of_width(name, FORMS) for name in shares} == shares
