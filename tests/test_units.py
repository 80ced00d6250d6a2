"""Units and quantities, against pint as oracle and against what people write."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from vrx.errors import UnitError
from vrx.units import (
    ACRE_M2,
    Dialect,
    Measure,
    amount_text,
    amount_unit,
    area_text,
    convert,
    decimals_needed,
    length_text,
    number_text,
    oxide_or_element,
    parse_measure,
    parse_unit,
    rate_number_text,
)

US = Dialect("us")
METRIC = Dialect("metric")

# Our name -> pint's. pint's acre is the US survey acre, so ours is compared through the foot instead.
PINT = {
    "length": {"m": "meter", "cm": "centimeter", "mm": "millimeter", "km": "kilometer", "ft": "foot",
               "in": "inch", "yd": "yard", "mi": "mile", "us_survey_ft": "survey_foot"},
    "area": {"m2": "meter ** 2", "ft2": "foot ** 2", "ha": "hectare", "international_acre": "43560 * foot ** 2",
             "us_survey_acre": "acre"},
    "volume": {"m3": "meter ** 3", "L": "liter", "mL": "milliliter", "us_gal": "gallon", "us_qt": "quart",
               "us_pt": "pint", "us_fl_oz": "fluid_ounce", "imp_gal": "imperial_gallon",
               "imp_qt": "imperial_quart", "imp_pt": "imperial_pint", "imp_fl_oz": "imperial_fluid_ounce"},
    "mass": {"kg": "kilogram", "g": "gram", "mg": "milligram", "tonne": "metric_ton", "lb": "pound",
             "oz_weight": "ounce", "us_cwt": "hundredweight", "imp_cwt": "long_hundredweight",
             "short_ton": "short_ton", "long_ton": "long_ton"},
    "time": {"s": "second", "min": "minute", "h": "hour"},
    "volume/time": {"us_gal/min": "gallon / minute", "L/min": "liter / minute", "m3/h": "meter ** 3 / hour"},
    "mass/time": {"lb/min": "pound / minute", "kg/min": "kilogram / minute", "g/s": "gram / second"},
    "speed": {"mph": "mile / hour", "km/h": "kilometer / hour", "m/s": "meter / second", "ft/min": "foot / minute"},
}  # fmt: skip


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[Any]:
    return pint.UnitRegistry()


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_simple_units_agree_with_pint(registry: pint.UnitRegistry[Any], data: st.DataObject) -> None:
    """Any two units of a kind convert as pint converts them."""
    names = PINT[data.draw(st.sampled_from(sorted(PINT)))]
    source, target = data.draw(st.sampled_from(sorted(names))), data.draw(st.sampled_from(sorted(names)))
    ours = convert(Fraction(1), parse_unit(source), parse_unit(target))
    theirs = (1 * registry(names[source])).to_base_units() / (1 * registry(names[target])).to_base_units()
    assert float(ours) == pytest.approx(float(theirs.magnitude), rel=1e-9)


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_rates_and_densities_agree_with_pint(registry: pint.UnitRegistry[Any], data: st.DataObject) -> None:
    """A unit with a slash is the quotient of its parts, as in pint."""
    upper = PINT[data.draw(st.sampled_from(["volume", "mass"]))]
    lower = PINT[data.draw(st.sampled_from(["area", "volume"]))]
    top, bottom = data.draw(st.sampled_from(sorted(upper))), data.draw(st.sampled_from(sorted(lower)))
    theirs = (1 * registry(upper[top]) / registry(lower[bottom])).to_base_units()
    assert float(parse_unit(f"{top}/{bottom}").factor) == pytest.approx(float(theirs.magnitude), rel=1e-9)


@settings(max_examples=200, deadline=None)
@given(
    value=st.fractions(),
    pair=st.sampled_from([("gal/ac", "L/ha"), ("lb/ac", "kg/ha"), ("lb/gal", "kg/L"), ("seeds/ac", "seeds/m2")]),
)
def test_there_and_back_is_the_same(value: Fraction, pair: tuple[str, str]) -> None:
    """Converting there and back loses nothing."""
    source, target = (parse_unit(name, US) for name in pair)
    assert convert(convert(value, source, target), target, source) == value


TWO_READINGS = [
    pytest.param("ton/ac", METRIC, ["short_ton", "long_ton", "tonne"], id="ton"),
    pytest.param("ton/ac", US, ["short_ton", "long_ton", "tonne"], id="ton in a US plan too"),
    pytest.param("oz/ac", US, ["oz_weight", "fl_oz"], id="oz"),
    pytest.param("bag/ac", US, ["bag(50 lb)", "bag(80000 seeds)"], id="bag"),
    pytest.param("bu/ac", US, ["bu(56 lb)", "bu(60 lb)"], id="bu"),
    pytest.param("unit/ac", US, ["unit(80000 seeds)"], id="unit"),
    pytest.param("lb P/ac", US, ["P2O5", "P_element"], id="P"),
    pytest.param("kg K/ha", METRIC, ["K2O", "K_element"], id="K"),
    pytest.param("gal/ac", METRIC, ["us_gal", "imp_gal"], id="gal in a metric plan"),
    pytest.param("gal/ac", Dialect(), ["us_gal", "imp_gal"], id="gal without a plan"),
    pytest.param("pt/ac", METRIC, ["us_pt", "imp_pt"], id="pt"),
    pytest.param("qt/ac", METRIC, ["us_qt", "imp_qt"], id="qt"),
    pytest.param("fl oz/ac", METRIC, ["us_fl_oz", "imp_fl_oz"], id="fl oz"),
    pytest.param("cwt/ac", METRIC, ["us_cwt", "imp_cwt"], id="cwt"),
    pytest.param("ton N/ac", US, ["short_ton", "long_ton", "tonne"], id="ton of a nutrient"),
]


@pytest.mark.parametrize(("text", "dialect", "readings"), TWO_READINGS)
def test_words_with_two_readings_are_refused_with_both(text: str, dialect: Dialect, readings: list[str]) -> None:
    """A word that people use for two things is refused, and the remedy names each reading."""
    with pytest.raises(UnitError) as caught:
        parse_unit(text, dialect)
    for reading in readings:
        assert reading in caught.value.remedy


READINGS = [
    "short_ton", "long_ton", "tonne", "oz_weight", "us_fl_oz", "imp_fl_oz", "us_gal", "imp_gal", "bag(50 lb)",
    "bag(80000 seeds)", "bu(56 lb)", "unit(80000 seeds)", "us_cwt", "imp_cwt", "kg P2O5", "kg P_element", "lb K2O",
    "lb K_element",
]  # fmt: skip


@pytest.mark.parametrize("reading", READINGS)
def test_each_reading_is_accepted(reading: str) -> None:
    """What the remedy says to write can be read, in any plan."""
    assert parse_unit(f"{reading}/ha").per == "ha"


REFUSED = [
    pytest.param(18, "has no unit", id="a whole number"),
    pytest.param(7.5, "has no unit", id="a number"),
    pytest.param(True, "is not a rate", id="a truth value"),
    pytest.param(None, "is not a rate", id="nothing"),
    pytest.param(["18 gal/ac"], "is not a rate", id="a list"),
    pytest.param("18", "has no unit", id="text without a unit"),
    pytest.param("", "does not start with a number", id="empty"),
    pytest.param("gal/ac", "does not start with a number", id="no number"),
    pytest.param("nan gal/ac", "does not start with a number", id="nan"),
    pytest.param("inf gal/ac", "does not start with a number", id="inf"),
    pytest.param("1,5 gal/ac", "comma", id="a decimal comma"),
    pytest.param("32,000 seeds/ac", "comma", id="a comma between thousands"),
    pytest.param("32 000 seeds/ac", "several parts", id="a space between thousands"),
    pytest.param("32_000 seeds/ac", "several parts", id="an underscore between thousands"),
    pytest.param("32'000 seeds/ac", "several parts", id="an apostrophe between thousands"),
    pytest.param("1.2.3 gal/ac", "several parts", id="two points"),
    pytest.param("1/2 gal/ac", "a fraction", id="a fraction"),
    pytest.param("18 gallons per acre", "not known", id="words for the slash"),
    pytest.param("18 gpa", "not known", id="an abbreviation"),
    pytest.param("18 gal/ac/h", "too many parts", id="two slashes"),
    pytest.param("18 gal/lb N", "too many parts", id="a nutrient below the slash"),
    pytest.param("18 gal", "is a volume", id="an amount"),
    pytest.param("60 ft", "is a length", id="a length"),
    pytest.param("18 gal N/ac", "a nutrient is a mass", id="a volume of nutrient"),
    pytest.param("18 lb X/ac", "not known", id="an unknown nutrient"),
    pytest.param("2 bag(0 lb)/ac", "no size above 0", id="an empty bag"),
    pytest.param("2 bag(50 ft)/ac", "is a length", id="a bag by length"),
    pytest.param("2 bag(bag(1 lb))/ac", "not known", id="a bag in a bag"),
    pytest.param("2 unit(80000 live_seeds)/ac", "sized by its live seed", id="a unit of live seed"),
    pytest.param("1e999 gal/ac", "beyond any rate", id="a number beyond floats"),
    pytest.param("1e-99 gal/ac", "beyond any rate", id="a number next to nothing"),
    pytest.param("9" * 5000 + " gal/ac", "too long", id="thousands of digits"),
    pytest.param("1 " + "gal/" * 5000, "too long", id="thousands of slashes"),
    pytest.param("٣ gal/ac", "does not start with a number", id="other digits"),
    pytest.param("² gal/ac", "does not start with a number", id="a superscript"),
    pytest.param("18 \udcff/ac", "not known", id="a lone surrogate"),
]


@pytest.mark.parametrize(("text", "words"), REFUSED)
def test_what_is_no_rate_is_refused(text: object, words: str) -> None:
    """A rate is text with a number, a unit, and of the right kind; the error says what is wrong and what fits."""
    with pytest.raises(UnitError) as caught:
        parse_measure(text, kinds=("volume/area", "mass/area", "count/area"), dialect=US, what="rate")
    assert words in caught.value.problem
    assert caught.value.remedy
    assert len(str(caught.value)) < 500


pieces = st.sampled_from(
    ["1", "32", "000", ".5", "e3", "-", ",", " ", "/", "(", ")", "gal", "ac", "lb", "N", "P", "bag", "unit", "seeds",
     "live", "%", "bu", "US", "fl", "oz", "km", "h", "m", "short", "ton"]
)  # fmt: skip


@settings(max_examples=600, deadline=None)
@given(text=st.text() | st.lists(pieces, max_size=14).map("".join) | st.lists(pieces, max_size=14).map(" ".join))
@example(text="bag(" * 20)
@example(text="/" * 79)
@example(text="1 " + " " * 500 + "ft")
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever is written gives a quantity of a wanted kind or a UnitError, never another error."""
    for dialect in (US, METRIC, Dialect()):
        with suppress(UnitError):
            assert parse_unit(text, dialect).factor > 0
        with suppress(UnitError):
            assert parse_measure(text, kinds=["mass/area"], dialect=dialect).unit.kind == "mass/area"


