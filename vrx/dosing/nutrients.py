"""What an amount of product brings of a nutrient."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from vrx.dosing.conversion import amount_in_product, other_form
from vrx.units import Unit

if TYPE_CHECKING:
    from vrx.model.product import Product


def carries(product: Product, nutrient: str) -> bool:
    """Tell whether a product's analysis has a nutrient, be it as oxide or as element."""
    return nutrient in product.analysis or other_form(nutrient) in product.analysis


def nutrient_in(amount: float, product: Product, unit: Unit) -> float:
    """Return what an amount of product brings of a nutrient; 0 where the product does not carry it.

    Parameters
    ----------
    amount : float
        In the product's own unit of amount, such as gal.
    unit : Unit
        A mass of a nutrient, ``lb N``: what is returned is in it.

    Raises
    ------
    UnitError
        A density is missing.
    """
    if not carries(product, unit.of):
        return 0.0
    return float(Fraction(amount) / amount_in_product(unit, product))
