"""Maps to check, and what they are checked against: strips of the invented field, whose areas are known."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import accumulate, pairwise
from pathlib import Path
from typing import Any

from support_cases import HEIGHT_M, feature, polygon, rectangle, write_boundary, write_geojson
from support_fields import SPREADER, WEST_M, WIDTH_M
from support_plans import plan_text

from vrx.model.check import Check
from vrx.model.finding import Finding

SPRAYER = """
[[product]]
name = "Liquid"
form = "liquid"
use = "fertiliser"
min = "8 gal/ac"
max = "26 gal/ac"
step = "1 gal/ac"
"""


def strips(
    folder: Path,
    rates: Sequence[Any],
    *,
    column: str = "rate",
    widths: Sequence[float] = (),
    name: str = "map",
    more: dict[str, Sequence[Any]] | None = None,
    names: str = "ABCDEFGHIJKLMNOP",
) -> Path:
    """Write strips from west to east, 250 m long, with their rates; equal parts of 420 m unless widths are said."""
    edges = list(accumulate(widths or [WIDTH_M / len(rates)] * len(rates), initial=WEST_M))
    features = []
    for at, ((left, right), rate) in enumerate(zip(pairwise(edges), rates, strict=True)):
        cells = {"zone": names[at], column: rate, **{key: values[at] for key, values in (more or {}).items()}}
        features.append(feature(polygon(rectangle(left, 0.0, right, HEIGHT_M)), **cells))
    return write_geojson(folder / f"{name}.geojson", features)


def plan_for(
    folder: Path,
    *,
    products: str = SPREADER,
    field: str = "",
    rest: str = "",
    units: str = "metric",
    rates: Sequence[str] = ("Granular",),
    season: str = "season = 2027",
) -> Path:
    """Write a plan of the invented field with its boundary; each product gets a rate by column."""
    write_boundary(folder)
    by = "".join(
        f'\n[[rate]]\nproduct = {json.dumps(one)}\nby = "column"\ncolumn = "rate"\nunit = "kg/ha"\n' for one in rates
    )
    text = plan_text(zones="boundary.geojson", boundary="boundary.geojson", products=products, rates=by, rest=rest)
    text = text.replace('units = "metric"', f'units = "{units}"').replace("season = 2027", f"{season}\n{field}")
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def library(folder: Path, products: str = SPREADER, *, name: str = "Granular", units: str = "metric") -> str:
    """Write a file of products; return how one of them is asked for."""
    path = folder / "products.toml"
    path.write_text(f'units = "{units}"\n{products}', encoding="utf-8")
    return f"{path}#{name}"


def named(found: Check, name: str) -> list[Finding]:
    """Return the findings of one rule."""
    return [one for one in found.findings if one.id == name]


def the(found: Check, name: str) -> Finding:
    """Return the one finding of a rule."""
    (one,) = named(found, name)
    return one


def unseen(found: Check, name: str) -> list[str]:
    """Return why a rule could not look."""
    return [one.why for one in found.not_checked if one.id == name]
