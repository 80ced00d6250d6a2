"""The walk-through before the pass: machine, groups, field, crop, products, maps and start, in the order of setting."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from vrx.checks.runner import worst_first
from vrx.errors import InputError
from vrx.inputs.missing_products import MissingProduct, missing_products
from vrx.model.check import Check, NotChecked
from vrx.model.checked_map import Grouping
from vrx.model.finding import Finding
from vrx.model.plan import Plan
from vrx.model.readiness import Readiness, ReadyLine, ReadyStep, State
from vrx.reports.ready_lines import (
    TITLES,
    crop_lines,
    field_lines,
    group_lines,
    groups_of,
    machine_lines,
    product_lines,
)
from vrx.runs.belonging import belonging_findings
from vrx.runs.bundle import bundle_of
from vrx.runs.check import Against, check_map, read_against, read_groups
from vrx.runs.ground import stated_area_findings
from vrx.runs.manifest import is_ours, read_manifest
from vrx.runs.ready_across import across
from vrx.runs.start_position import position_line, read_position

_MACHINE, _GROUPS, _FIELD, _CROP, _PRODUCTS, _MAPS, _START = range(1, 8)
# The step that a finding of a map belongs to; those of the others are told with the map.
_STEP_OF = {
    "drives-grouped-otherwise": _GROUPS,
    "group-too-wide": _GROUPS,
    "other-field": _FIELD,
    "area-differs": _FIELD,
    "crop-mismatch": _CROP,
    "season-mismatch": _CROP,
    "product-form-mismatch": _PRODUCTS,
    "drive-without-product": _PRODUCTS,
    "product-without-drive": _PRODUCTS,
    "default-rate-outside-limits": _PRODUCTS,
    "not-one-of": _PRODUCTS,
    "flow-out-of-range": _PRODUCTS,
    "product-changed": _PRODUCTS,
    "more-than-on-hand": _PRODUCTS,
    "nutrient-over-limit": _MAPS,
}
# Looked at between maps, so that no map's own silence counts.
_ACROSS = ("not-one-of",)
_ENDINGS = {"shapefile": ".shp", "geojson": ".geojson", "geopackage": ".gpkg"}


def ready(plan: Path | str, *, maps: Path | str | None = None, position: str = "", groups: str = "") -> Readiness:
    """Walk through a plan in the order in which things are set, and look at all that data can tell.

    Parameters
    ----------
    plan : path
        The plan of the pass.
    maps : path, optional
        The folder from which the maps are loaded, such as a stick; the machine files of the plan's bundle unless said.
    position : str
        Where the machine stands, as ``LON,LAT``; empty where that is not known.
    groups : str
        Which drives the machine runs at one rate, as :func:`vrx.runs.check.read_groups` reads it.

    Raises
    ------
    VrxError
        The plan, its boundary or its keep-outs can't be read, or position or groups can't.
    """
    path = Path(plan)
    grouping = read_groups(groups)
    if maps is not None and not Path(maps).is_dir():
        raise InputError("There is no such folder.", remedy="Name the folder with the maps.", where=f"--maps {maps}")
    place = read_position(position) if position else None
    missing = missing_products(path)
    against = read_against(plan=path, stand_ins=[one.stand_in for one in missing])
    the_plan = against.the_plan
    unknown = {one.name for one in missing}
    found = _maps_of(against, Path(maps) if maps is not None else None)
    checks = tuple(
        (name, _check_for(name, file, against, grouping))
        for name, file in found.items()
        if file is not None and name not in unknown
    )
    between = list(across(the_plan, {name: check.on for name, check in checks}))
    plan_findings = [*_of_the_plan(against, checks), *(one for one in between if isinstance(one, Finding))]
    findings = [*plan_findings, *_each_once(finding for _, check in checks for finding in check.findings)]
    lines: dict[int, list[ReadyLine]] = {number: [] for number in range(1, len(TITLES) + 1)}
    lines[_MACHINE] += machine_lines(the_plan)
    lines[_GROUPS] += [*_grouping_lines(the_plan, grouping), *group_lines(the_plan)]
    lines[_FIELD] += field_lines(the_plan, against.the_ground.boundary_area_m2)
    lines[_CROP] += crop_lines(the_plan)
    lines[_PRODUCTS] += _product_lines(the_plan, missing)
    lines[_MAPS] += _map_lines(against, found, dict(checks), unknown, maps)
    lines[_START] += _start_lines(against, place)
    for finding in findings:
        if finding.id in _STEP_OF and finding.severity != "note":
            lines[_STEP_OF[finding.id]].insert(0, _line(finding))
    return Readiness(
        field=", ".join(one for one in _names(the_plan) if one),
        steps=tuple(_steps(lines)),
        checks=checks,
        findings=worst_first(findings),
        not_checked=(*(one for one in between if isinstance(one, NotChecked)), *_seen_by_no_map(checks)),
    )


def _steps(lines: dict[int, list[ReadyLine]]) -> Iterator[ReadyStep]:
    """Yield the steps; those below the first one that fails wait for it."""
    waits_for = 0
    for number, title in enumerate(TITLES, start=1):
        order: dict[State, int] = {"stop": 0, "caution": 1}
        own = sorted(lines[number], key=lambda line: order.get(line.state, 2))
        step = ReadyStep(number=number, title=title, lines=tuple(own), waits_for=waits_for)
        yield step
        if not waits_for and step.state == "stop":
            waits_for = number


def _line(finding: Finding) -> ReadyLine:
    state: State = "stop" if finding.severity == "stop" else "caution"
    return ReadyLine(text=finding.message, state=state, remedy=finding.remedy, finding=finding.id)


def _names(plan: Plan) -> tuple[str, str, str]:
    return plan.field.client, plan.field.farm, plan.field.name


def _maps_of(against: Against, folder: Path | None) -> dict[str, Path | None]:
    """Return the map to load for each product of the plan; None where there is none."""
    job = against.job
    if job is None:
        return {}
    bundle = bundle_of(job.file.path)
    manifest = read_manifest(bundle)
    place = bundle / "machine" if folder is None else folder
    listed = manifest.get("maps") if is_ours(manifest) and not manifest.get("stopped") else None
    stems: dict[str, str] = {}
    for one in listed if isinstance(listed, list) else ():
        for column in one.get("columns", ()):
            stems[str(column.get("product"))] = str(one.get("name"))
    endings = [_ENDINGS[form] for form in job.plan.receiver.formats]
    return {product.name: _first_there(place, stems.get(product.name, ""), endings) for product in job.plan.rated}


def _first_there(folder: Path, stem: str, endings: Sequence[str]) -> Path | None:
    if not stem:
        return None
    return next((path for ending in endings if (path := folder / f"{stem}{ending}").is_file()), None)


def _check_for(name: str, file: Path, against: Against, grouping: Grouping | None) -> Check:
    return check_map([file], replace(against, asked=name), grouping=grouping)


def _of_the_plan(against: Against, checks: Sequence[tuple[str, Check]]) -> list[Finding]:
    """Return what is wrong with the plan itself, where no map told it already."""
    plan, told = against.the_plan, {(one.id, one.product) for _, check in checks for one in check.findings}
    found = belonging_findings(plan)
    if not checks:
        ground = against.the_ground
        kept_out = sum(one.shape.area for one in ground.keep_outs if not one.products)
        found += stated_area_findings(plan, ground, ground.boundary_area_m2 - kept_out)
    return [one for one in found if (one.id, one.product) not in told]


def _each_once(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings, each thing once: what is wrong with drives is found with every map."""
    return list({(one.id, one.message): one for one in findings}.values())