@settings(max_examples=200, deadline=None)
@given(
    value=st.none() | st.booleans() | st.integers() | st.floats() | st.binary() | st.dictionaries(st.text(), st.none())
)
def test_any_other_value_is_refused(value: object) -> None:
    """A value that is no text is refused: a bare number hides its unit."""
    with pytest.raises(UnitError):
        parse_measure(value, kinds=["length"])


SPELLINGS = [
    pytest.param("18 gal/ac", "18 gal/ac", id="plain"),
    pytest.param("  18gal / ac ", "18 gal/ac", id="spaces"),
    pytest.param("18 gallons/acre", "18 gal/ac", id="words"),
    pytest.param("18\u00a0gal/ac", "18 gal/ac", id="a no-break space"),
    pytest.param("1.80e1 gal/ac", "18 gal/ac", id="an exponent"),
    pytest.param("+18. gal/ac", "18 gal/ac", id="a sign and a bare point"),
    pytest.param(".5 US gal/ac", "0.5 us_gal/ac", id="US gal"),
    pytest.param("120 lb N/ac", "120 lb N/ac", id="nutrient"),
    pytest.param("0.4 unit( 80000 seeds )/ac", "0.4 unit(80000 seeds)/ac", id="a sized unit"),
    pytest.param("2 short tons/ac", "2 short_ton/ac", id="a plural with a space"),
]


