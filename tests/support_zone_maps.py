"""Zone maps for tests, drawn as text: every cell is a piece, and its area can be had in the head.

``"A A B"`` is three cells in a row: two of zone polygon A, one of B. ``A+B`` is covered by both, ``.`` by none;
``A!0`` lies in keep-out 0. Cells are 100 m squares, one hectare each, unless widths or heights say otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vrx.exports.sheets import make_sheets
from vrx.geo.borders import Borders, shared_borders
from vrx.ledgers.build import ledger_of
from vrx.model.build import Build, WrittenFile
from vrx.model.layer import BadCell
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.model.product import Product
from vrx.model.zone_map import Frame, Ground, KeepOutArea, ZoneMap
from vrx.rates.rated import rate_product
from vrx.rates.wanted import Wanted
from vrx.reports.content import Written, gather
from vrx.units import Dialect, System

HA = 10_000.0
# A grid whose areas differ from the true ones by a factor that no test can overlook.
GRID_SCALE = 0.9992


def zone_map(
    *rows: str,
    widths: Sequence[float] | None = None,
    heights: Sequence[float] | None = None,
    names: Mapping[str, str] | None = None,
    keep_outs: Sequence[Sequence[str]] = (),
    fill: bool = False,
) -> ZoneMap:
    """Draw a zone map; rows from north to south.

    Parameters
    ----------
    widths, heights : sequence of float
        Of the columns and rows, in metres; 100 each unless said.
    names : mapping
        Zone of a polygon where it is not its own name, as ``{"A1": "A", "A2": "A"}``.
    keep_outs : sequence of sequence of str
        For each keep-out the products that it binds; none: all.
    fill : bool
        Uncovered cells are gaps too small to treat.
    """
    cells = [row.split() for row in rows]
    widths = widths or [100.0] * len(cells[0])
    heights = heights or [100.0] * len(cells)
    x = np.concatenate(([0.0], np.cumsum(widths))) - sum(widths) / 2
    y = sum(heights) / 2 - np.concatenate(([0.0], np.cumsum(heights)))
    flat = [(r, c, cell) for r, row in enumerate(cells) for c, cell in enumerate(row)]
    shapes = np.array([shapely.box(x[c], y[r + 1], x[c + 1], y[r]) for r, c, _ in flat], dtype=object)
    parts = [cell.partition("!") for _, _, cell in flat]
    covered = [[] if cover == "." else cover.split("+") for cover, _, _ in parts]
    polygons = list(dict.fromkeys(name for cover in covered for name in cover))
    return zone_map_of(
        shapes,
        [tuple(polygons.index(name) for name in cover) for cover in covered],
        names=[(names or {}).get(one, one) for one in polygons],
        kept_out=[tuple(int(digit) for digit in marks) for _, _, marks in parts],
        keep_outs=keep_outs,
        fill=fill,
    )


def zone_map_of(
    shapes: np.ndarray[Any, Any],
    covers: Sequence[tuple[int, ...]],
    *,
    names: Sequence[str],
    kept_out: Sequence[tuple[int, ...]] | None = None,
    keep_outs: Sequence[Sequence[str]] = (),
    fill: bool = False,
) -> ZoneMap:
    """Make a zone map from shapes in local metres; pieces without a cover are gaps."""
    marks = kept_out or [()] * len(shapes)
    area = shapely.area(shapes)
    bare = [not cover for cover in covers]
    borders = shared_borders(shapes)
    hosts = {at: tuple(one for one in borders.of(at) if not bare[one]) for at in range(len(shapes)) if bare[at]}
    inside = [[at for at, mark in enumerate(marks) if number in mark] for number in range(len(keep_outs))]
    return ZoneMap(
        ground=Ground(
            frame=Frame(21.4, -31.2),
            boundary=shapely.union_all(shapes),
            keep_outs=tuple(
                KeepOutArea(name=f"keep-out {at}", products=tuple(bound), shape=shapely.union_all(shapes[inside[at]]))
                for at, bound in enumerate(keep_outs)
            ),
            boundary_area_m2=float(area.sum()),
            grid_crs="EPSG:32734",
            dialect=Dialect("metric"),
        ),
        zone_names=tuple(names),
        records=np.arange(1, len(names) + 1),
        shapes=shapes,
        covers=tuple(covers),
        kept_out=tuple(marks),
        overlaid=((),) * len(shapes),
        fills={at: near for at, near in hosts.items() if near} if fill else {},
        area_m2=area,
        grid_m2=area * GRID_SCALE,
    )


def borders_of(drawn: ZoneMap) -> Borders:
    return shared_borders(drawn.shapes)


def wanted_of(drawn: ZoneMap, **rates: float | None) -> Wanted:
    """Give each zone polygon's rate by its zone; None is an empty cell."""
    values = [rates[name] for name in drawn.zone_names]
    bad = tuple(BadCell(index=at, text="", kind="empty") for at, value in enumerate(values) if value is None)
    rates = np.array([np.nan if one is None else one for one in values], dtype=float)
    return Wanted(rates=rates, inputs=("",) * len(rates), values=np.full(len(rates), np.nan), bad=bad)


def plan_of(*products: Product | Mapping[str, Any], units: System = "metric", **keys: Any) -> Plan:
    """Make a plan around products given as nouns or as a plan writes them; no part is too small unless said."""
    names = [one.name if isinstance(one, Product) else one["name"] for one in products]
    table = {"by": "table", "table": {"A": "0 kg/ha"}}
    plan = {
        "units": units,
        "smallest_area": "0 m2",
        "field": {"name": "Vlei", "season": 2027, "boundary": "boundary.geojson"},
        "product": list(products),
        "zones": {"from": "zones.geojson", "name": "zone"},
        "rate": [{"product": name} | table for name in names],
    }
    return Plan.model_validate(plan | keys, context={"dialect": Dialect(units)})


def prescription_of(drawn: ZoneMap, plan: Plan, *rates: Mapping[str, float | None]) -> Prescription:
    """Rate each product of a plan: its rates by zone, in its own unit, in the order of the plan."""
    borders = borders_of(drawn)
    maps, findings = [], []
    for of, table in zip(plan.rated, rates, strict=True):
        rated = rate_product(drawn, borders, wanted_of(drawn, **table), of, plan, no_data="refuse")
        maps.append(rated.map)
        findings += rated.findings
    return Prescription(zone_map=drawn, maps=tuple(maps), findings=tuple(findings))


def build_of(plan: Plan, prescription: Prescription, *, bundle: str | None = "vlei-bundle") -> Build:
    """Return what a build of a prescription comes to, with findings and sheets, and without writing a file."""
    ledger = ledger_of(prescription, field=plan.field.name, system=plan.units, machine=plan.machine)
    sheets = make_sheets(prescription, plan)
    found = sorted(
        (*prescription.findings, *sheets.findings),
        key=lambda one: ("stop", "caution", "note").index(one.severity),
    )
    stopped = any(one.severity == "stop" for one in found)
    files = () if stopped else (WrittenFile(path="machine/vlei.shp", format="shapefile", sha256="0" * 64),)
    written = Written(by="vrx", plan_name="plan.toml", sheets=sheets.sheets, files=files, inputs=())
    return Build(
        plan=plan,
        prescription=prescription,
        ledger=ledger,
        bundle=None if stopped or bundle is None else Path(bundle),
        files=files,
        findings=tuple(found),
        content=gather(plan, prescription, ledger, found, written),
    )
