"""A product: what goes onto or into the ground, and the rates at which the machine can put it there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cached_property
from math import ceil, floor
from typing import Final, Literal

from pydantic import Field, field_validator, model_validator

from vrx.model.forms import KINDS_OF_FORM, Form
from vrx.model.keys import (
    AmountText,
    DensityText,
    Flag,
    PlanPart,
    RateText,
    Refused,
    SeedCountText,
    SeedWeightText,
    Share,
    refusals,
)
from vrx.model.price import PackageText, PriceText
from vrx.units import NUTRIENTS, Measure, Unit, convert, number_text, oxide_or_element

Use = Literal["seed", "fertiliser", "crop protection", "lime", "other"]
Rounding = Literal["nearest", "up", "down"]
BelowMin = Literal["raise", "half", "off", "refuse"]
AboveMax = Literal["lower", "refuse"]


# Step numbers and their billionths stay well within 64 bits.
_MOST_STEPS: Final = 10**9


class Product(PlanPart):
    """A product with its limits.

    Allowed rates are ``base + n * step`` for ``first <= n <= last``, in the unit of the step; ``n = 0`` is
    off. ``base`` is 0, or ``min - step`` where the steps count from the minimum.
    """

    name: str = Field(min_length=1, max_length=80, description="Its name, as [[rate]] and the drives call it.")
    form: Form = Field(description="What it is made of.")
    use: Use = Field(description="What it is for.")
    min: RateText = Field(description="The lowest rate that the product and the machine can do.")
    max: RateText = Field(description="The highest rate that the product and the machine can do.")
    step: RateText = Field(description="The smallest change of rate that the machine can make.")
    step_from: Literal["zero", "min"] = Field("zero", description="Where the steps are counted from.")
    rounding: Rounding = Field("nearest", description="Which allowed rate a wanted one goes to.")
    below_min: BelowMin = Field(
        "raise", description="A rate under min: raised to it, off where under half of it, off, or refused."
    )
    above_max: AboveMax = Field("lower", description="A rate over max: lowered to it, or refused.")
    off_allowed: Flag = Field(True, description="Whether the machine can shut it off.")
    default: RateText | None = Field(
        None, description="Inside the field where the map says nothing; off unless said, or the lowest rate."
    )
    outside: RateText | None = Field(
        None,
        description="Beyond the boundary; 0 unless said: a machine that can't shut it off is lifted there.",
    )
    no_position: RateText | None = Field(None, description="Signal lost; `default` unless said.")
    hand_rates: tuple[RateText, ...] = Field((), description="Rates that the operator may pick.")
    density: DensityText | None = Field(
        None, description="Mass of a volume, from the label; of a dry product as it lies in the bin."
    )
    analysis: dict[str, Share] = Field(
        default_factory=dict, description="Share of each nutrient by mass.", examples=[{"N": "32 %"}]
    )
    seeds_per: SeedCountText | None = Field(None, description="Seeds in a mass, from the bag; `seeds` may be left out.")
    thousand_seed_weight: SeedWeightText | None = Field(None, description="Mass of a thousand seeds.")
    on_hand: AmountText | None = Field(None, description="How much there is.")
    crops: tuple[str, ...] = Field((), description="Crops that it may go onto.")
    price: PriceText | None = Field(None, description="What it costs, by any amount that converts; 0 is free.")
    package: PackageText | None = Field(
        None, description="What it is sold in: the order is rounded up to whole ones, once for all zones."
    )
    overlap: Share | None = Field(
        None,
        description="What goes on twice where passes overlap; on a line of its own, it raises order and loads.",
        examples=["4 %"],
    )

    @field_validator("analysis")
    @classmethod
    def _known_nutrients(cls, analysis: dict[str, Fraction]) -> dict[str, Fraction]:
        found = [one for nutrient, share in analysis.items() for one in _nutrient_refused(nutrient, share)]
        # Oxides and elements of one analysis may overlap in name, but never add up to more than the whole.
        if not found and sum(analysis.values()) > 1:
            found.append(
                Refused((), "The nutrients add up to more than 100 % of the product.", "Check the label's analysis.")
            )
        if found:
            raise refusals(found)
        return analysis

    @model_validator(mode="after")
    def _consistent(self) -> Product:
        # Each look at the rates needs what the one before it made sure of.
        for look in (self._kinds_refused, self._limits_refused, self._rates_refused):
            found = list(look())
            if found:
                break
        found += [*self._weights_refused(), *self._order_refused()]
        if found:
            raise refusals(found)
        return self

    def _kinds_refused(self) -> Iterator[Refused]:
        unit = self.unit
        if unit.of:
            yield Refused(
                ("step",),
                f"The product's step is in {unit.name}: that is a nutrient, not a product."
                if unit.of in NUTRIENTS
                else f"The product's step is in {unit.name}: a machine counts seed dropped, not live seed.",
                f"Give min, max and step as the machine counts product, such as "
                f"{unit.name.replace(' ' + unit.of, '').replace('live_', '')}; wanted rates may be in {unit.name}.",
            )
            return
        if unit.kind not in KINDS_OF_FORM[self.form]:
            yield Refused(
                ("step",),
                f"A {self.form} product is not metered in {unit.name}.",
                f"Use a {' or '.join(KINDS_OF_FORM[self.form])} unit, or another form.",
            )
        for at, rate in self._said():
            if (rate.unit.kind, rate.unit.of) != (unit.kind, unit.of):
                yield Refused(
                    at,
                    f"{at[0]} = {rate} is not the same kind of rate as step = {self.step}.",
                    f"Give it in {unit.name}.",
                )

    def _limits_refused(self) -> Iterator[Refused]:
        sound = self.step.value > 0
        if not sound:
            yield Refused(
                ("step",), f"step = {self.step} is not above 0.", "Give the smallest change the machine can make."
            )
        if self.lowest < 0 or self.highest < self.lowest:
            yield Refused(
                ("min",) if self.lowest < 0 else ("max",),
                f"min = {self.min} and max = {self.max} leave no rate.",
                "Give 0 <= min <= max.",
            )
        elif sound and self.last < self.first:
            yield Refused(
                ("step",),
                f"No allowed rate: no multiple of {self.step} lies between {self.min} and {self.max}.",
                'Change min, max or step, or count the steps from the minimum with step_from = "min".',
            )
        elif sound and self.highest > _MOST_STEPS * self.step.value:
            yield Refused(
                ("step",),
                f"step = {self.step} is too small for max = {self.max}.",
                "Give the step that the machine makes.",
            )

    def _rates_refused(self) -> Iterator[Refused]:
        if self.lowest == 0 and not self.off_allowed:
            yield Refused(
                ("min",), "min = 0 and off_allowed = false disagree.", "Give the lowest rate at which it runs."
            )
        for at, rate in self._said():
            if at[0] not in ("min", "max") and self.number_of(self.in_unit(rate)) is None:
                yield Refused(
                    at, f"{at[0]} = {rate} is not a rate that the machine can hold.", f"Use {self.allowed_text}."
                )

    def _weights_refused(self) -> Iterator[Refused]:
        if self.seeds_per is not None and self.thousand_seed_weight is not None:
            yield Refused(
                ("thousand_seed_weight",),
                "seeds_per and thousand_seed_weight both say how heavy the seed is.",
                "Keep one of them.",
            )
        for key in ("density", "seeds_per", "thousand_seed_weight", "package", "on_hand"):
            given: Measure | None = getattr(self, key)
            if given is not None and given.unit.of:
                yield Refused(
                    (key,),
                    f"{key} = {given} counts {given.unit.of}, not the product.",
                    f"Give {key} of the product as it goes into the machine.",
                )
            elif given is not None and (given.value < 0 or (given.value == 0 and key != "on_hand")):
                remedy = "Give what is in the shed, or 0." if key == "on_hand" else "Read it from the label."
                yield Refused((key,), f"{key} = {given} is not above 0.", remedy)

    def _order_refused(self) -> Iterator[Refused]:
        if self.price is not None and self.price.value < 0:
            yield Refused(("price",), f"price = {self.price} is below 0.", "Give what it costs; 0 where it is free.")
        if self.overlap is not None and not 0 <= self.overlap < 1:
            yield Refused(
                ("overlap",),
                f"overlap = {number_text(self.overlap * 100)} % is no share of the ground that is gone over twice.",
                "Write 0 % or more, and less than 100 %.",
            )

    def _said(self) -> Iterator[tuple[tuple[str | int, ...], Measure]]:
        """Give every rate beside the step, with its key."""
        for key in ("min", "max", "default", "outside", "no_position"):
            rate: Measure | None = getattr(self, key)
            if rate is not None:
                yield (key,), rate
        for at, rate in enumerate(self.hand_rates):
            yield ("hand_rates", at), rate

    @property
    def unit(self) -> Unit:
        """The unit in which the machine steps."""
        return self.step.unit

    def in_unit(self, rate: Measure) -> Fraction:
        """Return a rate of the same kind in the unit of the step, exactly."""
        return convert(rate.value, rate.unit, self.unit)

    @cached_property
    def lowest(self) -> Fraction:
        """``min`` in the unit of the step, exactly."""
        return self.in_unit(self.min)

    @cached_property
    def highest(self) -> Fraction:
        """``max`` in the unit of the step, exactly."""
        return self.in_unit(self.max)

    @cached_property
    def base(self) -> Fraction:
        """Where step numbers count from: the rate that number 0 would have."""
        return Fraction(0) if self.step_from == "zero" else self.lowest - self.step.value

    @cached_property
    def first(self) -> int:
        """The number of the lowest allowed rate above 0."""
        if self.step_from == "min":
            return 1 if self.lowest > 0 else 2
        return max(1, ceil(self.lowest / self.step.value))

    @cached_property
    def last(self) -> int:
        """The number of the highest allowed rate."""
        return floor((self.highest - self.base) / self.step.value)

    def rate_of(self, number: int) -> Fraction:
        """Return the rate of a step number, in the unit of the step; 0 is off."""
        return self.base + number * self.step.value if number else Fraction(0)

    def number_of(self, rate: Fraction) -> int | None:
        """Return the step number of a rate in the unit of the step, or None where the rate is not allowed."""
        if rate == 0:
            return 0 if self.off_allowed else None
        number = (rate - self.base) / self.step.value
        return int(number) if number.denominator == 1 and self.first <= number <= self.last else None

    def number_where(self, key: Literal["default", "outside", "no_position"]) -> int:
        """Return the step number that holds where the map has no say.

        Where nothing is said: beyond the boundary 0, where a machine that can't shut off is lifted; within it off,
        or the lowest allowed rate of a product that can't be shut off.
        """
        rate: Measure | None = getattr(self, key)
        if rate is None and key == "no_position":
            rate = self.default
        if rate is None:
            return 0 if self.off_allowed or key == "outside" else self.first
        number = self.number_of(self.in_unit(rate))
        if number is None:  # can't be: _rates_refused looked when the product was made
            raise ValueError(f"{key} of {self.name!r} is not an allowed rate")
        return number

    @property
    def allowed_text(self) -> str:
        """Return the allowed rates in words: ``0, or 8 to 26 gal/ac in steps of 1``."""
        low, high = number_text(self.rate_of(self.first)), number_text(self.rate_of(self.last))
        span = f"{low} to {high} {self.unit.name} in steps of {number_text(self.step.value)}"
        return f"0, or {span}" if self.off_allowed else span

    def rate_text(self, number: int) -> str:
        """Return a step number as people read it: ``18 gal/ac``."""
        return f"{number_text(self.rate_of(number))} {self.unit.name}"


def currencies_refused(products: Sequence[Product]) -> Iterator[Refused]:
    """Give every price in another currency than the first: vrx exchanges none."""
    priced = [(at, one.price) for at, one in enumerate(products) if one.price is not None]
    for at, price in priced:
        first = priced[0][1].currency
        if price.currency != first:
            yield Refused(
                ("product", at, "price"),
                f"price = {price} is in another currency than {first}, in which an earlier product has its price.",
                f"Give every price of a plan in one currency: none is exchanged. Use {first}, or change the others.",
            )


def _nutrient_refused(nutrient: str, share: Fraction) -> Iterator[Refused]:
    readings = oxide_or_element(nutrient)
    if readings:
        yield Refused((nutrient,), f"{nutrient!r} does not say element or oxide.", f"Write {readings}.")
    elif nutrient not in NUTRIENTS:
        yield Refused((nutrient,), f"{nutrient!r} is not a nutrient that vrx knows.", f"Use {', '.join(NUTRIENTS)}.")
    if not 0 < share <= 1:
        yield Refused(
            (nutrient,),
            f"{nutrient} = {number_text(share * 100)} % is not a share of the product.",
            "Write a share above 0 and at most 100 %.",
        )