@pytest.mark.parametrize(("text", "told"), SPELLINGS)
def test_people_may_spell_a_rate_in_several_ways(text: str, told: str) -> None:
    """Spellings of one rate are told back the same way, and that way reads as the same rate."""
    kinds = ("volume/area", "mass/area", "count/area")
    read = parse_measure(text, kinds=kinds, dialect=US)
    assert str(read) == told
    assert parse_measure(told, kinds=kinds, dialect=US) == read


@pytest.mark.parametrize("text", ["5 mi/h", "5 mph", "8.04672 km / h", "440 ft/min"])
def test_a_length_a_time_is_a_speed(text: str) -> None:
    """A speed may be written as a quotient; 5 mph is 440 ft/min."""
    assert parse_measure(text, kinds=["speed"]).si == 5 * Fraction("0.44704")


def test_words_of_a_us_plan() -> None:
    """In a US plan gal is the US gallon, whatever the acre; the acre is the one that the plan asks for."""
    assert parse_unit("gal", US).factor == parse_unit("us_gal").factor
    assert parse_unit("gal/ac", US).factor == parse_unit("us_gal/international_acre").factor
    assert parse_unit("gal/ac", Dialect("us", "us_survey")).factor == parse_unit("us_gal/us_survey_acre").factor


def test_live_seed_and_seed_dropped_are_two_things() -> None:
    """A count of live seed does not turn into seeds by units alone, nor does a nutrient into product."""
    with pytest.raises(UnitError, match="units alone"):
        convert(Fraction(1), parse_unit("live_seeds/ac"), parse_unit("seeds/ac"))
    with pytest.raises(UnitError, match="units alone"):
        convert(Fraction(1), parse_unit("lb N/ac"), parse_unit("lb/ac"))
    with pytest.raises(UnitError, match="units alone"):
        convert(Fraction(1), parse_unit("kg/ha"), parse_unit("L/ha"))


