"""Whether every amount that a plan names converts into the unit of its product."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from vrx.dosing.cost import package_size, price_of_one
from vrx.dosing.loads import filled_box, in_product
from vrx.errors import Problems, VrxError
from vrx.inputs.plan_text import key_text
from vrx.model.box import Box
from vrx.model.keys import KeyPath
from vrx.model.plan import Plan
from vrx.model.product import Product


def amounts_must_convert(plan: Plan) -> None:
    """Refuse prices, packages, stock and boxes in units that do not convert into those of their products.

    Raises
    ------
    Problems
        All of them, each with its key.
    """
    products = {product.name: product for product in plan.product}
    errors: list[VrxError] = []
    for at, product in enumerate(plan.product):
        errors += _of_product(("product", at), product)
    for at, box in enumerate(plan.machine.tank):
        if box.product in products:  # else a shared product that is no part of this pass
            errors += _of_box(("machine", "tank", at), box, products[box.product])
    if errors:
        raise Problems(errors)


def _of_product(at: KeyPath, product: Product) -> Iterator[VrxError]:
    yield from _tried((*at, "price"), partial(price_of_one, product))
    yield from _tried((*at, "package"), partial(package_size, product))
    if product.on_hand is not None:
        yield from _tried((*at, "on_hand"), partial(in_product, product.on_hand, product))


def _of_box(at: KeyPath, box: Box, product: Product) -> Iterator[VrxError]:
    amounts = {"size": box.size, "keep_back": box.keep_back, "most_weight": box.most_weight}
    found = [
        err
        for key, amount in amounts.items()
        if amount is not None
        for err in _tried((*at, key), partial(in_product, amount, product))
    ]
    yield from found or _tried((*at, "keep_back"), partial(filled_box, box, product))


def _tried(key: KeyPath, convert: Callable[[], object]) -> Iterator[VrxError]:
    try:
        convert()
    except VrxError as err:
        yield err.at(key_text(key), key)
