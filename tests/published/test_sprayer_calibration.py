"""Flow, speed and rate: the constants of sprayer calibration, and worked rows.

The constants 5940 and 495 were seen in the stationary calibration method of Mesa County, Colorado. Where no publication
is named, the value was computed from the definitions, apart from this project: a second path to the same number.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from support_products import granular, product, seed, unit

from vrx.dosing.flow import flow_of, flow_si, rate_of_flow, speed_of_flow
from vrx.model.product import Product

pytestmark = pytest.mark.source(
    "MesaCountyCalibration", "stationary calibration method: GPA = GPM x 5940 / (mph x in), GPM x 495 / (mph x ft)"
)

LIQUID = product()
DRY = granular(min="20 lb/ac", max="900 lb/ac", step="1 lb/ac")
KERNELS = seed()


def flow(of: Product, rate: str, speed_mph: str, width: str, in_unit: str) -> Fraction:
    """Return the flow at a rate in the product's own unit, a speed in mph and a width such as ``20 in``."""
    number, name = width.split()
    width_m = Fraction(number) * unit(name).factor
    return flow_of(of, Fraction(rate), Fraction(speed_mph) * unit("mph").factor, width_m, unit(in_unit))


def half_a_digit(printed: str) -> float:
    """Return half of the last digit that is printed."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2]) * 1.000001


@pytest.mark.parametrize(
    ("of", "width", "in_unit", "constant"),
    [
        pytest.param(LIQUID, "1 in", "gal/min", 5940, id="E01: GPM, GPA, mph, inches (seen)"),
        pytest.param(LIQUID, "1 ft", "gal/min", 495, id="E02: GPM, GPA, mph, feet (seen)"),
        pytest.param(DRY, "1 ft", "lb/min", 495, id="E02: lb/min, lb/ac, mph, feet (seen)"),
    ],
)
def test_the_constants_of_calibration_are_exact(of: Product, width: str, in_unit: str, constant: int) -> None:
    """A rate of 1 at 1 mph on a width of 1 is a flow of 1 over the constant, to the last digit."""
    assert flow(of, "1", "1", width, in_unit) == Fraction(1, constant)


@pytest.mark.parametrize(
    ("rate", "speed", "width", "printed"),
    [
        pytest.param("20", "6", "20 in", "0.404040", id="E03a (computed)"),
        pytest.param("15", "10", "20 in", "0.505051", id="E03b (computed)"),
        pytest.param("10", "12", "20 in", "0.404040", id="E03c (computed)"),
        pytest.param("22.6", "6", "20 in", "0.456566", id="E03d (computed)"),
        pytest.param("12", "5", "30 in", "0.303030", id="E03e (computed)"),
        pytest.param("24.86", "4", "30 in", "0.502222", id="E03f (computed)"),
        pytest.param("15", "10", "90 ft", "27.2727", id="E05: a whole boom (computed)"),
    ],
)
def test_gallons_a_minute(rate: str, speed: str, width: str, printed: str) -> None:
    """E03 and E05: gal/ac x mph x width over the constant."""
    found = flow(LIQUID, rate, speed, width, "gal/min")
    assert float(found) == pytest.approx(float(printed), abs=half_a_digit(printed))


def test_a_boom_gives_what_its_nozzles_give() -> None:
    """E05: 90 ft are 54 nozzles 20 in apart, and 54 times the flow of one, exactly."""
    assert flow(LIQUID, "15", "10", "90 ft", "gal/min") == 54 * flow(LIQUID, "15", "10", "20 in", "gal/min")


def test_the_rate_that_a_flow_makes() -> None:
    """E04 (computed): 0.40 gal/min at 6 mph from nozzles 20 in apart are 19.8 gal/ac, exactly."""
    speed, width = 6 * unit("mph").factor, 20 * unit("in").factor
    assert rate_of_flow(LIQUID, Fraction("0.4"), unit("gal/min"), speed, width) == Fraction("19.8")
    assert speed_of_flow(LIQUID, Fraction("0.4"), unit("gal/min"), Fraction("19.8"), width) == speed


def test_the_metric_form() -> None:
    """E06 (computed): 150 L/ha at 10 km/h on 0.5 m are 1.25 L/min, exactly."""
    metric = product(min="80 L/ha", max="300 L/ha", step="1 L/ha")
    found = flow_of(metric, Fraction(150), 10 * unit("km/h").factor, Fraction(1, 2), unit("L/min"))
    assert found == Fraction("1.25")


@pytest.mark.parametrize(
    ("rate", "speed", "width", "printed"),
    [
        pytest.param("200", "15", "60 ft", "363.6364", id="E18a (computed)"),
        pytest.param("150", "12", "80 ft", "290.9091", id="E18b (computed)"),
        pytest.param("300", "10", "70 ft", "424.2424", id="E18c (computed)"),
    ],
)
def test_pounds_a_minute_of_a_spreader(rate: str, speed: str, width: str, printed: str) -> None:
    """E18: lb/ac x mph x swath over 495."""
    found = flow(DRY, rate, speed, width, "lb/min")
    assert float(found) == pytest.approx(float(printed), abs=half_a_digit(printed))


def test_seeds_a_second_of_a_row() -> None:
    """S14 (computed): 34,000 seeds/ac in rows of 30 in at 5 mph; a disc of 30 cells turns 28.6195 times a minute."""
    each_s = flow(KERNELS, "34000", "5", "30 in", "seeds/s")
    assert float(each_s) == pytest.approx(14.3098, abs=half_a_digit("14.3098"))
    each_min = flow(KERNELS, "34000", "5", "30 in", "seeds/min")
    assert float(each_min / 30) == pytest.approx(28.6195, abs=half_a_digit("28.6195"))


def test_a_stretch_by_the_clock() -> None:
    """E22 (extension, from memory; computed): 200 ft in 22.7 s are 6.0072 mph; U33: 1 mph is 88 ft/min, exactly."""
    speed_m_s = 200 * unit("ft").factor / Fraction("22.7")
    assert float(speed_m_s / unit("mph").factor) == pytest.approx(6.0072, abs=half_a_digit("6.0072"))
    assert unit("mph").factor == 88 * unit("ft/min").factor == Fraction("0.44704")
    assert unit("mph").factor == Fraction("1.609344") * unit("km/h").factor


def test_in_si_units() -> None:
    """1 m3/m2 at 1 m/s on 1 m is 1 m3/s; and rate, speed and width count alike."""
    assert flow_si(Fraction(2), Fraction(3), Fraction(5)) == 30
