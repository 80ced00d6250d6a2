"""Numbers as people read them: areas in the plan's units, amounts, rates and lengths."""

from __future__ import annotations

from fractions import Fraction
from math import isnan
from typing import TYPE_CHECKING, Protocol

from vrx.units import (
    ACRE_M2,
    FOOT_M,
    HECTARE_M2,
    SURVEY_ACRE_M2,
    amount_decimals,
    decimals_needed,
    number_text,
    rate_number_text,
)

if TYPE_CHECKING:  # pydantic is loaded only where a plan or product is
    from vrx.model.plan import Plan
    from vrx.model.product import Product

_LEAST_AREA = 0.0005
# A machine of more rows than this is told in percent.
_MOST_PARTS = 48


class Place(Protocol):
    """What says how people tell areas: a plan, or what stands in for one."""

    @property
    def units(self) -> str:
        """``us`` or ``metric``."""

    @property
    def acre(self) -> str:
        """``international`` or ``us_survey``."""


def area_unit(plan: Place) -> str:
    """Return the unit in which a plan's areas are told: ``ac`` or ``ha``."""
    return "ha" if plan.units == "metric" else "ac"


def area_number(area_m2: float, plan: Place) -> str:
    """Return an area in the plan's unit, to three decimals; ``< 0.001`` for less than would show."""
    area = area_m2 / area_unit_m2(plan)
    return "< 0.001" if 0 < area < _LEAST_AREA else f"{area:,.3f}"


def area_words(area_m2: float, plan: Place) -> str:
    """Return an area with its unit: ``130.852 ac``."""
    return f"{area_number(area_m2, plan)} {area_unit(plan)}"


def signed_area_words(area_m2: float, plan: Plan) -> str:
    """Return a difference of areas with its sign and unit: ``-0.099 ac``."""
    return f"{round(area_m2 / area_unit_m2(plan), 3) + 0.0:+,.3f} {area_unit(plan)}"  # + 0.0: no "-0.000"


def length_words(length_m: float, plan: Place) -> str:
    """Return a length in feet or metres: ``35 ft``, ``10.7 m``."""
    value, unit = (length_m, "m") if plan.units == "metric" else (length_m / float(FOOT_M), "ft")
    return f"{_trimmed(f'{value:,.1f}')} {unit}"


def wanted_number(wanted: float, product: Product) -> str:
    """Return a wanted rate with two decimals more than the product's step has; ``none`` where none is known."""
    if isnan(wanted):
        return "none"
    decimals = len(number_text(product.step.value).partition(".")[2])
    text = _trimmed(f"{wanted:,.{decimals + 2}f}")
    # What was raised to the minimum was not 0.
    return rate_number_text(wanted) if wanted and text in ("0", "-0") else text


def amount_digits(total: float, unit: str) -> int:
    """Return the decimals with which a product's amounts are told."""
    # Millions of seeds need no tenth of one; what is weighed or pumped shows it also beside a large total.
    return max(0 if unit == "seeds" else 1, amount_decimals(total))


def change_number(amount: float, decimals: int) -> str:
    """Return a change with its sign: ``+104.8``."""
    return f"{round(amount, decimals) + 0.0:+,.{decimals}f}"  # + 0.0: no "-0.0"


def money_number(amount: Fraction) -> str:
    """Return money to the hundredth, half away from zero: ``2,282.93``."""
    hundredths = int(abs(amount) * 100 + Fraction(1, 2))
    sign = "-" if amount < 0 and hundredths else ""
    return f"{sign}{hundredths // 100:,}.{hundredths % 100:02d}"


def share_words(part: float, whole: float) -> str:
    """Return a part of a whole in percent: ``12.5 %``."""
    share = 100 * part / whole if whole else 0.0
    return "< 0.1 %" if 0 < share < 0.05 else f"{share:.1f} %"


def share_of_width_words(share: Fraction) -> str:
    """Return a share of the width: ``50 %``, or ``1/3`` where percent would not be exact."""
    percent = share * 100
    exact = decimals_needed(percent) <= 2
    return f"{number_text(percent, most=2)} %" if exact or share.denominator > _MOST_PARTS else str(share)


def area_unit_m2(plan: Place) -> float:
    """Return the size of the unit in which a plan's areas are told."""
    if plan.units == "metric":
        return float(HECTARE_M2)
    return float(SURVEY_ACRE_M2 if plan.acre == "us_survey" else ACRE_M2)


def _trimmed(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text
