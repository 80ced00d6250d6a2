"""Flow: what a pump, a meter or an outlet has to give at a rate, a speed and a width, exactly.

Source: algebra. A strip of ground grows by speed times width each second, and gets the rate on each square metre.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from vrx.dosing.amounts import amount_per_m2
from vrx.dosing.conversion import amount_in_product
from vrx.errors import UnitError
from vrx.units import FLOW_KINDS, Unit

if TYPE_CHECKING:
    from vrx.model.product import Product


def flow_si(rate_si: Fraction, speed_m_s: Fraction, width_m: Fraction) -> Fraction:
    """Return the flow onto a strip of ground.

    Parameters
    ----------
    rate_si : Fraction
        In m3/m2, kg/m2 or a count a m2.
    speed_m_s, width_m : Fraction

    Returns
    -------
    Fraction
        In m3/s, kg/s or a count a second, as the rate is.
    """
    return rate_si * speed_m_s * width_m


def rate_for(flow_si: Fraction, speed_m_s: Fraction, width_m: Fraction) -> Fraction:
    """Return the rate that a flow makes on a strip, in m3/m2, kg/m2 or a count a m2.

    Raises
    ------
    UnitError
        Speed or width is not above 0: nothing is gone over.
    """
    covered = speed_m_s * width_m
    if not (speed_m_s > 0 and width_m > 0):
        raise UnitError("At no speed or no width no ground is gone over.", remedy="Give both above 0.")
    return flow_si / covered


def speed_for(flow_si: Fraction, rate_si: Fraction, width_m: Fraction) -> Fraction:
    """Return the speed at which a flow makes a rate on a strip, in m/s.

    Raises
    ------
    UnitError
        Rate or width is not above 0: no speed is the right one.
    """
    if not (rate_si > 0 and width_m > 0):
        raise UnitError("No speed makes a rate of 0, or any on no width.", remedy="Give both above 0.")
    return flow_si / (rate_si * width_m)


def flow_factor(product: Product, unit: Unit) -> Fraction:
    """Return the flow in a unit at a rate of 1, in the unit of the product's step, at 1 m/s on a width of 1 m.

    Any flow is this times rate, speed in m/s and width in m, and the other way round.

    Parameters
    ----------
    product : Product
        Its density turns a volume into a mass, its ``seeds_per`` or ``thousand_seed_weight`` a count into one.
    unit : Unit
        A volume, mass or count in a time: of the product, or of a nutrient in it.

    Raises
    ------
    UnitError
        Not a flow, or a figure of the product is missing; the message names it.
    """
    # One of the amount that flows, in the product's own unit of amount: gallons for a product in gal/ac.
    each = amount_in_product(_in_a_second(unit), product)
    return amount_per_m2(product.unit) / each


def flow_of(product: Product, rate: Fraction, speed_m_s: Fraction, width_m: Fraction, unit: Unit) -> Fraction:
    """Return the flow of a product onto a strip, in a unit of one's own.

    Parameters
    ----------
    rate : Fraction
        In the unit of the product's step.
    unit : Unit
        As in :func:`flow_factor`.

    Raises
    ------
    UnitError
        As in :func:`flow_factor`.

    Examples
    --------
    20 gal/ac at 6 mph from nozzles 20 in apart:

    >>> float(flow_of(product, Fraction(20), mph(6), inches(20), gal_min))  # doctest: +SKIP
    0.40404040404040403
    """
    return rate * speed_m_s * width_m * flow_factor(product, unit)


def rate_of_flow(product: Product, flow: Fraction, unit: Unit, speed_m_s: Fraction, width_m: Fraction) -> Fraction:
    """Return the rate that a flow in some unit makes, in the unit of the product's step.

    Raises
    ------
    UnitError
        As in :func:`flow_factor`; or speed or width is not above 0.
    """
    return rate_for(flow / flow_factor(product, unit), speed_m_s, width_m)


def speed_of_flow(product: Product, flow: Fraction, unit: Unit, rate: Fraction, width_m: Fraction) -> Fraction:
    """Return the speed in m/s at which a flow in some unit makes a rate in the unit of the product's step.

    Raises
    ------
    UnitError
        As in :func:`flow_factor`; or rate or width is not above 0.
    """
    return speed_for(flow / flow_factor(product, unit), rate, width_m)


def _in_a_second(unit: Unit) -> Unit:
    """Return what a flow of 1 brings in a second as a unit of amount: a sixtieth of a pound for ``lb/min``."""
    if unit.kind not in FLOW_KINDS:
        raise UnitError(f"{unit.name} is not a flow.", remedy='Give a unit such as "gal/min", "kg/min" or "seeds/s".')
    return Unit(unit.amount, unit.kind.partition("/")[0], unit.factor, unit.of)
