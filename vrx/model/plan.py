"""The plan: one field and one pass, as a person wrote it down."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from vrx.errors import PlanError
from vrx.formula import FUNCTIONS, LONGEST, read_formula
from vrx.model.caps import Caps
from vrx.model.keys import (
    AreaText,
    CalendarDate,
    Degrees,
    Metres,
    Number,
    PlanPart,
    RateText,
    Refused,
    SquareMetres,
    UnitText,
    Whole,
    refusal,
    refusals,
)
from vrx.model.machine import Machine
from vrx.model.overlay import Overlay
from vrx.model.plan_agrees import disagreements
from vrx.model.product import Product
from vrx.model.receiver import Receiver
from vrx.units import ACRE_M2, Acre, Dialect, System

NoData = Literal["refuse", "default", "off"]
Overlaps = Literal["refuse", "first", "lowest", "highest"]

_TENTH_ACRE_M2 = float(ACRE_M2 / 10)


def _one_or_more(value: object) -> object:
    return (value,) if isinstance(value, str) else value


def _one_or_named(value: object) -> str:
    """Tell ``[zones]`` from ``[zones.soil]``, ``[zones.yield]``: a table of tables alone."""
    named = isinstance(value, dict) and value and all(isinstance(inner, dict | ZonesOfPlan) for inner in value.values())
    return "named" if named else "one"


def _one_name_each(value: object) -> object:
    # Outer spaces do not count, so two names may be one.
    if isinstance(value, dict):
        seen = set()
        for name in map(str.strip, map(str, value)):
            if name in seen:
                raise refusal(f"The zone {name!r} has two rates.", "Name each zone once.")
            seen.add(name)
    return value


def _rates_or_file(value: object) -> str:
    return "file" if isinstance(value, str) else "rates"


def _reads(value: str) -> str:
    try:
        read_formula(value)
    except PlanError as err:
        raise refusal(err.problem, err.remedy) from None
    return value


FileName = Annotated[str, Field(min_length=1)]
FileNames = Annotated[
    tuple[FileName, ...],
    BeforeValidator(_one_or_more),
    Field(min_length=1),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "minLength": 1},
                {"type": "array", "items": {"type": "string", "minLength": 1}, "minItems": 1},
            ]
        }
    ),
]
ZoneRates = Annotated[dict[str, RateText], BeforeValidator(_one_name_each), Field(min_length=1)]
ZoneRatesOrFile = Annotated[
    Annotated[ZoneRates, Tag("rates")] | Annotated[FileName, Tag("file")], Discriminator(_rates_or_file)
]
Crs = Annotated[str, WithJsonSchema({"type": "string", "examples": ["EPSG:32614"]})]
LayerName = Annotated[str, WithJsonSchema({"type": "string", "examples": ["soil_units"]})]


class FieldOfPlan(PlanPart):
    """The field, and what goes onto it this season."""

    client: str = Field("", description="Whom the work is for.")
    farm: str = Field("", description="The farm that the field belongs to.")
    name: str = Field(min_length=1, max_length=80, description="The field's name.")
    season: Whole | None = Field(None, ge=1900, le=2200, description="The year of harvest.")
    crop: str = Field("", description="The crop.")
    boundary: FileNames = Field(
        description="One file or several; their polygons together are the field.", examples=["boundary.geojson"]
    )
    crs: Crs = Field("", description="Coordinate reference system, only where the boundary file has none.")
    layer: LayerName = Field("", description="Which layer, only where the boundary file holds several.")
    stated_area: AreaText | None = Field(None, description="The area that others state, to compare with.")
    stated_basis: Literal["treated", "boundary"] = Field(
        "boundary", description="What the stated area is of: the ground to treat, or all within the boundary."
    )
    backdrop: str = Field(
        "",
        description="A GeoTIFF, or a layer such as the soil map, to draw faintly behind the maps.",
        examples=["aerial.tif"],
    )
    part: str = Field(
        "",
        description="A file of polygons: only this ground is treated, as when replanting or finishing a field.",
        examples=["unfinished.geojson"],
    )
    heading: Degrees | None = Field(
        None, description="The direction of the passes, clockwise from true north: from 0 to below 360 deg."
    )

    @model_validator(mode="after")
    def _sound(self) -> FieldOfPlan:
        found = []
        if self.stated_area is not None and not self.stated_area.value > 0:
            problem = f"stated_area = {self.stated_area} is not above 0."
            found.append(Refused(("stated_area",), problem, "Give the area that others state, or leave it out."))
        if self.heading is not None and not 0 <= self.heading < 360:
            problem = f"heading = {self.heading:.10g} deg is no direction from 0 to below 360 deg."
            found.append(Refused(("heading",), problem, 'Count clockwise from true north, as "85 deg".'))
        if found:
            raise refusals(found)
        return self


class KeepOut(PlanPart):
    """Ground that gets nothing: a point, line or polygon with a set-back around it."""

    where: FileName = Field(
        description="A file of points, lines or polygons, inside or outside the boundary.", examples=["waterway.gpkg"]
    )
    crs: Crs = Field("", description="Coordinate reference system, only where the file has none.")
    layer: LayerName = Field("", description="Which layer, only where the file holds several.")
    set_back: Metres = Field(
        0.0,
        ge=0,
        allow_inf_nan=False,
        description="Distance to keep, on level ground from the edge as drawn.",
        json_schema_extra={"default": "0 m"},
    )
    products: tuple[str, ...] = Field((), description="The products that it binds; all unless said.")
    rate: RateText | None = Field(None, description="0, the only rate there is in a keep-out so far.")
    reason: str = Field("", description="Why, as people are told it.")

    @model_validator(mode="after")
    def _nothing(self) -> KeepOut:
        if self.rate is not None and self.rate.value != 0:
            raise refusal(
                f"rate = {self.rate} in a keep-out is not there yet: a keep-out gets nothing.",
                "Leave rate out, or write 0.",
                at=("rate",),
            )
        return self


class ZonesOfPlan(PlanPart):
    """Where the zones come from."""

    from_: FileNames = Field(
        alias="from",
        description="One file of polygons or several, or a raster of rates or classes.",
        examples=["soil_units.shp"],
    )
    crs: Crs = Field("", description="Coordinate reference system, only where the file has none.")
    layer: LayerName = Field("", description="Which layer, only where the file holds several; the band of a raster.")
    name: str = Field("", description="The field of the layer that names a zone; the record number unless said.")
    decimal: Literal[".", ","] = Field(".", description="The decimal mark of numbers written as text.")


class _RateOfPlan(PlanPart):
    product: str = Field(min_length=1, description="The product, by name.")
    no_data: NoData = Field(
        "refuse", description="A zone without a value: refused, given the product's default rate, or off."
    )
    zones: str = Field("", description="The zone layer that it goes by, where [zones.NAME] tables name several.")


class RateByTable(_RateOfPlan):
    """A rate for each zone by its name, in the plan or in a CSV file."""

    by: Literal["table"] = Field(description="How the rate comes about.")
    table: ZoneRatesOrFile = Field(
        description="A rate for each zone, or a CSV file of them.", examples=[{"KeA": "22 gal/ac", "Wr": "0 gal/ac"}]
    )
    column: str = Field("", description="The column of the CSV that holds the rates.")
    unit: UnitText = Field("", description="The unit of rates written as bare numbers in the CSV.")

    @model_validator(mode="after")
    def _of_the_file(self) -> RateByTable:
        if isinstance(self.table, dict):
            found = [
                Refused((key,), f"{key} is about a CSV file, and the table stands in the plan.", "Leave it out.")
                for key in ("column", "unit")
                if getattr(self, key)
            ]
            if found:
                raise refusals(found)
        return self


class RateByColumn(_RateOfPlan):
    """A field of the zone layer holds the rate."""

    by: Literal["column"] = Field(description="How the rate comes about.")
    column: str = Field(min_length=1, description="The field of the zone layer that holds the rate.")
    unit: UnitText = Field(min_length=1, description="The unit of its numbers.", examples=["gal/ac"])


class RateByBreaks(_RateOfPlan):
    """Classes of a number: below the first break the first rate, from each break on the next one."""

    by: Literal["breaks"] = Field(description="How the rate comes about.")
    of: str = Field(min_length=1, description="The field of the zone layer that holds the number.")
    breaks: tuple[Number, ...] = Field(
        min_length=1, description="Where one class ends and the next begins, rising.", examples=[[2.0, 3.5]]
    )
    rates: tuple[RateText, ...] = Field(
        description="A rate for each class, one more than breaks.",
        examples=[["22 gal/ac", "18 gal/ac", "14 gal/ac"]],
    )

    @model_validator(mode="after")
    def _classes(self) -> RateByBreaks:
        found = []
        if not all(low < high for low, high in pairwise(self.breaks)):
            found.append(
                Refused(("breaks",), "breaks do not rise.", "Write them from the lowest to the highest, each once.")
            )
        if len(self.rates) != len(self.breaks) + 1:
            found.append(
                Refused(
                    ("rates",),
                    f"{len(self.breaks)} breaks make {len(self.breaks) + 1} classes, and {len(self.rates)} "
                    "rates are given.",
                    "Give one rate more than breaks.",
                )
            )
        if found:
            raise refusals(found)
        return self


class RateByLine(_RateOfPlan):
    """A straight line between points of a number and a rate, held at the ends."""

    by: Literal["line"] = Field(description="How the rate comes about.")
    of: str = Field(min_length=1, description="The field of the zone layer that holds the number.")
    points: tuple[tuple[Number, RateText], ...] = Field(
        min_length=2,
        description="Pairs of the number and its rate, rising.",
        examples=[[[1.5, "24 gal/ac"], [4.0, "12 gal/ac"]]],
    )

    @model_validator(mode="after")
    def _rising(self) -> RateByLine:
        numbers = [number for number, _ in self.points]
        if not all(low < high for low, high in pairwise(numbers)):
            raise refusal(
                "points do not rise.",
                "Write them from the lowest number to the highest, each once.",
                at=("points",),
            )
        return self


class RateByFormula(_RateOfPlan):
    """Arithmetic on fields of the zone layer and on constants."""

    by: Literal["formula"] = Field(description="How the rate comes about.")
    formula: Annotated[str, AfterValidator(_reads)] = Field(
        min_length=1,
        max_length=LONGEST,
        description="What to work out: fields of the zone layer and constants by name (in backticks where a name is "
        "more than letters, digits and _), numbers, + - * / **, brackets, comparisons, A if CONDITION else B, and "
        f"{', '.join(FUNCTIONS)}.",
        examples=["20 - 2 * om_pct", "base / `OM %` if `OM %` > 1 else base"],
    )
    unit: UnitText = Field(min_length=1, description="The unit of the result.", examples=["gal/ac"])
    constants: dict[str, Number] = Field(
        {}, description="Numbers that the formula knows by name.", examples=[{"base": 20}]
    )

    @model_validator(mode="after")
    def _each_used(self) -> RateByFormula:
        names = read_formula(self.formula).names
        found = [
            Refused(("constants", name), f"The formula does not use the constant {name!r}.", "Leave it out.")
            for name in self.constants
            if name not in names
        ]
        if found:
            raise refusals(found)
        return self


class RateNotYet(_RateOfPlan):
    """Ways to a rate that a later version brings."""

    by: Literal["method"]

    @model_validator(mode="before")
    @classmethod
    def _later(cls, value: Any) -> Any:
        by = value.get("by") if isinstance(value, dict) else value
        raise refusal(
            f"by = {by!r} is not there yet.", 'Use by = "table", "column", "breaks", "line" or "formula".', at=("by",)
        )


RateOfPlan = Annotated[
    RateByTable | RateByColumn | RateByBreaks | RateByLine | RateByFormula | RateNotYet, Field(discriminator="by")
]


class Accept(PlanPart):
    """A finding that a person has seen and answers for: it becomes a note that says who accepted it and why."""

    finding: str = Field(
        min_length=1, description="The id of the finding, as it stands behind it.", examples=["thin-part"]
    )
    why: str = Field(min_length=1, description="Why it is all right.")
    by: str = Field(min_length=1, description="Who accepts it.")
    date: CalendarDate | None = Field(None, description="When.")
    product: str = Field("", description="Only where it is about this product.")
    zone: str = Field("", description="Only where it is about this zone.")


class Plan(PlanPart):
    """One pass over one field: its ground, its products, its zones, and the rate of each product in each zone."""

    units: System = Field("metric", description="What gal, pt and cwt mean, and how areas and totals are reported.")
    acre: Acre = Field("international", description="Which acre: 4046.8564224 m2, or the one of the US survey foot.")
    grid_crs: str = Field(
        "auto", min_length=1, description="Where grid areas are measured: auto (the field's UTM zone) or any EPSG code."
    )
    prepared_by: str = Field("", description="Who made the plan.")
    date: CalendarDate | None = Field(None, description="The plan's date; the only date that goes into a file.")
    revision: Whole = Field(1, ge=1, description="Counts up with each change.")
    approved_by: str = Field("", description="Who approved it.")
    notes: str = Field("", description="Notes for the operator.")
    repairs: Literal["mend", "refuse"] = Field(
        "mend", description="Broken shapes that move more than 0.1 % of the field: a caution, or a stop."
    )
    overlaps: Overlaps | None = Field(
        None,
        description="Which rate holds where zones overlap and get different rates; unless said, the lowest up to "
        "0.1 % of the field and refused beyond.",
    )
    smallest_area: SquareMetres = Field(
        _TENTH_ACRE_M2,
        ge=0,
        description="Smaller parts join a neighbour.",
        json_schema_extra={"default": "0.1 ac"},
    )
    thin_parts: Literal["join", "report"] = Field(
        "join", description="Parts narrower than the machine can honour: joined to a neighbour, or reported."
    )
    fill_gaps: SquareMetres = Field(
        _TENTH_ACRE_M2 / 2,
        ge=0,
        description="Smaller gaps join a neighbour, larger ones get the default rate.",
        json_schema_extra={"default": "0.05 ac"},
    )
    products: str = Field(
        "", description="A file of shared products; a [[product]] of the plan adds to them or overrides their keys."
    )
    machines: str = Field("", description="A file of shared machines; [machine] chooses one by name.")
    field: FieldOfPlan = Field(description="The field, a [field] table.")
    keep_out: tuple[KeepOut, ...] = Field((), description="Keep-outs, each a [[keep_out]] table.")
    product: tuple[Product, ...] = Field(min_length=1, description="Products, each a [[product]] table.")
    zones: Annotated[
        Annotated[ZonesOfPlan, Tag("one")] | Annotated[dict[str, ZonesOfPlan], Tag("named")],
        Discriminator(_one_or_named),
    ] = Field(description="Where the zones come from: a [zones] table, or several by name, [zones.soil].")
    rate: tuple[RateOfPlan, ...] = Field(
        min_length=1, description="How each product's rate comes about, each a [[rate]] table."
    )
    overlay: tuple[Overlay, ...] = Field(
        (), description="Ground with a rate of its own, each an [[overlay]] table, laid over the zones in order."
    )
    caps: Caps = Field(
        {},
        description="The most of a nutrient that may go on in this pass and season, a [caps] table.",
        examples=[{"N": "180 lb N/ac"}],
    )
    machine: Machine = Field(Machine(), description="The machine, a [machine] table.")
    receiver: Receiver = Field(Receiver(), description="Whatever has to load the map, a [receiver] table.")
    accept: tuple[Accept, ...] = Field(
        (), description="Findings that a person has seen and answers for, each an [[accept]] table."
    )

    @property
    def dialect(self) -> Dialect:
        """How the plan means ``gal`` and ``ac``."""
        return Dialect(self.units, self.acre)

    @property
    def rated(self) -> tuple[Product, ...]:
        """The products of this pass, in the order of their rates."""
        by_name = {product.name: product for product in self.product}
        return tuple(by_name[rate.product] for rate in self.rate)

    def share_of_width(self, product: str) -> Fraction:
        """Return a product's share of the width on which the machine carries products of its form; 1 unless said."""
        return self.machine.share_of_width(product, {one.name: one.form for one in self.product})

    @property
    def zone_layers(self) -> dict[str, ZonesOfPlan]:
        """The zone layers by name; a single one has an empty name."""
        return self.zones if isinstance(self.zones, dict) else {"": self.zones}

    @model_validator(mode="after")
    def _hangs_together(self, info: ValidationInfo) -> Plan:
        # Shared products without a rate are no part of this pass, but a keep-out may well name them. None where
        # their file can't be read: then nothing is known about names, and the reader has said why.
        shared = (info.context or {}).get("shared_products", ())
        if shared is None:
            return self
        found = list(disagreements(self, shared))
        if found:
            raise refusals(found)
        return self
