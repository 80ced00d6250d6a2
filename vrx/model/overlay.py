"""An overlay: ground drawn over the zones that gets a rate of its own, or another one than they want."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property
from typing import Final

from pydantic import Field, PrivateAttr, ValidationInfo, model_validator

from vrx.errors import UnitError
from vrx.model.keys import Number, PlanPart, RateText, Refused, dialect_of, refusals
from vrx.units import Dialect, parse_measure

_LAPS: Final = re.compile(r"headland\s+(.*?)\s*laps?", re.IGNORECASE)
_EDGE: Final = re.compile(r"edge\s+(.+)", re.IGNORECASE)
_MOST_LAPS: Final = 50


def is_drawn_by_rule(where: str) -> bool:
    """Tell whether the ground of an overlay is told in words, as ``headland 2 laps`` is, and not drawn in a file."""
    return bool(_LAPS.fullmatch(where) or _EDGE.fullmatch(where))


class Overlay(PlanPart):
    """Ground drawn over the zones: end rows, a wet spot, a check strip drawn by hand."""

    where: str = Field(
        min_length=1,
        description="A file of polygons; `headland N laps` of the machine's width, inside the boundary and around "
        "keep-outs; or `edge DISTANCE` from the boundary.",
        examples=["headland 2 laps"],
    )
    crs: str = Field("", description="Coordinate reference system, only where the file has none.")
    layer: str = Field("", description="Which layer, only where the file holds several.")
    products: tuple[str, ...] = Field((), description="The products that it is about; all unless said.")
    rate: RateText | None = Field(None, description="The rate there, whatever the zones want.")
    factor: Number | None = Field(None, ge=0, le=100, description="What the zones' rates are multiplied by.")
    add: RateText | None = Field(None, description="What is added to the zones' rates; may be below 0.")
    why: str = Field("", description="Why, and the name of the ground on every paper.")

    _dialect: Dialect = PrivateAttr(default_factory=Dialect)

    @model_validator(mode="after")
    def _sound(self, info: ValidationInfo) -> Overlay:
        self._dialect = dialect_of(None, info)
        found = list(self._refused())
        if found:
            raise refusals(found)
        return self

    def _refused(self) -> Iterator[Refused]:
        said = [key for key in ("rate", "factor", "add") if getattr(self, key) is not None]
        if len(said) != 1:
            problem = "says none of rate, factor and add" if not said else f"says {' and '.join(said)}"
            yield Refused(
                (said[-1],) if said else (), f"An overlay {problem}.", "Give one of them: rate, factor or add."
            )
        if self.rate is not None and self.rate.value < 0:
            yield Refused(
                ("rate",), f"rate = {self.rate} is below 0.", "Give 0 or more; to take something off, use add."
            )
        try:
            laps, edge = self.laps, self.edge_m
        except UnitError as err:
            yield Refused(("where",), err.problem, err.remedy)
            return
        if laps is not None and not 0 < laps <= _MOST_LAPS:
            yield Refused(("where",), f"{self.where!r} is no number of laps.", f"Give one from 1 to {_MOST_LAPS}.")
        if edge is not None and not edge > 0:
            yield Refused(("where",), f"{self.where!r} has no width.", 'Give a distance, such as "edge 60 ft".')
        if not self.is_file and (self.crs or self.layer):
            yield Refused(("where",), "crs and layer are about a file, and where names none.", "Leave them out.")

    @cached_property
    def laps(self) -> float | None:
        """How many laps of the machine wide it is; None where it is something else.

        Raises
        ------
        UnitError
            It says laps, and no number of them.
        """
        match = _LAPS.fullmatch(self.where)
        if match is None:
            return None
        try:
            return float(match[1])
        except ValueError:
            raise UnitError(f"{self.where!r} is no number of laps.", remedy='Write "headland 2 laps".') from None

    @cached_property
    def edge_m(self) -> float | None:
        """How far from the boundary it reaches, in metres; None where it is something else.

        Raises
        ------
        UnitError
            It says an edge, and no distance.
        """
        match = _EDGE.fullmatch(self.where)
        if match is None:
            return None
        return float(parse_measure(match[1], kinds=("length",), dialect=self._dialect, what="distance").si)

    @property
    def is_file(self) -> bool:
        """Whether its ground is drawn in a file."""
        return not is_drawn_by_rule(self.where)

    @property
    def name(self) -> str:
        """What its ground is called."""
        return self.why or self.where

    def is_about(self, product: str) -> bool:
        """Tell whether it changes the rate of a product."""
        return not self.products or product in self.products
