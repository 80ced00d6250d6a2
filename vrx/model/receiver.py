"""The receiver: whatever has to load the map, with its limits."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from vrx.model.keys import PlanPart, Refused, UnitText, Whole, refusals
from vrx.model.loadable import MOST_FEATURES, MOST_VERTICES, NAME_LENGTH

Format = Literal["shapefile", "geojson", "geopackage"]


class Receiver(PlanPart):
    """What the display in the cab accepts; the defaults suit a strict one."""

    formats: tuple[Format, ...] = Field(
        ("shapefile", "geojson"), min_length=1, description="The formats to write, each once."
    )
    crs: str = Field(
        "EPSG:4326",
        min_length=1,
        description="Coordinate reference system of the shapefile and the geopackage; "
        "GeoJSON is longitude and latitude on WGS 84, by its standard.",
    )
    files: Literal["one a product", "one column a product"] = Field(
        "one a product", description="A map for each product, or one map with a rate column for each product."
    )
    rate_column: str = Field("RATE", min_length=1, max_length=60, description="Name of the column that holds the rate.")
    unit: UnitText = Field("", description="Unit of the written rates; the unit of the step unless said.")
    rate_width: Whole | None = Field(
        None, ge=1, le=20, description="Digits that the rate column holds, the point included, if limited."
    )
    rate_decimals: Whole | None = Field(
        None, ge=0, le=9, description="Decimals that the rate column holds, if limited."
    )
    keep_outs: Literal["zero", "hole"] = Field(
        "zero", description="Keep-outs as polygons at rate 0, or left out where every default is 0."
    )
    most_features: Whole = Field(MOST_FEATURES, ge=1, description="The most polygons in a file.")
    most_vertices: Whole = Field(MOST_VERTICES, ge=4, description="The most vertices of a polygon.")
    name_length: Whole = Field(NAME_LENGTH, ge=12, le=120, description="Characters of a file name before its dot.")

    @model_validator(mode="after")
    def _sound(self) -> Receiver:
        found = []
        if len(set(self.formats)) != len(self.formats):
            found.append(Refused(("formats",), "A format is named twice.", "Name each format once."))
        if self.rate_width is not None and (self.rate_decimals or 0) >= self.rate_width:
            found.append(
                Refused(
                    ("rate_width",) if self.rate_decimals is None else ("rate_decimals",),
                    f"{self.rate_decimals} decimals do not fit into {self.rate_width} digits.",
                    "Give the whole width, the point included.",
                )
            )
        if found:
            raise refusals(found)
        return self
