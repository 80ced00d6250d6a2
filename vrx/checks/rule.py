"""A rule: one thing that can be wrong with a map, what has to be known to look for it, and the looking."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from shapely.geometry.base import BaseGeometry

from vrx.model.checked_map import CheckedMap
from vrx.model.finding import Severity
from vrx.words import visible

Need = Literal["layer", "shapes", "rates", "unit", "product", "limits", "plan", "field", "machine", "bundle"]
Subject = Literal["file", "shapes", "rates", "belonging", "amounts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a rule has seen.

    Attributes
    ----------
    message, remedy : str
        With numbers and units; what to do about it.
    severity : {"stop", "caution", "note"}, optional
        One of those that the catalog gives the rule; the gravest of them unless said.
    area_m2 : float, optional
    where : shapely geometry, optional
        In the local coordinates of the map's shapes.
    indices : tuple of int
        Records concerned, by their positions from 0.
    features : tuple of int
        Records concerned, by their numbers in the file, where those alone are known.
    on_earth : shapely geometry, optional
        Where it is in WGS 84 longitude and latitude, where a reader says it so.
    product, zone : str
    """

    message: str
    remedy: str = ""
    severity: Severity | None = None
    area_m2: float | None = None
    where: BaseGeometry | None = None
    indices: tuple[int, ...] = ()
    features: tuple[int, ...] = ()
    on_earth: BaseGeometry | None = None
    product: str = ""
    zone: str = ""


@dataclass(frozen=True, slots=True)
class Unseen:
    """Why a rule could not look, where more is needed than :data:`NEEDS` asks for."""

    why: str


Look: TypeAlias = Callable[[CheckedMap], Iterator[Seen | Unseen]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule.

    Attributes
    ----------
    id : str
        For ever the same: offices gate on it.
    looks_at : {"file", "shapes", "rates", "belonging", "amounts"}
    needs : tuple of str
        What has to be known before it can look, the most basic first.
    look : callable
        Yields what it sees, or why it can't look.
    """

    id: str
    looks_at: Subject
    look: Look
    needs: tuple[Need, ...] = ("layer",)


NEEDS: Final[dict[Need, Callable[[CheckedMap], str]]] = {
    "layer": lambda on: "" if on.layer is not None else "The map could not be read.",
    "shapes": lambda on: (
        ""
        if on.shapes is not None
        else "The map could not be read."
        if on.layer is None
        else "The map holds no ground."
    ),
    "rates": lambda on: (
        "" if on.rates is not None else "It is not known which column holds the rates: say it with --column."
    ),
    "unit": lambda on: "" if on.rates and on.rates.unit else "The unit of the rates is not known: say it with --unit.",
    "product": lambda on: "" if on.product is not None else _no_product(on),
    "limits": lambda on: on.rates.incomparable if on.rates is not None else "The rates are not known.",
    "plan": lambda on: "" if on.plan is not None else "No plan is known: name one with --plan.",
    "field": lambda on: (
        ""
        if on.ground is not None
        else "No boundary of the field is known: name it with --boundary, or a plan with --plan."
    ),
    "machine": lambda on: (
        ""
        if on.plan is not None and on.plan.machine.drive
        else "No drives of the machine are known: a plan names them in [[machine.drive]]."
    ),
    "bundle": lambda on: "" if on.built_as is not None else _no_bundle(on),
}
"""Why what a rule needs is not known; empty where it is."""


def _no_product(on: CheckedMap) -> str:
    if not on.products_known:
        return "No product is known: name one with --product, or a plan with --plan."
    if on.product_asked:
        return f'Nothing is known of a product "{visible(on.product_asked)}".'
    return "It is not known which product the map is for: name it with --product."


def _no_bundle(on: CheckedMap) -> str:
    if not on.plan_name:
        return "No bundle is known that the map comes from: name the plan that it lies beside with --plan."
    return f"No bundle beside {on.plan_name} lists this file: it is from elsewhere, or was changed and renamed."


def missing(rule: Rule, on: CheckedMap) -> str:
    """Return why a rule can't look at a map; empty where it can."""
    return next((why for need in rule.needs if (why := NEEDS[need](on))), "")
