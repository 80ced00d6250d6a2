"""A box: a tank or bin of the machine, the product in it, and how much of that it can put out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from vrx.model.keys import AmountText, PlanPart, Refused, WeightText, refusal, refusals
from vrx.model.ranges import FlowText
from vrx.units import Measure


class Box(PlanPart):
    """A tank or bin of the machine."""

    product: str = Field(min_length=1, description="The product that it carries, by name.")
    size: AmountText = Field(description="How much it holds.")
    keep_back: AmountText | None = Field(
        None, description="What stays in it and can't be put out; nothing unless said."
    )
    most_weight: WeightText | None = Field(
        None, description="The most that its contents may weigh; the product's density then limits the fill."
    )
    drives: tuple[str, ...] = Field(
        (),
        description="The drives that it feeds, by name; of several boxes each has its drives' share of the width.",
        examples=[["left"]],
    )
    flow: FlowText | None = Field(
        None,
        description="The least and the most that its pump or meter gives for all its drives together.",
        examples=["5 to 80 gal/min"],
    )

    @model_validator(mode="after")
    def _holds_something(self) -> Box:
        found = list(self._refused())
        if found:
            raise refusals(found)
        return self

    def _refused(self) -> Iterator[Refused]:
        for key in ("size", "keep_back", "most_weight"):
            given: Measure | None = getattr(self, key)
            if given is not None and given.unit.of:
                yield Refused(
                    (key,), f"{key} = {given} counts {given.unit.of}, not the product.", f"Give {key} of the product."
                )
                return
        if not self.size.value > 0:
            yield Refused(("size",), f"size = {self.size} holds nothing.", "Give what the box holds.")
            return
        if self.most_weight is not None and not self.most_weight.value > 0:
            yield Refused(
                ("most_weight",), f"most_weight = {self.most_weight} is not above 0.", "Give it, or leave it out."
            )
        kept = self.keep_back
        if kept is None:
            return
        if kept.value < 0:
            yield Refused(("keep_back",), f"keep_back = {kept} is below 0.", "Give what stays in the box, or 0.")
        elif kept.unit.kind == self.size.unit.kind and kept.si >= self.size.si:
            yield Refused(
                ("keep_back",),
                f"keep_back = {kept} leaves nothing to put out of a box of {self.size}.",
                "Give less than its size.",
            )


def _one_or_several(value: object) -> object:
    if isinstance(value, dict | Box):
        return (value,)
    if isinstance(value, list | tuple):
        return value
    raise refusal(
        f"{value!r} is no box.",
        'Write tank = { product = "...", size = "1000 gal" }, or a list of such tables, one for each box.',
    )


class _TableOrTables:
    """In the schema: one table, or a list of them."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        made: dict[str, Any] = handler(schema)
        return {"anyOf": [made["items"], made]}


Boxes = Annotated[tuple[Box, ...], BeforeValidator(_one_or_several), _TableOrTables()]
