"""The machine: its width, its drives, and which drives run at one rate."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, Final

from pydantic import ConfigDict, Field, model_validator

from vrx.model.box import Box, Boxes
from vrx.model.forms import Form
from vrx.model.keys import Metres, PlanPart, Refused, Seconds, Whole, refusals
from vrx.model.ranges import FlowText, SpeedText
from vrx.model.spans import width_of

# Spans in feet and a width in metres, or the other way round, may each be rounded to a centimetre.
_ROUNDED_M: Final = 0.01
# Spans come as floats of metres: inches, feet and millimetres are whole ones of this.


def _two_ways(schema: dict[str, Any]) -> None:
    """In the schema: a product, or else several to choose from."""
    schema["if"] = {"not": {"required": ["product"]}}
    schema["then"], schema["else"] = {"required": ["one_of"]}, {"not": {"required": ["one_of"]}}


class Drive(PlanPart):
    """A drive: one meter or pump, the strip that it serves, and the product on it."""

    model_config = ConfigDict(json_schema_extra=_two_ways)

    name: str = Field(min_length=1, description="What the operator calls it.", examples=["left"])
    span: tuple[Metres, Metres] = Field(
        description="Left and right end of its strip, from the machine's centre line, left negative.",
        examples=[["-20 ft", "0 ft"]],
    )
    product: str = Field(
        "", description="The product that it carries, by name; needed where one_of is not given.", examples=["UAN 32"]
    )
    one_of: tuple[str, ...] = Field(
        (),
        description="In place of product: the products among which it changes from place to place, by name.",
        examples=[["hybrid A", "hybrid B"]],
    )
    group: str = Field("", description="Drives of one group run at one rate; a drive without one is its own.")
    form: Form | None = Field(None, description="What it meters; that of its product unless said.")
    flow: FlowText | None = Field(None, description="The least and the most that its meter or pump gives.")
    outlet_flow: FlowText | None = Field(
        None,
        description="The least and the most of one outlet: a nozzle, an opener, or a row of a seed meter.",
        examples=["0.3 to 0.9 gal/min"],
    )
    outlet_spacing: Metres | None = Field(
        None, description="The distance from one outlet to the next; goes with outlet_flow.", examples=["20 in"]
    )
    sections: Whole | None = Field(
        None, ge=1, description="How many parts of equal width it can shut off one by one.", examples=[4]
    )
    response: Seconds | None = Field(
        None, description="The time from a new rate until it reaches the ground.", examples=["2 s"]
    )

    @property
    def products(self) -> tuple[str, ...]:
        """The products that it carries: one, or those of which it gives one at a place."""
        return self.one_of or (self.product,)

    @model_validator(mode="after")
    def _sound(self) -> Drive:
        found = [*self._product_refused(), *self._width_refused()]
        if self.response is not None and self.response < 0:
            found.append(Refused(("response",), "response is below 0.", 'Give the time, as "2 s", or 0.'))
        if found:
            raise refusals(found)
        return self

    def _product_refused(self) -> Iterator[Refused]:
        if self.product and self.one_of:
            yield Refused(
                ("one_of",),
                f"Drive {self.name!r} has a product and one_of.",
                "Give product where it carries one, or one_of where it changes between several.",
            )
        elif not self.product and not self.one_of:
            yield Refused(
                ("product",),
                f"product is missing: drive {self.name!r} carries nothing.",
                "Give product, or one_of where it changes between several.",
            )
        elif self.one_of and len(set(self.one_of)) < max(2, len(self.one_of)):
            yield Refused(
                ("one_of",),
                f"one_of of drive {self.name!r} does not name different products.",
                "Name at least two, each once; a drive with one product has product in place of one_of.",
            )
        elif not all(self.products):
            yield Refused(("one_of",), f"one_of of drive {self.name!r} has an empty name.", "Name its products.")

    def _width_refused(self) -> Iterator[Refused]:
        if not self.span[0] < self.span[1]:
            yield Refused(
                ("span",),
                f"span of drive {self.name!r} has no width.",
                'Give left and right, as ["-20 ft", "0 ft"].',
            )
        spacing = self.outlet_spacing
        if (self.outlet_flow is None) != (spacing is None):
            given, needed = ("outlet_flow", "outlet_spacing") if spacing is None else ("outlet_spacing", "outlet_flow")
            example = "20 in" if spacing is None else "0.3 to 0.9 gal/min"
            yield Refused(
                (given,), f"{given} of drive {self.name!r} says little alone.", f'Give {needed} too, as "{example}".'
            )
        if spacing is not None and not spacing > 0:
            yield Refused(
                ("outlet_spacing",),
                f"outlet_spacing of drive {self.name!r} is not above 0.",
                'Give the distance between two outlets, as "20 in".',
            )


class Machine(PlanPart):
    """A machine as it goes through the field."""

    name: str = Field("", description="Its name; chooses one where `machines` names a file of shared machines.")
    width: Metres | None = Field(None, description="Working width of a pass.")
    drive: tuple[Drive, ...] = Field((), description="Its drives, each a [[machine.drive]] table.")
    speed: SpeedText | None = Field(None, description="How slow and how fast it goes at work, or its one speed.")
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
        carried = {drive.name: drive.products for drive in self.drive}
        fed: set[tuple[str, str]] = set()
        sound = True
        for at, box in enumerate(self.tank):
            for nth, name in enumerate(box.drives):
                problem = ""
                if name not in carried:
                    problem = f"There is no drive {name!r}."
                elif box.product not in carried[name]:
                    there = " or ".join(map(repr, carried[name]))
                    problem = f"Drive {name!r} carries {there}, and this box {box.product!r}."
                elif (name, box.product) in fed:
                    problem = f"Drive {name!r} is fed by two boxes."
                if problem:
                    sound = False
                    mine = [f'"{one}"' for one, products in carried.items() if box.product in products]
                    listed = ", ".join(mine) or "none that carries it"
                    yield Refused(("tank", at, "drives", nth), problem, f"Drives of this product are {listed}.")
                fed.add((name, box.product))
        for product in dict.fromkeys(box.product for box in self.tank) if sound else ():
            yield from self._unfed(product, fed)

    def _unfed(self, product: str, fed: set[tuple[str, str]]) -> Iterator[Refused]:
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
        missing = [one.name for one in self.drives_of(product) if (one.name, product) not in fed]
        if missing:
            yield Refused(
                ("tank", min(boxes), "drives"),
                f"No box feeds {', '.join(map(repr, missing))}, which carry {product!r}.",
                "Name every drive of the product in one of its boxes.",
            )

    def boxes_of(self, product: str) -> tuple[Box, ...]:
        """Return the boxes that carry a product, in their order."""
        return tuple(box for box in self.tank if box.product == product)

    def drives_of(self, product: str) -> tuple[Drive, ...]:
        """Return the drives that carry a product, alone or as one of several, in their order."""
        return tuple(drive for drive in self.drive if product in drive.products)

    def narrowest_m(self, product: str) -> float | None:
        """Return the width of the narrowest group that carries a product, in metres.

        The machine's width where no drive is given for it; None where nothing is known.
        """
        groups: dict[str, list[tuple[float, float]]] = {}
        for drive in self.drives_of(product):
            groups.setdefault(drive.group or f"\0{drive.name}", []).append(drive.span)
        widths = [max(right for _, right in spans) - min(left for left, _ in spans) for spans in groups.values()]
        return min(widths) if widths else self.width

    def share_of_width(self, product: str, forms: Mapping[str, Form]) -> Fraction:
        """Return a product's share of the width on which drives carry products of its form.

        A drive with ``one_of`` counts whole for each of its products. 1 where no drive carries the product. What a
        drive meters is told by its ``form``, else by its products'; a drive of which neither is known counts for none.

        Parameters
        ----------
        forms : mapping of str to str
            Products with their forms.
        """
        mine = self.drives_of(product)
        form = forms.get(product)
        if not mine or form is None:
            return Fraction(1)
        alike = [one for one in self.drive if one in mine or form in _forms(one, forms)]
        return width_of(mine) / width_of(alike)


def _forms(drive: Drive, forms: Mapping[str, Form]) -> tuple[Form, ...]:
    if drive.form is not None:
        return (drive.form,)
    return tuple(forms[name] for name in drive.products if name in forms)