@pytest.mark.parametrize(
    ("rate_unit", "amount", "factor"),
    [
        pytest.param("gal/ac", "gal", "0.003785411784", id="gal"),
        pytest.param("unit(80000 seeds)/ac", "unit(80000 seeds)", "80000", id="unit"),
        pytest.param("bag(50 lb)/ac", "bag(50 lb)", "22.6796185", id="bag"),
        pytest.param("lb N/ac", "lb N", "0.45359237", id="nutrient"),
        pytest.param("kg", "kg", "1", id="already an amount"),
    ],
)
def test_the_unit_of_a_total(rate_unit: str, amount: str, factor: str) -> None:
    """A total is in what stands before the slash, the acre of the plan notwithstanding."""
    for acre in ("international", "us_survey"):
        found = amount_unit(parse_unit(rate_unit, Dialect("us", acre)))
        assert (found.name, found.factor) == (amount, Fraction(factor))


@pytest.mark.parametrize(
    ("value", "text", "decimals"),
    [
        pytest.param(Fraction(18), "18", 0, id="whole"),
        pytest.param(Fraction(1000), "1000", 0, id="zeros of a whole number stay"),
        pytest.param(Fraction(15, 2), "7.5", 1, id="a half"),
        pytest.param(Fraction(-15, 2), "-7.5", 1, id="negative"),
        pytest.param(Fraction(1, 3), "0.333333333", 9, id="never ends"),
        pytest.param(Fraction(2, 3), "0.666666667", 9, id="never ends, rounded"),
        pytest.param(Fraction(-1, 10**12), "0", 9, id="next to nothing has no sign"),
        pytest.param(Fraction(1, 2 * 10**9), "0.000000001", 9, id="half a last digit"),
        pytest.param(Fraction(0), "0", 0, id="zero"),
    ],
)
def test_numbers_are_written_in_decimals(value: Fraction, text: str, decimals: int) -> None:
    """Decimals without trailing zeros, exact where they end within nine."""
    assert number_text(value) == text
    assert decimals_needed(value) == decimals


