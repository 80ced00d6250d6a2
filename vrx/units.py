"""Units that a plan may use, quantities written as text, and exact conversion between them.

Factors are exact fractions to SI units. Sources: NIST SP 811 (2008) appendix B and NIST Handbook 44
appendix C for the foot, acre, gallon, pound, ton and their parts; EPSG unit 9003 for the US survey foot.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import floor, log10
from typing import Final, Literal, NamedTuple

from vrx.errors import UnitError
from vrx.words import nearest, visible

System = Literal["us", "metric"]
Acre = Literal["international", "us_survey"]

FOOT_M: Final = Fraction(3048, 10000)
SURVEY_FOOT_M: Final = Fraction(1200, 3937)
ACRE_M2: Final = 43560 * FOOT_M**2
SURVEY_ACRE_M2: Final = 43560 * SURVEY_FOOT_M**2
HECTARE_M2: Final = Fraction(10000)
POUND_KG: Final = Fraction(45359237, 100000000)
US_GALLON_M3: Final = 231 * Fraction(254, 10000) ** 3
IMPERIAL_GALLON_M3: Final = Fraction(454609, 100000000)
LITRE_M3: Final = Fraction(1, 1000)

RATE_KINDS: Final = ("volume/area", "mass/area", "count/area")
AMOUNT_KINDS: Final = ("volume", "mass", "count")
FLOW_KINDS: Final = ("volume/time", "mass/time", "count/time")
"""Kinds of units in which a rate, an amount and a flow of product are told."""

NUTRIENTS: Final = ("N", "P2O5", "K2O", "S", "Ca", "Mg", "Zn", "B", "P_element", "K_element")


class Dialect(NamedTuple):
    """How a plan means words that differ between places: its ``units`` and its ``acre``."""

    system: System | None = None
    acre: Acre = "international"


_NO_PLACE: Final = Dialect()


class Unit(NamedTuple):
    """A unit: its name as people write it, its kind, and its exact size in SI units.

    ``kind`` is one of the simple kinds ``length`` (m), ``area`` (m2), ``volume`` (m3), ``mass`` (kg),
    ``count``, ``time`` (s), ``share``, ``speed`` (m/s), ``angle`` (degrees: the one kind that is kept in no SI unit,
    since pi has no exact fraction), or two of them joined by a slash, as ``volume/area``.
    ``of`` says what a mass or count is of: a nutrient, or ``live seed``; empty for the product itself.
    """

    name: str
    kind: str
    factor: Fraction
    of: str = ""

    @property
    def amount(self) -> str:
        """The part before the slash: the unit of a total, ``gal`` for ``gal/ac``."""
        return self.name.rsplit("/", 1)[0]

    @property
    def per(self) -> str:
        """The part behind the slash, ``ac`` for ``gal/ac``; empty where there is none."""
        return self.name.rsplit("/", 1)[1] if "/" in self.name else ""


class Measure(NamedTuple):
    """A number with its unit as given: limits and steps live in the unit in which a person wrote them."""

    value: Fraction
    unit: Unit

    @property
    def si(self) -> Fraction:
        """The value in SI units, exactly."""
        return self.value * self.unit.factor

    def __str__(self) -> str:
        return f"{number_text(self.value)} {self.unit.name}"


@dataclass(frozen=True, slots=True)
class _Simple:
    kind: str
    factor: Fraction


_KG_PER_OUNCE = POUND_KG / 16
_SIMPLE: Final[dict[str, _Simple]] = {
    "m": _Simple("length", Fraction(1)),
    "cm": _Simple("length", Fraction(1, 100)),
    "mm": _Simple("length", Fraction(1, 1000)),
    "km": _Simple("length", Fraction(1000)),
    "ft": _Simple("length", FOOT_M),
    "in": _Simple("length", FOOT_M / 12),
    "yd": _Simple("length", 3 * FOOT_M),
    "mi": _Simple("length", 5280 * FOOT_M),
    "us_survey_ft": _Simple("length", SURVEY_FOOT_M),
    "m2": _Simple("area", Fraction(1)),
    "ft2": _Simple("area", FOOT_M**2),
    "ha": _Simple("area", HECTARE_M2),
    "international_acre": _Simple("area", ACRE_M2),
    "us_survey_acre": _Simple("area", SURVEY_ACRE_M2),
    "m3": _Simple("volume", Fraction(1)),
    "L": _Simple("volume", LITRE_M3),
    "mL": _Simple("volume", LITRE_M3 / 1000),
    "us_gal": _Simple("volume", US_GALLON_M3),
    "us_qt": _Simple("volume", US_GALLON_M3 / 4),
    "us_pt": _Simple("volume", US_GALLON_M3 / 8),
    "us_fl_oz": _Simple("volume", US_GALLON_M3 / 128),
    "imp_gal": _Simple("volume", IMPERIAL_GALLON_M3),
    "imp_qt": _Simple("volume", IMPERIAL_GALLON_M3 / 4),
    "imp_pt": _Simple("volume", IMPERIAL_GALLON_M3 / 8),
    "imp_fl_oz": _Simple("volume", IMPERIAL_GALLON_M3 / 160),
    "kg": _Simple("mass", Fraction(1)),
    "g": _Simple("mass", Fraction(1, 1000)),
    "mg": _Simple("mass", Fraction(1, 1000000)),
    "tonne": _Simple("mass", Fraction(1000)),
    "lb": _Simple("mass", POUND_KG),
    "oz_weight": _Simple("mass", _KG_PER_OUNCE),
    "us_cwt": _Simple("mass", 100 * POUND_KG),
    "imp_cwt": _Simple("mass", 112 * POUND_KG),
    "short_ton": _Simple("mass", 2000 * POUND_KG),
    "long_ton": _Simple("mass", 2240 * POUND_KG),
    "seeds": _Simple("count", Fraction(1)),
    "thousand_seeds": _Simple("count", Fraction(1000)),
    "s": _Simple("time", Fraction(1)),
    "min": _Simple("time", Fraction(60)),
    "h": _Simple("time", Fraction(3600)),
    "mph": _Simple("speed", 5280 * FOOT_M / 3600),
    "km/h": _Simple("speed", Fraction(1000, 3600)),
    "m/s": _Simple("speed", Fraction(1)),
    "%": _Simple("share", Fraction(1, 100)),
    "deg": _Simple("angle", Fraction(1)),
}

_ALIASES: Final[dict[str, str]] = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "inch": "in",
    "inches": "in", "yard": "yd", "yards": "yd", "mile": "mi", "miles": "mi", "m²": "m2", "ft²": "ft2",
    "sq_ft": "ft2", "hectare": "ha", "hectares": "ha", "acre": "ac", "acres": "ac", "l": "L", "litre": "L",
    "litres": "L", "liter": "L", "liters": "L", "ml": "mL", "gallon": "gal", "gallons": "gal", "quart": "qt",
    "quarts": "qt", "pint": "pt", "pints": "pt", "pound": "lb", "pounds": "lb", "lbs": "lb", "t": "tonne",
    "tonnes": "tonne", "metric_ton": "tonne", "short_tons": "short_ton", "long_tons": "long_ton",
    "seed": "seeds", "kseeds": "thousand_seeds", "sec": "s", "hr": "h", "kph": "km/h", "percent": "%",
    "°": "deg", "degree": "deg", "degrees": "deg",
    "US gal": "us_gal", "US qt": "us_qt", "US pt": "us_pt", "US fl oz": "us_fl_oz", "imp gal": "imp_gal",
    "imp qt": "imp_qt", "imp pt": "imp_pt", "imp fl oz": "imp_fl_oz",
    "short tons": "short_ton", "long tons": "long_ton", "metric tons": "tonne", "metric_tons": "tonne",
    "fl oz": "fl_oz", "short ton": "short_ton", "long ton": "long_ton", "metric ton": "tonne",
    "thousand seeds": "thousand_seeds", "live seeds": "live_seeds", "live_seed": "live_seeds",
    "tons": "ton", "bags": "bag", "bushel": "bu", "bushels": "bu", "units": "unit", "ounce": "oz",
    "ounces": "oz", "sq ft": "ft2", "US survey acre": "us_survey_acre",
}  # fmt: skip

# Words that are US measures in a plan with units = "us" and say too little elsewhere.
_US_WORDS: Final[dict[str, tuple[str, str]]] = {
    "gal": ("us_gal", "imp_gal"), "qt": ("us_qt", "imp_qt"), "pt": ("us_pt", "imp_pt"),
    "fl_oz": ("us_fl_oz", "imp_fl_oz"), "cwt": ("us_cwt", "imp_cwt"),
}  # fmt: skip

_TWO_READINGS: Final[dict[str, str]] = {
    "ton": "short_ton (2000 lb), long_ton (2240 lb) or tonne (1000 kg)",
    "oz": "oz_weight (1/16 lb) or fl_oz (fluid)",
    "bag": "bag(50 lb) or bag(80000 seeds): a bag needs its weight or its count",
    "bu": "bu(56 lb), bu(60 lb) ...: a bushel needs its weight",
    "unit": "unit(80000 seeds): a unit needs its count of seeds",
}
_OXIDE_OR_ELEMENT: Final = {
    "P": "P2O5 (oxide, as on a fertiliser label) or P_element (elemental phosphorus)",
    "K": "K2O (oxide, as on a fertiliser label) or K_element (elemental potassium)",
}

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_SIZED = re.compile(r"(bag|bu|unit)\s*\(\s*([^()]+?)\s*\)")
_LONGEST_TEXT = 80
# Beyond these no quantity of a field pass lies, and a float or a count of steps could overflow.
LARGEST_NUMBER: Final = 10**15
_SMALLEST_NUMBER = Fraction(1, 10**15)


def parse_unit(text: str, dialect: Dialect = _NO_PLACE) -> Unit:
    """Read a unit such as ``gal/ac``, ``lb N/ac``, ``bu(56 lb)/ac`` or ``%``.

    Raises
    ------
    UnitError
        Unknown, or read in two ways by people; the message names the readings.
    """
    word = re.sub(r"\s*/\s*", "/", " ".join(text.split()))
    if not word or len(word) > _LONGEST_TEXT:
        raise UnitError(f"{visible(text[:_LONGEST_TEXT])!r} is not a unit.", remedy=_unit_help())
    whole = _simple(word, dialect)
    if whole is not None:
        return whole
    top, slash, bottom = word.rpartition("/")
    if not slash:
        raise UnitError(f"The unit {word!r} is not known.", remedy=f"{_meant(word)}{_unit_help()}")
    upper, lower = parse_unit(top, dialect), parse_unit(bottom, dialect)
    if "/" in upper.kind or "/" in lower.kind or lower.of:
        raise UnitError(f"The unit {word!r} has too many parts.", remedy=_unit_help())
    kind = f"{upper.kind}/{lower.kind}"
    kind = "speed" if kind == "length/time" else kind
    return Unit(f"{upper.name}/{lower.name}", kind, upper.factor / lower.factor, upper.of)


def amount_unit(unit: Unit) -> Unit:
    """Return the unit of a total: gallons for a unit named ``gal/ac``, as that unit means them.

    Raises
    ------
    UnitError
        The unit was not made by :func:`parse_unit`.
    """
    # Only units = "us" lets a unit be named gal, qt, pt, fl_oz or cwt, so the name alone says what it is.
    return parse_unit(unit.amount, Dialect("us"))


def parse_measure(
    text: object, *, kinds: Iterable[str], dialect: Dialect = _NO_PLACE, what: str = "quantity"
) -> Measure:
    """Read a quantity written as text with its unit, such as ``"18 gal/ac"`` or ``"60 ft"``.

    Parameters
    ----------
    text : object
        What the plan says. Anything but text with a unit is refused: a bare number hides its unit.
    kinds : iterable of str
        The kinds that are accepted, as in :class:`Unit`.

    Raises
    ------
    UnitError
        No number, no unit, an unknown or two-faced unit, or one of another kind.
    """
    wanted = tuple(kinds)
    example = _example(wanted)
    if isinstance(text, bool) or not isinstance(text, int | float | str):
        raise UnitError(f"{text!r} is not a {what}.", remedy=f"Write text with a unit, such as {example}.")
    if not isinstance(text, str):
        raise UnitError(f"{text!r} has no unit.", remedy=f"Write it as text with its unit, such as {example}.")
    number, rest = number_and_rest(text, what=what, example=example)
    if not rest:
        raise UnitError(f"{text!r} has no unit.", remedy=f"Write the unit behind the number, such as {example}.")
    unit = parse_unit(rest, dialect)
    if unit.kind not in wanted:
        raise UnitError(f"{text!r} is a {unit.kind}; a {' or '.join(wanted)} is needed.", remedy=f"Write {example}.")
    return Measure(number, unit)


def number_and_rest(text: str, *, what: str, example: str) -> tuple[Fraction, str]:
    """Split a quantity into its number and the text behind it, which may be empty.

    Parameters
    ----------
    what, example : str
        What it should be, and how it is written, for the error.

    Raises
    ------
    UnitError
        No number, one with a comma or in parts, or one beyond any in a field.
    """
    trimmed = text.strip()
    # Checked before the number is read: Python itself refuses a number of thousands of digits.
    if len(trimmed) > _LONGEST_TEXT:
        raise UnitError(f"{trimmed[:_LONGEST_TEXT]!r}... is too long for a {what}.", remedy=f"Write it like {example}.")
    match = _NUMBER.match(trimmed)
    if match is None:
        raise UnitError(f"{text!r} does not start with a number.", remedy=f"Write it like {example}.")
    rest = trimmed[match.end() :].strip()
    if re.match(r"/\s*[0-9]", rest):
        raise UnitError(f"{text!r} has a fraction.", remedy="Write it with a decimal point, as 0.5 for 1/2.")
    if rest[:1] == ",":
        raise UnitError(
            f"{text!r} has a comma, read by some as a decimal mark and by others as thousands.",
            remedy="Write the decimal mark as a point and no separator between thousands.",
        )
    if rest[:1].isdigit() or rest[:1] in {".", "_", "'", "’"}:
        raise UnitError(
            f"{text!r} has a number in several parts.", remedy="Write the number in one piece, as 32000 or 7.5."
        )
    number = Fraction(match.group())
    if number and not _SMALLEST_NUMBER <= abs(number) <= LARGEST_NUMBER:
        raise UnitError(f"{text!r} is beyond any {what} in a field.", remedy="Check the number and its exponent.")
    return number, rest


def convert(value: Fraction, source: Unit, target: Unit) -> Fraction:
    """Convert between two units of the same kind and of the same thing, exactly.

    Raises
    ------
    UnitError
        The kinds differ: a density, an analysis or a seed count would be needed.
    """
    if source.kind != target.kind or source.of != target.of:
        raise UnitError(
            f"{source.name} can't be turned into {target.name} by units alone.",
            remedy="Give the product's density, analysis or seeds_per, or use a unit of the same kind.",
        )
    return value * source.factor / target.factor


def decimals_needed(*values: Fraction, most: int = 9) -> int:
    """Count the decimals that write every value exactly; ``most`` where one never ends."""
    for decimals in range(most):
        if all((value * 10**decimals).denominator == 1 for value in values):
            return decimals
    return most


@lru_cache(maxsize=4096)  # a map has few rates, and each is written many times
def number_text(value: Fraction, most: int = 9) -> str:
    """Write a number in decimals without trailing zeros: ``7.5``, ``18``, ``0.333333333``."""
    decimals = decimals_needed(value, most=most)
    scaled = value * 10**decimals
    whole = (abs(scaled.numerator) * 2 + scaled.denominator) // (2 * scaled.denominator)  # half away from zero
    digits = str(whole).rjust(decimals + 1, "0")
    sign = "-" if value < 0 and whole else ""
    return sign + (f"{digits[:-decimals]}.{digits[-decimals:]}".rstrip("0").rstrip(".") if decimals else digits)


def _simple(word: str, dialect: Dialect) -> Unit | None:
    """Return a unit without a slash (or one whose usual name has one), or None."""
    sized = _SIZED.fullmatch(word)
    if sized:
        return _sized(sized.group(1), sized.group(2), dialect)
    name = _ALIASES.get(word, word)
    if name in _TWO_READINGS:
        raise UnitError(f"{word!r} is used for several things.", remedy=f"Write {_TWO_READINGS[name]}.")
    if name in _US_WORDS:
        us, imperial = _US_WORDS[name]
        if dialect.system != "us":
            raise UnitError(
                f"{word!r} is a US or an imperial measure.",
                remedy=f'Write {us} or {imperial}, or say units = "us" at the top of the plan.',
            )
        return Unit(name, _SIMPLE[us].kind, _SIMPLE[us].factor)
    if name == "ac":
        return Unit("ac", "area", SURVEY_ACRE_M2 if dialect.acre == "us_survey" else ACRE_M2)
    if name == "live_seeds":
        return Unit("live_seeds", "count", Fraction(1), "live seed")
    if name in _SIMPLE:
        return Unit(name, _SIMPLE[name].kind, _SIMPLE[name].factor)
    return _nutrient(word, dialect)


def _nutrient(word: str, dialect: Dialect) -> Unit | None:
    mass, space, nutrient = word.rpartition(" ")
    if not space or "/" in word:
        return None
    if nutrient in _OXIDE_OR_ELEMENT:
        raise UnitError(
            f"{word!r} does not say element or oxide.",
            remedy=f"Write {mass} {_OXIDE_OR_ELEMENT[nutrient].replace(' or ', f' or {mass} ')}.",
        )
    if nutrient not in NUTRIENTS:
        return None
    unit = parse_unit(mass, dialect)
    if unit.kind != "mass" or unit.of:
        raise UnitError(f"{word!r}: a nutrient is a mass.", remedy=f"Write lb {nutrient} or kg {nutrient}.")
    return Unit(f"{unit.name} {nutrient}", "mass", unit.factor, nutrient)


def _sized(word: str, size: str, dialect: Dialect) -> Unit:
    kinds = {"bag": ("mass", "count"), "bu": ("mass",), "unit": ("count",)}[word]
    inner = parse_measure(size, kinds=kinds, dialect=dialect, what="size")
    if not inner.value > 0:
        raise UnitError(f"{word}({size}) has no size above 0.", remedy=f"Write {_TWO_READINGS[word]}.")
    if inner.unit.of:
        raise UnitError(
            f"{word}({size}) is sized by its {inner.unit.of}, not by its contents.",
            remedy=f"Write {_TWO_READINGS[word]}.",
        )
    return Unit(f"{word}({inner})", inner.unit.kind, inner.si)


def oxide_or_element(nutrient: str) -> str:
    """Return the two readings of ``P`` or ``K``, or an empty text for a nutrient that says which it is."""
    return _OXIDE_OR_ELEMENT.get(nutrient, "")


_EXAMPLES: Final = {
    "length": '"60 ft" or "18 m"', "area": '"0.1 ac" or "400 m2"', "share": '"4 %"', "speed": '"5 mph"',
    "volume/area": '"12 gal/ac" or "110 L/ha"', "mass/area": '"150 lb/ac" or "170 kg/ha"',
    "count/area": '"32000 seeds/ac"', "mass/volume": '"10.6 lb/gal" or "1.27 kg/L"', "volume": '"900 gal"',
    "mass": '"20 short_ton" or "5 tonne"', "count": '"80000 seeds"', "count/mass": '"2800 seeds/lb"',
    "time": '"5 s"', "angle": '"85 deg"', "volume/time": '"12 gal/min" or "45 L/min"',
    "mass/time": '"40 lb/min" or "18 kg/min"', "count/time": '"14 seeds/s"',
}  # fmt: skip


def _example(kinds: tuple[str, ...]) -> str:
    return next((_EXAMPLES[kind] for kind in kinds if kind in _EXAMPLES), '"12 gal/ac"')


# Met in the trade, and too short to be guessed from their letters.
_MET: Final = {"A": "ac", "gpa": "gal/ac", "gpm": "gal/min"}


def _meant(word: str) -> str:
    """Say which unit was probably meant, or nothing: ``LB``, ``lb per ac`` and ``bags(50 lb)`` are met."""
    if word in _MET:
        return f'Did you mean "{_MET[word]}"? '
    per, times = re.subn(r"\s+per\s+", "/", word)
    if times:
        return f'Did you mean "{per}"? '
    sized = re.fullmatch(r"(bag|bu|unit)s?(\s*\(.*\))", word, re.IGNORECASE)
    if sized:
        return f'Did you mean "{sized[1].lower()}{sized[2]}"? '
    return nearest(word, {**_SIMPLE, **_ALIASES, **_US_WORDS, "ac": None, "live_seeds": None})


def _unit_help() -> str:
    return (
        "Use ft, in, m, ac, ha, gal, qt, pt, fl_oz, L, mL, lb, oz_weight, short_ton, kg, g, tonne, seeds, "
        "thousand_seeds, unit(80000 seeds), bag(50 lb), bu(56 lb), %, or two of them with a slash, as gal/ac."
    )


def area_text(area_m2: float, dialect: Dialect) -> str:
    """Return an area as people read it, in both units, their own first; a small one in m2 and ft2.

    Examples
    --------
    >>> area_text(3600, Dialect("metric")), area_text(3600, Dialect("us")), area_text(12, Dialect("us"))
    ('0.3600 ha (0.890 ac)', '0.890 ac (0.3600 ha)', '129.2 ft2 (12.00 m2)')
    """
    if area_m2 < 100:
        metric, us = f"{area_m2:.2f} m2", f"{area_m2 / float(FOOT_M**2):,.1f} ft2"
    else:
        acre_m2 = float(SURVEY_ACRE_M2 if dialect.acre == "us_survey" else ACRE_M2)
        metric, us = f"{area_m2 / float(HECTARE_M2):,.4f} ha", f"{area_m2 / acre_m2:,.3f} ac"
    return _own_first(metric, us, dialect)


def length_text(length_m: float, dialect: Dialect) -> str:
    """Return a length as people read it, in both units, their own first: ``18.00 m (59.1 ft)``."""
    return _own_first(f"{length_m:.2f} m", f"{length_m / float(FOOT_M):.1f} ft", dialect)


def _own_first(metric: str, us: str, dialect: Dialect) -> str:
    return f"{us} ({metric})" if dialect.system == "us" else f"{metric} ({us})"


def amount_text(amount: float, *, sign: bool = False) -> str:
    """Return an amount as people read it, never as a power of ten: ``1,147.5``, ``0.03125``, ``2,380,000``.

    Parameters
    ----------
    sign : bool
        Write ``+`` before what is not below 0.
    """
    return _float_text(amount, amount_decimals(amount), "+," if sign else ",")


def rate_number_text(rate: float) -> str:
    """Return a wanted rate as a plan writes it, with six digits or all of a whole number: ``151.25``, ``32000``."""
    return _float_text(rate, amount_decimals(rate, 6), "")


def amount_decimals(amount: float, digits: int = 4) -> int:
    """Count the decimals with which an amount shows so many digits, one at least up to 10,000."""
    size = abs(amount)
    if size == 0:
        return 0
    return min(9, max(1 if size < 10_000 else 0, digits - 1 - floor(log10(size))))


def _float_text(value: float, decimals: int, style: str) -> str:
    text = f"{round(value, decimals) + 0.0:{style}.{decimals}f}"  # + 0.0: no "-0"
    return text.rstrip("0").rstrip(".") if decimals else text
