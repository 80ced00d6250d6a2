"""From the unit in which an agronomist wants a rate to the unit in which the machine steps.

Nutrient turns into product by the analysis, mass into volume by the density, seeds into mass by the seed
count; all of it exactly, and only with figures that the plan gives.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import floor, log10
from typing import TYPE_CHECKING, Final

from vrx.errors import UnitError
from vrx.units import RATE_KINDS, Unit, amount_unit, convert, number_text

if TYPE_CHECKING:
    from vrx.model.product import Product

# Standard atomic weights of IUPAC 2007, with which the printed factors 2.29137 (P to P2O5) and 1.20460
# (K to K2O) come out. From memory.
_OXYGEN: Final = Fraction("15.9994")
_PHOSPHORUS: Final = Fraction("30.973762")
_POTASSIUM: Final = Fraction("39.0983")
P2O5_PER_P: Final = (2 * _PHOSPHORUS + 5 * _OXYGEN) / (2 * _PHOSPHORUS)
K2O_PER_K: Final = (2 * _POTASSIUM + _OXYGEN) / (2 * _POTASSIUM)

# A nutrient and its other form, with the mass of the other form in one mass of the nutrient.
_OTHER_FORM: Final = {
    "P_element": ("P2O5", P2O5_PER_P),
    "P2O5": ("P_element", 1 / P2O5_PER_P),
    "K_element": ("K2O", K2O_PER_K),
    "K2O": ("K_element", 1 / K2O_PER_K),
}
_DIGITS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """How a wanted rate becomes a rate of product.

    Attributes
    ----------
    factor : Fraction
        A rate in the unit wanted times this is the rate in the unit of the step.
    steps : tuple of str
        Sentences that show people what is done to a rate, in figures of the plan, such as
        ``lb N/ac / (28 % N x 10.66 lb/gal) = gal/ac``; empty where nothing changes.
    """

    factor: Fraction
    steps: tuple[str, ...] = ()


def conversion_to_product(source: Unit, product: Product) -> Conversion:
    """Find how rates in a unit become rates in the unit of a product's step.

    Parameters
    ----------
    source : Unit
        A rate per area: of product, of a nutrient, or of seeds.
    product : Product
        With the density, analysis or seed weight that the conversion needs.

    Raises
    ------
    UnitError
        Not a rate, live seed, a nutrient that the product does not carry, or a figure that is missing; the
        message names the product and the key to give.
    """
    _refuse_what_is_no_rate(source, product)
    trail = _Trail()
    kind = source.kind
    if source.of:
        trail.by_analysis(source, product)
    if kind != product.unit.kind:
        trail.to_mass(kind, source, product)
        trail.from_mass(source, product)
    elif not source.of:
        factor = convert(Fraction(1), source, product.unit)
        return _conversion(source, product, factor, "")
    return _conversion(source, product, trail.factor * source.factor / product.unit.factor, trail.text)


def amount_in_product(unit: Unit, product: Product) -> Fraction:
    """Return one of a unit of amount, such as ``lb``, in the product's own, such as ``gal``, exactly.

    Parameters
    ----------
    unit : Unit
        A volume, mass or count: of the product, of a nutrient in it, or of seeds.

    Raises
    ------
    UnitError
        A figure of the product is missing that the conversion needs; the message names it.
    """
    # An amount is turned like a rate on the same ground, and told as an amount.
    per = product.unit.per
    area = amount_unit(product.unit).factor / product.unit.factor
    rate = Unit(f"{unit.name}/{per}", f"{unit.kind}/area", unit.factor / area, unit.of)
    try:
        return conversion_to_product(rate, product).factor
    except UnitError as err:
        raise UnitError(err.problem.replace(f"/{per}", ""), remedy=err.remedy) from err


def other_form(nutrient: str) -> str:
    """Return the oxide of an element, or the element of an oxide: ``K2O`` for ``K_element``; empty for others."""
    return _OTHER_FORM[nutrient][0] if nutrient in _OTHER_FORM else ""


@dataclass(slots=True)
class _Trail:
    """The figures met on the way, and their product in SI units."""

    factor: Fraction = Fraction(1)
    times: list[str] = field(default_factory=list)
    over: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        times = "".join(f" x {part}" for part in self.times)
        below = " x ".join(self.over)
        return (times + (f" / ({below})" if len(self.over) > 1 else f" / {below}" if below else "")).strip()

    def multiply(self, factor: Fraction, text: str) -> None:
        self.factor *= factor
        self.times.append(text)

    def divide(self, factor: Fraction, text: str) -> None:
        self.factor /= factor
        self.over.append(text)

    def by_analysis(self, source: Unit, product: Product) -> None:
        nutrient = source.of
        if nutrient not in product.analysis and nutrient in _OTHER_FORM:
            other, per = _OTHER_FORM[nutrient]
            if other in product.analysis:
                self.multiply(per, f"{_short(per)} {other}/{nutrient}")
                nutrient = other
        share = product.analysis.get(nutrient)
        if share is None:
            carried = ", ".join(product.analysis)
            raise UnitError(
                f"{product.name!r} carries {carried}, not {nutrient}: {source.name} can't be turned into it."
                if carried
                else f"{product.name!r} has no analysis: {source.name} can't be turned into {product.unit.name}.",
                remedy=f'Give the product\'s {nutrient} from its label, as analysis = {{ {nutrient} = "28 %" }}'
                + (", or take a product that carries it." if carried else "."),
            )
        self.divide(share, f"{number_text(share * 100)} % {nutrient}")

    def to_mass(self, kind: str, source: Unit, product: Product) -> None:
        if kind == "volume/area":
            density, text = _density(source, product)
            self.multiply(density, text)
        elif kind == "count/area":
            self.by_seed_weight(source, product, to_mass=True)

    def from_mass(self, source: Unit, product: Product) -> None:
        kind = product.unit.kind
        if kind == "volume/area":
            density, text = _density(source, product)
            self.divide(density, text)
        elif kind == "count/area":
            self.by_seed_weight(source, product, to_mass=False)

    def by_seed_weight(self, source: Unit, product: Product, *, to_mass: bool) -> None:
        if product.seeds_per is not None:
            per_mass = self.divide if to_mass else self.multiply
            per_mass(product.seeds_per.si, str(product.seeds_per))
        elif product.thousand_seed_weight is not None:
            per_seed = self.multiply if to_mass else self.divide
            per_seed(product.thousand_seed_weight.si / 1000, f"{product.thousand_seed_weight} per 1000 seeds")
        else:
            raise UnitError(
                f"{product.name!r} has no seed weight: {source.name} can't be turned into {product.unit.name}.",
                remedy='Give seeds_per = "2800 seeds/lb" or thousand_seed_weight = "42 g", as on the tag.',
            )


def _refuse_what_is_no_rate(source: Unit, product: Product) -> None:
    if source.kind not in RATE_KINDS:
        raise UnitError(
            f"{source.name} is not a rate per area of {product.name!r}.", remedy=f"Give rates in {product.unit.name}."
        )
    if source.of == "live seed":
        raise UnitError(
            f"{source.name} can't be turned into {product.unit.name}: "
            f"the germination of {product.name!r} is not known.",
            remedy="Divide by the germination on the tag yourself, and give the seeds to drop, such as in seeds/ac.",
        )


def _density(source: Unit, product: Product) -> tuple[Fraction, str]:
    if product.density is None:
        raise UnitError(
            f"{product.name!r} has no density: {source.name} can't be turned into {product.unit.name}.",
            remedy='Give the product\'s density from its label, as density = "10.6 lb/us_gal" or "1.27 kg/L".',
        )
    return product.density.si, str(product.density)


def _conversion(source: Unit, product: Product, factor: Fraction, text: str) -> Conversion:
    target = product.unit.name
    steps: tuple[str, ...] = (f"{source.name} {text} = {target}",) if text else ()
    if factor != 1 or source.name != target:
        steps += (f"1 {source.name} is {_short(factor)} {target}",)
    return Conversion(factor=factor, steps=steps)


def _short(value: Fraction) -> str:
    """Write a number with six significant digits at most; whole numbers in full."""
    if not value:
        return "0"
    return number_text(value, most=max(0, _DIGITS - 1 - floor(log10(abs(value)))))