@settings(max_examples=300)
@given(value=st.decimals(allow_nan=False, allow_infinity=False, places=6, min_value=-(10**9), max_value=10**9))
def test_a_number_with_few_decimals_is_written_exactly(value: Any) -> None:
    """What ends within nine decimals reads back as itself."""
    assert Fraction(number_text(Fraction(value))) == Fraction(value)


def test_a_measure_knows_its_size() -> None:
    """43560 square feet are an acre, in square metres."""
    assert Measure(Fraction(43560), parse_unit("ft2")).si == ACRE_M2


def test_p_and_k_have_two_readings() -> None:
    """P and K name both readings; a nutrient that says which it is has none."""
    assert "P2O5" in oxide_or_element("P")
    assert "K_element" in oxide_or_element("K")
    assert oxide_or_element("P2O5") == oxide_or_element("N") == ""


@pytest.mark.parametrize(
    ("amount", "text", "signed"),
    [
        pytest.param(0.0, "0", "+0", id="nothing"),
        pytest.param(1147.5, "1,147.5", "+1,147.5", id="a decimal"),
        pytest.param(-60.0, "-60", "-60", id="below 0"),
        pytest.param(0.03125, "0.03125", "+0.03125", id="small: four digits"),
        pytest.param(-1e-12, "0", "+0", id="a rounding is no minus 0"),
        pytest.param(2_380_000.2, "2,380,000", "+2,380,000", id="large: whole, and no power of ten"),
        pytest.param(99.99999, "100", "+100", id="rounded over a power of ten"),
    ],
)
def test_amounts_as_people_read_them(amount: float, text: str, signed: str) -> None:
    """Four digits at least, thousands apart, no trailing zeros, with a sign where asked."""
    assert (amount_text(amount), amount_text(amount, sign=True)) == (text, signed)


@pytest.mark.source(
    "NIST Handbook 44", "appendix C: 1 acre is 4046.856 m2, 1 square foot 0.092 903 04 m2, 1 foot 0.3048 m"
)
@pytest.mark.parametrize(
    ("dialect", "area_m2", "text"),
    [
        pytest.param(METRIC, 4046.856, "0.4047 ha (1.000 ac)", id="an acre, metric"),
        pytest.param(US, 4046.856, "1.000 ac (0.4047 ha)", id="an acre, US"),
        pytest.param(US, 9_290_304.0, "2,295.684 ac (929.0304 ha)", id="10^8 square feet in international acres"),
        pytest.param(Dialect("us", "us_survey"), 9_290_304.0, "2,295.675 ac (929.0304 ha)", id="in survey acres"),
        pytest.param(METRIC, 9.290304, "9.29 m2 (100.0 ft2)", id="small, metric"),
        pytest.param(US, 9.290304, "100.0 ft2 (9.29 m2)", id="small, US"),
    ],
)
def test_areas_as_people_read_them(dialect: Dialect, area_m2: float, text: str) -> None:
    """In both units, the plan's own first; a survey acre is 4 parts in a million larger."""
    assert area_text(area_m2, dialect) == text


