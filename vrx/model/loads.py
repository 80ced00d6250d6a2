"""The loads: how often the boxes of a product are filled, and how far."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledBox:
    """A box that carries the product; amounts in the product's own unit.

    Attributes
    ----------
    drives : tuple of str
        The drives that it feeds; empty where the plan does not say.
    full : Fraction
        What it may hold: its size, or less where its weight is limited.
    by_weight : bool
        Whether the weight limits it.
    keep_back : Fraction
        What stays in it.
    share : Fraction
        Its share of what the product's boxes put out.
    """

    drives: tuple[str, ...]
    full: Fraction
    by_weight: bool
    keep_back: Fraction
    share: Fraction

    def lasts(self) -> Fraction:
        """Return what all boxes have put out when this one is empty."""
        return (self.full - self.keep_back) / self.share

    def fill_to(self, load: Fraction) -> Fraction:
        """Return to where it is filled for a load of all boxes."""
        return self.keep_back + self.share * load


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Loads alike, one after the other: the first and last of their numbers, and what each puts out."""

    first: int
    last: int
    amount: Fraction

    @property
    def numbers(self) -> str:
        """The numbers of the loads in words: ``1 to 3``."""
        return f"{self.first}" if self.first == self.last else f"{self.first} to {self.last}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Whole loads and a last part load that put out what a pass needs.

    Attributes
    ----------
    unit : str
        The product's own unit of amount.
    needed : Fraction
        Prescribed and overlap.
    each : Fraction
        What all boxes put out in a whole load: until the first of them is empty.
    whole : int
        Whole loads.
    last : Fraction
        What the last part load puts out; 0 where whole loads do.
    treated_m2 : float
        The ground that gets some.
    by_width : bool
        Whether shares are those of the drives' width; else all boxes have equal ones.
    boxes : tuple of FilledBox
        In the order of the plan.
    """

    unit: str
    needed: Fraction
    each: Fraction
    whole: int
    last: Fraction
    treated_m2: float
    by_width: bool
    boxes: tuple[FilledBox, ...]

    @property
    def count(self) -> int:
        """How many loads there are, the last part load among them."""
        return self.whole + (self.last > 0)

    @property
    def fills(self) -> tuple[Fill, ...]:
        """The whole loads, and the last part load."""
        whole = (Fill(first=1, last=self.whole, amount=self.each),) if self.whole else ()
        return (*whole, Fill(first=self.count, last=self.count, amount=self.last)) if self.last else whole

    @property
    def first_empty(self) -> tuple[int, ...]:
        """The boxes that are empty first; all of them where they are empty at once."""
        return tuple(at for at, box in enumerate(self.boxes) if box.lasts() == self.each)

    @property
    def stays(self) -> Fraction:
        """What stays in the boxes in the end."""
        return sum((box.keep_back for box in self.boxes), Fraction(0)) if self.count else Fraction(0)

    def area_m2(self, load: Fraction) -> float:
        """Return the ground that a load covers at the average rate of the ground that gets some."""
        return self.treated_m2 * float(load / self.needed) if self.needed else 0.0
