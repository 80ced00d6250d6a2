"""Published recommendation equations, written as a plan writes a formula, against values worked out elsewhere.

They are examples of what a formula can say, for their own regions and years, and no advice. Where a row says "from
memory", the equation was not read in its bulletin; the values were computed apart from the project.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from support_products import granular, unit

from vrx.formula import read_formula
from vrx.model.layer import Numbers
from vrx.rates.by_formula import by_formula

P_1995 = (
    "(cl - p) * 5 + y * cr if p < cl else y * cr if p <= cl + 15 "
    "else y * cr * (1 - (p - (cl + 15)) / 10) if p <= cl + 25 else 0"
)
K_1995 = (
    "(75 + 2.5 * cec - k) * (1 + 0.05 * cec) + y * cr + 20 if k < 75 + 2.5 * cec "
    "else y * cr + 20 if k <= 105 + 2.5 * cec "
    "else max(0, (y * cr + 20) * (1 - (k - (105 + 2.5 * cec)) / 20))"
)
CORN_N = "(35 + 1.2 * ey - 8 * no3 - 0.14 * ey * min(max(om, 0.5), 3) - credits) * price * timing"


def rate(formula: str, constants: Mapping[str, float] | None = None, *, of: str = "lb/ac", **fields: float) -> float:
    columns = {name: Numbers(name=name, values=np.array([value], dtype=float)) for name, value in fields.items()}
    # The unit of the step is the unit of the result, so that no conversion stands between.
    dry = granular(min=f"1 {of}", max=f"900 {of}", step=f"1 {of}")
    return float(by_formula(read_formula(formula), columns, constants or {}, unit(of), dry, count=1).rates[0])


@pytest.mark.source("UNL EC117 (2019 and 2021 texts)", "corn nitrogen equation; R27a to R27f, computed from it")
@pytest.mark.parametrize(
    ("ey", "no3", "om", "credit", "price", "timing", "lb_n_ac"),
    [
        pytest.param(200, 3, 2, 0, 1, 1, 195.0, id="R27a"),
        pytest.param(200, 3, 2, 45, 1, 1, 150.0, id="R27b, formula sheet 38"),
        pytest.param(180, 5, 3, 0, 1, 1, 135.4, id="R27c"),
        pytest.param(250, 3, 4, 0, 1, 1, 206.0, id="R27d, organic matter held at 3"),
        pytest.param(150, 1.5, 0.3, 0, 1, 1, 192.5, id="R27e, organic matter held at 0.5"),
        pytest.param(220, 4, 2.5, 45, 0.95, 1.05, 144.638, id="R27f"),
    ],
)
def test_corn_nitrogen(
    ey: float, no3: float, om: float, credit: float, price: float, timing: float, lb_n_ac: float
) -> None:
    constants = {"credits": credit, "price": price, "timing": timing}
    # R27f is 144.6375, printed as 144.638.
    assert rate(CORN_N, constants, ey=ey, no3=no3, om=om) == pytest.approx(lb_n_ac, abs=5.0001e-4)


@pytest.mark.source("MSU E-2567 (1995)", "P equations, from memory; R08a to R08h, computed from them")
@pytest.mark.parametrize(
    ("p", "y", "lb_ac"),
    [
        pytest.param(5, 150, 105.50, id="R08a, formula sheet 33"),
        pytest.param(10, 150, 80.50, id="R08b"),
        pytest.param(15, 150, 55.50, id="R08c, on the critical level"),
        pytest.param(30, 150, 55.50, id="R08d, at the end of maintenance"),
        pytest.param(35, 150, 27.75, id="R08e"),
        pytest.param(40, 150, 0.00, id="R08f"),
        pytest.param(5, 140, 101.80, id="R08g"),
        pytest.param(10, 180, 91.60, id="R08h"),
    ],
)
def test_phosphate_by_build_up_maintenance_and_drawdown(p: float, y: float, lb_ac: float) -> None:
    assert rate(P_1995, {"cl": 15, "cr": 0.37}, p=p, y=y) == pytest.approx(lb_ac, abs=5e-9)


@pytest.mark.source("MSU E-2567 (1995)", "K equations, partly from memory; R10a to R10f, computed from them")
@pytest.mark.parametrize(
    ("k", "cec", "y", "lb_ac"),
    [
        pytest.param(50, 10, 150, 135.50, id="R10a, formula sheet 34"),
        pytest.param(100, 10, 150, 60.50, id="R10b"),
        pytest.param(130, 10, 150, 60.50, id="R10c"),
        pytest.param(140, 10, 150, 30.25, id="R10d"),
        pytest.param(150, 10, 150, 0.00, id="R10e"),
        pytest.param(80, 20, 180, 158.60, id="R10f"),
    ],
)
def test_potash_by_cation_exchange(k: float, cec: float, y: float, lb_ac: float) -> None:
    assert rate(K_1995, {"cr": 0.27}, k=k, cec=cec, y=y) == pytest.approx(lb_ac, abs=5e-9)


@pytest.mark.source("NCDA&CS, Crop Fertilization Based on NC Soil Tests (2014)", "Table 2.4; values computed from it")
@pytest.mark.parametrize(
    ("formula", "index", "lb_ac"),
    [
        pytest.param("0.012 * i ** 2 - 2.9 * i + 165", 25, 100.000, id="R25a, equation 13"),
        pytest.param("0.012 * i ** 2 - 2.9 * i + 165", 60, 34.200, id="R25b, equation 13"),
        pytest.param("0.01 * i ** 2 - 3.5 * i + 300", 50, 150.000, id="R25c, equation 3"),
        pytest.param("0.0202 * i ** 2 - 6.37 * i + 500", 40, 277.520, id="R25d, equation 2"),
        pytest.param("0.0102 * i ** 2 - 3.0 * i + 220", 70, 59.980, id="R25e, equation 9"),
        pytest.param("0.012 * i ** 2 - 3.0 * i + 120", 30, 40.800, id="R25f, equation 18"),
        pytest.param("0.0044 * i ** 2 - 1.6 * i + 100", 100, -16.000, id="R25g, equation 19, below 0"),
        pytest.param("0.012 * i ** 2 - 2.4 * i + 80", 50, -10.000, id="R25h, equation 20, below 0"),
        pytest.param("0.0467 * i ** 2 - 13.0 * i + 900", 20, 658.680, id="R25i, equation 1"),
    ],
)
def test_a_parabola_over_a_soil_test_index(formula: str, index: float, lb_ac: float) -> None:
    assert rate(formula, i=index) == pytest.approx(lb_ac, abs=5e-9)


@pytest.mark.source("SDSU EC750 (2005)", "equations from memory; R38 and R39, computed from them")
@pytest.mark.parametrize(
    ("formula", "soil", "yg", "lb_ac"),
    [
        pytest.param("max(0, (0.700 - 0.035 * soil) * yg)", 10, 150, 52.5, id="R38a, Bray"),
        pytest.param("max(0, (0.700 - 0.044 * soil) * yg)", 8, 150, 52.2, id="R38a, Olsen"),
        pytest.param("max(0, (1.1660 - 0.0073 * soil) * yg)", 100, 150, 65.4, id="R38a, potash"),
        pytest.param("max(0, (0.700 - 0.035 * soil) * yg)", 5, 200, 105.0, id="R38b, Bray"),
        pytest.param("max(0, (0.700 - 0.044 * soil) * yg)", 4, 200, 104.8, id="R38b, Olsen"),
        pytest.param("max(0, (1.1660 - 0.0073 * soil) * yg)", 60, 200, 145.6, id="R38b, potash"),
        pytest.param("max(0, (0.700 - 0.035 * soil) * yg)", 20, 120, 0.0, id="R38c, Bray"),
        pytest.param("max(0, (0.700 - 0.044 * soil) * yg)", 16, 120, 0.0, id="R38c, Olsen"),
        pytest.param("max(0, (1.1660 - 0.0073 * soil) * yg)", 160, 120, 0.0, id="R38c, potash"),
        pytest.param("1.2 * yg - soil - 40", 60, 150, 80.0, id="R39, nitrogen less soil test and legume"),
    ],
)
def test_rates_in_proportion_to_the_yield_goal(formula: str, soil: float, yg: float, lb_ac: float) -> None:
    assert rate(formula, soil=soil, yg=yg) == pytest.approx(lb_ac, abs=5e-9)


@pytest.mark.source("MSU E-2567 (1995)", "lime requirement, from memory; R19a to R19e, computed from it")
@pytest.mark.parametrize(
    ("lti", "tons"),
    [
        pytest.param(68, (1.36, 1.24, 1.02), id="R19a"),
        pytest.param(66, (3.42, 2.98, 2.44), id="R19b"),
        pytest.param(64, (5.48, 4.72, 3.86), id="R19c, formula sheet 35"),
        pytest.param(62, (7.54, 6.46, 5.28), id="R19d"),
        pytest.param(60, (9.60, 8.20, 6.70), id="R19e"),
    ],
)
def test_lime_by_the_lime_test_index(lti: float, tons: tuple[float, float, float]) -> None:
    """To pH 6.8, 6.5 and 6.0."""
    lines = ((71.4, 1.03), (60.4, 0.87), (49.3, 0.71))
    found = [rate("a - b * lti", {"a": a, "b": b}, of="short_ton/ac", lti=lti) for a, b in lines]
    assert found == pytest.approx(tons, abs=5e-9)


@pytest.mark.source("NCDA&CS buffer table", "acidity 1.2, pH 5.0 to 6.0: factor 0.625; the page prints 0.76 for 0.75")
def test_lime_by_buffer_acidity() -> None:
    """R22 and R23: (6.6 - 6.30) x 4 is 1.2, and a factor of 0.625 makes 0.75 tons."""
    found = rate("(6.6 - bph) * 4 * (target - ph) / (6.6 - ph)", {"target": 6.0}, of="short_ton/ac", bph=6.30, ph=5.0)
    assert found == pytest.approx(0.75, abs=5e-9)


@pytest.mark.source("Illinois rule of a yield goal, retired", "1.2 lb/bu less 40 after soybean; R31")
def test_nitrogen_by_a_yield_goal() -> None:
    """180 bu/ac makes 176.0 lb N/ac."""
    assert rate("1.2 * y - credit", {"credit": 40}, y=180) == pytest.approx(176.0, abs=5e-9)
