"""Caps: the most of a nutrient that may go on."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from vrx.model.keys import RateText, Refused, refusals
from vrx.units import NUTRIENTS, Measure, oxide_or_element


def _sound(caps: dict[str, Measure]) -> dict[str, Measure]:
    found = [one for one in (_refused(nutrient, rate) for nutrient, rate in caps.items()) if one is not None]
    if found:
        raise refusals(found)
    return caps


def _refused(nutrient: str, rate: Measure) -> Refused | None:
    readings = oxide_or_element(nutrient)
    if readings:
        return Refused((nutrient,), f"{nutrient!r} does not say element or oxide.", f"Write {readings}.")
    if nutrient not in NUTRIENTS:
        known = ", ".join(NUTRIENTS)
        return Refused((nutrient,), f"{nutrient!r} is not a nutrient that vrx knows.", f"Use {known}.")
    if rate.unit.of != nutrient:
        example = f'"180 lb {nutrient}/ac" or "200 kg {nutrient}/ha"'
        of = f"is a rate of {rate.unit.of}" if rate.unit.of else "does not say that it is of the nutrient"
        return Refused((nutrient,), f"{nutrient} = {rate} {of}.", f"Write {nutrient} itself, such as {example}.")
    if rate.value < 0:
        return Refused((nutrient,), f"{nutrient} = {rate} is below 0.", "Give the most that may go on, or 0.")
    return None


Caps = Annotated[dict[str, RateText], AfterValidator(_sound)]
