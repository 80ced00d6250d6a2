"""From what a map gives to what is ordered, and what it costs."""

from __future__ import annotations

from fractions import Fraction

from vrx.dosing.conversion import amount_in_product
from vrx.dosing.counts import wholes_needed
from vrx.model.order import Order
from vrx.model.product import Product


def order_of(prescribed: Fraction, product: Product) -> Order:
    """Work out the order of a product; packages are rounded up here alone, once for the whole pass.

    Parameters
    ----------
    prescribed : Fraction
        The total of the ledger, in the product's own unit of amount.

    Raises
    ------
    UnitError
        The price or the package is in a unit that does not convert.
    """
    share = product.overlap or Fraction(0)
    overlap = prescribed * share
    size = package_size(product)
    packages = wholes_needed(prescribed + overlap, size) if size is not None else 0
    return Order(
        unit=product.unit.amount,
        prescribed=prescribed,
        overlap_share=share,
        overlap=overlap,
        package=product.package,
        packages=packages,
        to_order=prescribed + overlap if size is None else packages * size,
        price=product.price,
        each=price_of_one(product),
    )


def price_of_one(product: Product) -> Fraction | None:
    """Return what one of the product's own unit of amount costs, in the currency of its price; None without one.

    Raises
    ------
    UnitError
        The price is for a unit that does not convert.
    """
    if product.price is None:
        return None
    return product.price.value / amount_in_product(product.price.unit, product)


def package_size(product: Product) -> Fraction | None:
    """Return what a package holds, in the product's own unit of amount; None without packages.

    Raises
    ------
    UnitError
        It is in a unit that does not convert.
    """
    if product.package is None:
        return None
    return product.package.value * amount_in_product(product.package.unit, product)
