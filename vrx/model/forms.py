"""Forms of products, and how each is metered."""

from __future__ import annotations

from typing import Final, Literal

Form = Literal["seed", "liquid", "granular", "gas"]

KINDS_OF_FORM: Final[dict[Form, tuple[str, ...]]] = {
    "seed": ("count/area", "mass/area"),
    "liquid": ("volume/area", "mass/area"),
    "granular": ("mass/area",),
    "gas": ("mass/area", "volume/area"),
}
"""Kinds of rates in which a product of a form is metered."""
