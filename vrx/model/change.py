"""A change of a plan for one build: the plan's file stays as it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SET: Final = "--set"
SWAP: Final = "--swap"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A value of a plan, or a product, changed before the plan is checked.

    Attributes
    ----------
    option : str
        ``--set`` or ``--swap``.
    said : str
        What was said with it: ``field.crop=barley``, ``UAN 32=UAN 28``.
    text : str
        The same for people, with what the plan says: ``field.crop = "barley" (in the plan "spring canola")``.
    old, new : str
        Of a swap: the product that the plan names, and the one in its place.
    """

    option: str
    said: str
    text: str
    old: str = ""
    new: str = ""
