"""Why an area has two numbers: the ground itself, and the flat sheet of a map."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from vrx.geo.crs import areal_scale, parse_crs
from vrx.model.ledger import Ledger
from vrx.model.plan import Plan
from vrx.model.zone_map import Ground
from vrx.reports.words import area_unit, area_words, signed_area_words
from vrx.units import ACRE_M2, SURVEY_ACRE_M2, number_text

_WEB_MERCATOR = "Popular Visualisation Pseudo Mercator"


def area_notes(plan: Plan, ledger: Ledger, ground: Ground) -> tuple[str, ...]:
    """Explain the two areas and their difference, a sentence or two a note."""
    return tuple(_notes(plan, ledger, ground))


def is_web_mercator(crs_text: str) -> bool:
    """Tell whether a CRS is the projection that maps on screens use, whose areas mislead."""
    operation = parse_crs(crs_text).coordinate_operation
    return operation is not None and _WEB_MERCATOR in operation.method_name


def _notes(plan: Plan, ledger: Ledger, ground: Ground) -> Iterator[str]:
    unit = {"ac": "acres", "ha": "hectares"}[area_unit(plan)]
    yield (
        f"True ground {unit} (geodesic) are measured on the curved earth, on the WGS 84 ellipsoid. Rates and totals "
        "go by them."
    )
    crs = parse_crs(ledger.grid_crs)
    yield f"Map-sheet {unit} (grid) are measured on the flat sheet of {crs.name} ({ledger.grid_crs})."
    scale = areal_scale(ledger.grid_crs, ground.frame.longitude, ground.frame.latitude)
    yield (
        f"At the middle of this field that sheet draws 1 m of ground {sqrt(scale):.6f} m long (scale factor), and "
        f"1 square metre as {scale:.6f}: areas on it come out {(scale - 1) * 100:+.4f} % off."
    )
    difference = ledger.grid_area_m2 - ledger.geodesic_area_m2
    share = 100 * difference / ledger.geodesic_area_m2 if ledger.geodesic_area_m2 else 0.0
    yield (
        f"Ground to treat: {area_words(ledger.geodesic_area_m2, plan)} true, {area_words(ledger.grid_area_m2, plan)} "
        f"on the sheet, {signed_area_words(difference, plan)} or {share:+.4f} % apart."
    )
    if is_web_mercator(ledger.grid_crs):
        yield "This sheet is made for maps on screens: its areas grow towards the poles and are good for nothing else."
    foot = float(crs.axis_info[0].unit_conversion_factor or 1.0)
    if foot != 1.0:
        yield (
            f"The sheet counts in {crs.axis_info[0].unit_name}s of {foot:.12g} m; its areas were turned into square "
            "metres by that foot."
        )
    if plan.units == "us":
        acre = SURVEY_ACRE_M2 if plan.acre == "us_survey" else ACRE_M2
        name = "US survey" if plan.acre == "us_survey" else "international"
        yield f"An acre here is the {name} acre of {number_text(acre, 7)} square metres."