def _grouping_lines(plan: Plan, grouping: Grouping | None) -> Iterator[ReadyLine]:
    if grouping is None or not plan.machine.drive:
        return
    planned = {frozenset(drive.name for drive in drives) for drives in groups_of(plan).values()}
    if planned == set(grouping):
        told = ", ".join(sorted("+".join(sorted(group)) for group in grouping))
        yield ReadyLine(text=f"The drives are grouped as the plan says: {told}.", state="fine")


def _product_lines(plan: Plan, missing: Sequence[MissingProduct]) -> Iterator[ReadyLine]:
    library = plan.products or "the plan"
    for one in missing:
        yield ReadyLine(
            text=f"The product {one.name} has a rate in the plan, and nobody has described it.",
            state="stop",
            remedy=f"Fill this in from its label and the machine's manual, and paste it into {library}:\n{one.entry}",
            finding="product-unknown",
        )
    unknown = {one.name for one in missing}
    for product in plan.rated:
        if product.name not in unknown:
            yield from product_lines(product, plan)


def _map_lines(
    against: Against,
    found: dict[str, Path | None],
    checks: dict[str, Check],
    unknown: set[str],
    folder: Path | str | None,
) -> Iterator[ReadyLine]:
    job = against.job
    plan_name = "" if job is None else str(job.file.path)
    for name, file in found.items():
        if name in unknown:
            continue
        if file is None:
            yield _no_map(name, plan_name, None if job is None else bundle_of(job.file.path), folder)
            continue
        check = checks[name]
        own = [one for one in check.findings if one.id not in _STEP_OF and one.severity != "note"]
        if not own:
            yield ReadyLine(text=f"{name}: {file.name} may be loaded.", state="fine")
        for finding in own:
            yield replace(_line(finding), text=f"{name}: {finding.message}")
        yield ReadyLine(text=f"{name}: the display shows {file.name}, {_column_and_unit(check)}.", state="by hand")


def _no_map(name: str, plan: str, bundle: Path | None, folder: Path | str | None) -> ReadyLine:
    """Return the line for a product without a map: it is not built, or not where the maps are loaded from."""
    if folder is None or bundle is None or not is_ours(read_manifest(bundle)):
        where = "its bundle" if folder is None else str(folder)
        more = "" if folder is None else ", and put it there with vrx copy."
        return ReadyLine(
            text=f"{name}: there is no map in {where}.", state="stop", remedy=f"Build it: vrx build {plan}{more}"
        )
    return ReadyLine(
        text=f"{name}: the map that was built is not in {folder}.",
        state="stop",
        remedy=f"Put it there: vrx copy {bundle} {folder}",
    )


def _column_and_unit(check: Check) -> str:
    rates = check.on.rates
    if rates is None or rates.unit is None:
        return "column and unit as the card says"
    return f"column {rates.column}, unit {rates.unit_name}"


def _start_lines(against: Against, place: tuple[float, float] | None) -> Iterator[ReadyLine]:
    if place is not None:
        yield position_line(place, against.the_ground)
    yield ReadyLine(
        text="The display shows the machine where it stands, and the rate that the map has there.", state="by hand"
    )


def _seen_by_no_map(checks: Sequence[tuple[str, Check]]) -> Iterator[NotChecked]:
    """Yield what could be looked at on none of the maps."""
    listed = [{one.id: one for one in check.not_checked} for _, check in checks]
    if listed:
        yield from (
            one for key, one in listed[0].items() if key not in _ACROSS and all(key in other for other in listed)
        )
