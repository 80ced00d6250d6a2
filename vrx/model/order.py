"""The order: what to have of a product for the whole pass, and what that costs."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from vrx.model.price import Price
from vrx.units import Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to have of a product, stock included: ``prescribed + overlap + rounding = to_order``, in one unit of amount.

    Attributes
    ----------
    unit : str
        The product's own unit of amount, ``gal`` for ``gal/ac``.
    prescribed : Fraction
        What the map gives: the total of the ledger.
    overlap_share, overlap : Fraction
        What goes on twice where passes overlap, as a share of the prescribed and as an amount.
    package : Measure or None
        What it is sold in, as the plan says.
    packages : int
        Whole packages that hold the prescribed and the overlap; 0 where there are no packages.
    to_order : Fraction
        With packages what they hold, else prescribed and overlap.
    price : Price or None
        As the plan says.
    each : Fraction or None
        What one ``unit`` costs, in the currency of the price; exactly.
    """

    unit: str
    prescribed: Fraction
    overlap_share: Fraction
    overlap: Fraction
    package: Measure | None
    packages: int
    to_order: Fraction
    price: Price | None
    each: Fraction | None

    @property
    def is_said(self) -> bool:
        """Whether the plan says anything that makes the order more than the total of the map."""
        return bool(self.overlap_share) or self.package is not None or self.price is not None

    @property
    def needed(self) -> Fraction:
        """What goes onto the field: prescribed and overlap."""
        return self.prescribed + self.overlap

    @property
    def rounding(self) -> Fraction:
        """What whole packages hold beyond what is needed."""
        return self.to_order - self.needed

    def cost(self, amount: Fraction | float) -> Fraction | None:
        """Return what an amount costs; None where there is no price."""
        return None if self.each is None else Fraction(amount) * self.each
