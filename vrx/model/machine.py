"""The machine: its width, its drives, and which drives run at one rate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from pydantic import Field, model_validator

from vrx.model.box import Box, Boxes
from vrx.model.keys import Metres, NotYet, PlanPart, Refused, refusal, refusals

# Spans in feet and a width in metres, or the other way round, may each be rounded to a centimetre.
_ROUNDED_M: Final = 0.01


class Drive(PlanPart):
    """A drive: one meter or pump, the strip that it serves, and the product on it."""

    name: str = Field(min_length=1, description="What the operator calls it.", examples=["left"])
    span: tuple[Metres, Metres] = Field(
        description="Left and right end of its strip, from the machine's centre line, left negative.",
        examples=[["-20 ft", "0 ft"]],
    )
    product: str = Field(min_length=1, description="The product that it carries, by name.")
    group: str = Field("", description="Drives of one group run at one rate; a drive without one is its own.")
    flow: NotYet = None

    @model_validator(mode="after")
    def _left_to_right(self) -> Drive:
        if not self.span[0] < self.span[1]:
            raise refusal(
                f"span of drive {self.name!r} has no width.",
                'Give left and right, as ["-20 ft", "0 ft"].',
                at=("span",),
            )
        return self


class Machine(PlanPart):
    """A machine as it goes through the field."""

    name: str = Field("", description="Its name; chooses one where `machines` names a file of shared machines.")
    width: Metres | None = Field(None, description="Working width of a pass.")
    drive: tuple[Drive, ...] = Field((), description="Its drives, each a [[machine.drive]] table.")
    speed: NotYet = None
    tank: Boxes = Field(
        (),
        description="Its tank or bin, a table, or a list of tables where it has several.",
        examples=[{"product": "UAN 32", "size": "1000 gal", "keep_back": "40 gal"}],
    )

    @model_validator(mode="after")
    def _sound(self) -> Machine:
        found = list(self._unsound())
        if found:
            raise refusals(found)
        return self

    def _unsound(self) -> Iterator[Refused]:
        if self.width is not None and not self.width > 0:
            yield Refused(("width",), "width is not above 0.", "Give the working width.")
            return
        seen: set[str] = set()
        for at, drive in enumerate(self.drive):
            if drive.name in seen:
                yield Refused(
                    ("drive", at, "name"), f"Two drives are named {drive.name!r}.", "Give each drive its own name."
                )
            seen.add(drive.name)
            if self.width is not None and max(-drive.span[0], drive.span[1]) > self.width / 2 + _ROUNDED_M:
                yield Refused(
                    ("drive", at, "span"),
                    f"Drive {drive.name!r} reaches beyond the machine, of which half is on each side of the centre.",
                    "Measure spans from the machine's centre line, left negative, or correct its width.",
                )
        yield from self._boxes_refused()

    def _boxes_refused(self) -> Iterator[Refused]:
        """Give every box whose drives are not there or carry something else, and what is fed twice or not at all."""
        carried = {drive.name: drive.product for drive in self.drive}
        fed: dict[str, int] = {}
        sound = True
        for at, box in enumerate(self.tank):
            for nth, name in enumerate(box.drives):
                problem = ""
                if name not in carried:
                    problem = f"There is no drive {name!r}."
                elif carried[name] != box.product:
                    problem = f"Drive {name!r} carries {carried[name]!r}, and this box {box.product!r}."
                elif name in fed:
                    problem = f"Drive {name!r} is fed by two boxes."
                if problem:
                    sound = False
                    mine = [f'"{one}"' for one, product in carried.items() if product == box.product]
                    listed = ", ".join(mine) or "none that carries it"
                    yield Refused(("tank", at, "drives", nth), problem, f"Drives of this product are {listed}.")
                fed.setdefault(name, at)
        for product in dict.fromkeys(box.product for box in self.tank) if sound else ():
            yield from self._unfed(product, fed)

    def _unfed(self, product: str, fed: dict[str, int]) -> Iterator[Refused]:
        boxes = {at: box for at, box in enumerate(self.tank) if box.product == product}
        if not any(box.drives for box in boxes.values()):
            return
        for at, box in boxes.items():
            if not box.drives:
                yield Refused(
                    ("tank", at, "drives"),
                    f"This box of {product!r} names no drives, and another one does.",
                    "Name the drives of every box of a product, or of none.",
                )
        missing = [drive.name for drive in self.drive if drive.product == product and drive.name not in fed]
        if missing:
            yield Refused(
                ("tank", min(boxes), "drives"),
                f"No box feeds {', '.join(map(repr, missing))}, which carry {product!r}.",
                "Name every drive of the product in one of its boxes.",
            )

    def boxes_of(self, product: str) -> tuple[Box, ...]:
        """Return the boxes that carry a product, in their order."""
        return tuple(box for box in self.tank if box.product == product)

    def narrowest_m(self, product: str) -> float | None:
        """Return the width of the narrowest group that carries a product, in metres.

        The machine's width where no drive is given for it; None where nothing is known.
        """
        groups: dict[str, list[tuple[float, float]]] = {}
        for drive in self.drive:
            if drive.product == product:
                groups.setdefault(drive.group or f"\0{drive.name}", []).append(drive.span)
        widths = [max(right for _, right in spans) - min(left for left, _ in spans) for spans in groups.values()]
        return min(widths) if widths else self.width
