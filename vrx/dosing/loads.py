"""Loads: whole ones and a last part load, and how far each box is filled for them.

A box gives out its share of what the product's boxes give together: the share of the working width that its drives
have, or an equal one. All are filled at one stop, so the box that is empty first ends a load. Source: algebra; the
ground that a load covers is the load over the mean rate, weighted by area.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from vrx.dosing.conversion import amount_in_product
from vrx.dosing.counts import wholes_and_rest
from vrx.errors import PlanError
from vrx.model.loads import FilledBox, Loads
from vrx.units import Measure, number_text

if TYPE_CHECKING:
    from vrx.model.box import Box
    from vrx.model.machine import Drive
    from vrx.model.product import Product

# Widths come as floats of metres: inches, feet and millimetres are whole ones of this.
_MICROMETRES: Final = 10**6


def loads_of(
    needed: Fraction, treated_m2: float, boxes: Sequence[Box], drives: Sequence[Drive], product: Product
) -> Loads | None:
    """Work out the loads of a product; None where no box carries it.

    Parameters
    ----------
    needed : Fraction
        What goes onto the field, overlap included, in the product's own unit of amount.
    treated_m2 : float
        The ground that gets some.
    boxes : sequence of Box
        Those that carry the product.
    drives : sequence of Drive
        Of the whole machine.

    Raises
    ------
    UnitError
        A size or weight of a box does not convert into the product's unit.
    PlanError
        A box can put out nothing.
    """
    if not boxes:
        return None
    shares = _shares(boxes, drives)
    filled = tuple(filled_box(box, product, share=share) for box, share in zip(boxes, shares, strict=True))
    each = min(box.lasts() for box in filled)
    whole, last = wholes_and_rest(needed, each)
    return Loads(
        unit=product.unit.amount,
        needed=needed,
        each=each,
        whole=whole,
        last=last,
        treated_m2=treated_m2,
        by_width=all(box.drives for box in boxes),
        boxes=filled,
    )


def filled_box(box: Box, product: Product, *, share: Fraction = Fraction(1)) -> FilledBox:
    """Return what a box holds and keeps, in the product's own unit of amount.

    Raises
    ------
    UnitError
        A size or weight does not convert into the product's unit; PlanError: it can put out nothing.
    """
    size = in_product(box.size, product)
    kept = Fraction(0) if box.keep_back is None else in_product(box.keep_back, product)
    most = size if box.most_weight is None else in_product(box.most_weight, product)
    full = min(size, most)
    if not full > kept:
        raise PlanError(
            f"keep_back = {box.keep_back} leaves nothing to put out: filled with {product.name!r} the box holds "
            f"{number_text(full, most=3)} {product.unit.amount}, of which {number_text(kept, most=3)} stay in it.",
            remedy="Give what can't be put out, less than the box may hold.",
        )
    return FilledBox(drives=box.drives, full=full, by_weight=most < size, keep_back=kept, share=share)


def in_product(amount: Measure, product: Product) -> Fraction:
    """Return an amount in the product's own unit of amount.

    Raises
    ------
    UnitError
        It needs a density or seed weight that the product does not give.
    """
    return amount.value * amount_in_product(amount.unit, product)


def _shares(boxes: Sequence[Box], drives: Sequence[Drive]) -> list[Fraction]:
    widths = {drive.name: _width(drive) for drive in drives}
    of_box = [sum((widths[name] for name in box.drives), Fraction(0)) for box in boxes]
    # The plan lets either every box of a product name its drives, or none.
    whole = sum(of_box)
    return [one / whole for one in of_box] if all(of_box) else [Fraction(1, len(boxes))] * len(boxes)


def _width(drive: Drive) -> Fraction:
    left, right = drive.span
    return Fraction(round((right - left) * _MICROMETRES), _MICROMETRES)