def test_lengths_as_people_read_them() -> None:
    """60 feet are 18.288 m."""
    assert (length_text(18.288, METRIC), length_text(18.288, US)) == ("18.29 m (60.0 ft)", "60.0 ft (18.29 m)")


@pytest.mark.parametrize(
    ("rate", "text"),
    [
        pytest.param(151.25, "151.25", id="six digits"),
        pytest.param(32000.0, "32000", id="no separator, as in a plan"),
        pytest.param(1_234_567.0, "1234567", id="no power of ten"),
        pytest.param(1 / 3, "0.333333", id="without an end"),
    ],
)
def test_wanted_rates_as_a_plan_writes_them(rate: float, text: str) -> None:
    """A rate in a message can be copied into a plan."""
    assert rate_number_text(rate) == text


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        pytest.param("5 LB/ac", '"lb"', id="capitals"),
        pytest.param("5 lb per acre", '"lb/acre"', id="words for the slash"),
        pytest.param("5 lb/A", '"ac"', id="a letter for the acre"),
        pytest.param("18 gpa", '"gal/ac"', id="gallons per acre"),
        pytest.param("5 bags(50 lb)/ac", '"bag(50 lb)"', id="bags"),
        pytest.param("5 litters/ha", '"liters"', id="a slip"),
    ],
)
def test_the_unit_that_was_meant_is_proposed(text: str, meant: str) -> None:
    """And it is one that can be read."""
    with pytest.raises(UnitError) as caught:
        parse_measure(text, kinds=("mass/area", "volume/area"), dialect=US)
    assert f"Did you mean {meant}?" in caught.value.remedy
    parse_unit(meant.strip('"'), US)


def test_both_readings_of_p_are_whole_units() -> None:
    """Either can be copied as it stands."""
    with pytest.raises(UnitError) as caught:
        parse_unit("lb P/ac", US)
    for reading in ("lb P2O5", "lb P_element"):
        assert reading in caught.value.remedy
        parse_unit(f"{reading}/ac", US)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        pytest.param("85 deg", "angle", Fraction(85), id="an angle stays in degrees"),
        pytest.param("85°", "angle", Fraction(85), id="the sign"),
        pytest.param("12 gal/min", "volume/time", 12 * Fraction("0.003785411784") / 60, id="gal/min"),
        pytest.param("45 L/min", "volume/time", Fraction(45, 60_000), id="L/min"),
        pytest.param("30 lb/min", "mass/time", Fraction("0.45359237") / 2, id="lb/min"),
        pytest.param("18 kg/min", "mass/time", Fraction(3, 10), id="kg/min"),
        pytest.param("14.3 seeds/s", "count/time", Fraction("14.3"), id="seeds/s"),
        pytest.param("14.4 thousand_seeds/min", "count/time", Fraction(240), id="thousand seeds a minute"),
    ],
)
def test_flows_and_angles(text: str, kind: str, si: Fraction) -> None:
    """What a meter gives, and which way the passes go, reads exactly."""
    found = parse_measure(text, kinds=(kind,), dialect=US)
    assert (found.unit.kind, found.si) == (kind, si)


@pytest.mark.parametrize("kind", ["angle", "volume/time", "mass/time", "count/time"])
def test_the_example_of_a_kind_is_of_that_kind(kind: str) -> None:
    """What a refusal shows as accepted is accepted."""
    with pytest.raises(UnitError) as caught:
        parse_measure("5", kinds=(kind,), dialect=US)
    shown = caught.value.remedy.split('"')[1]
    assert parse_measure(shown, kinds=(kind,), dialect=US).unit.kind == kind
