"""Products for tests: an invented liquid, with any key changed."""

from __future__ import annotations

from typing import Any

from vrx.model.product import Product
from vrx.units import Dialect, Unit, parse_unit

US = Dialect("us")

LIQUID: dict[str, Any] = {
    "name": "Liquid A",
    "form": "liquid",
    "use": "fertiliser",
    "min": "8 gal/ac",
    "max": "26 gal/ac",
    "step": "1 gal/ac",
}


def product(*, dialect: Dialect = US, **keys: Any) -> Product:
    """Make a product; quantities are text as in a plan, or measures."""
    return Product.model_validate(LIQUID | keys, context={"dialect": dialect})


def granular(**keys: Any) -> Product:
    """Make a granular product of 30 to 200 kg/ha in steps of 5."""
    limits = {"min": "30 kg/ha", "max": "200 kg/ha", "step": "5 kg/ha"}
    return product(**({"name": "Granular B", "form": "granular"} | limits | keys))


def seed(**keys: Any) -> Product:
    """Make a seed product of 20000 to 40000 seeds/ac in steps of 500."""
    limits = {"min": "20000 seeds/ac", "max": "40000 seeds/ac", "step": "500 seeds/ac"}
    return product(**({"name": "Seed C", "form": "seed", "use": "seed"} | limits | keys))


def unit(text: str) -> Unit:
    """Read a unit as a US plan means it."""
    return parse_unit(text, US)
