"""Gathering: every number and sentence of a build, once; terminal, map, report and card render it."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from vrx.geo.crs import WGS84, move_shapes, parse_crs
from vrx.model.build import WrittenFile
from vrx.model.change import Change
from vrx.model.content import (
    CHANGED,
    AreaLine,
    Backdrop,
    Checksum,
    Content,
    Fact,
    FindingContent,
    KeepOutContent,
    LimitMet,
    LoadsContent,
    MapFile,
    OverlayLine,
    ProductContent,
    RowContent,
)
from vrx.model.finding import Finding
from vrx.model.ledger import Ledger, LedgerRow, ProductLedger
from vrx.model.plan import Plan, RateOfPlan
from vrx.model.prescription import Prescription, ProductMap
from vrx.model.product import Product
from vrx.model.sheet import RateColumn, Sheet
from vrx.model.zone_map import Ground, ZoneMap
from vrx.reports.area_notes import area_notes
from vrx.reports.cautions import cautions
from vrx.reports.drawn_shapes import drawn_outline, drawn_text, patches, tolerance_m
from vrx.reports.finding_titles import title_of
from vrx.reports.how import example, method
from vrx.reports.machine_words import drives_of, machine_facts
from vrx.reports.order_words import cost_words, loads_content, order_lines, order_sum, price_words, total_cost
from vrx.reports.rate_classes import rate_classes
from vrx.reports.settings import settings
from vrx.reports.words import (
    amount_digits,
    area_number,
    area_unit,
    area_words,
    change_number,
    length_words,
    share_of_width_words,
    wanted_number,
)
from vrx.units import amount_text, number_text

_MOST_INPUTS = 3
# The part of a shapefile that holds the rates.
_RATES = ".dbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What is known of a build's files when its report is made.

    Attributes
    ----------
    by : str
        Program and version.
    plan_name : str
        File name of the plan.
    sheets, files : sequences
        The maps as laid out, and the files that hold them; no files in a stopped build.
    inputs : sequence of Checksum
    replaces : str
        What the build supersedes, as a sentence.
    changes : sequence of Change
        What was changed for this build alone.
    """

    by: str
    plan_name: str
    sheets: Sequence[Sheet]
    files: Sequence[WrittenFile]
    inputs: Sequence[Checksum]
    replaces: str = ""
    changes: Sequence[Change] = ()


def gather(
    plan: Plan,
    prescription: Prescription,
    ledger: Ledger,
    findings: Sequence[Finding],
    written: Written,
    *,
    pictures: bool = True,
    backdrop: Backdrop | None = None,
) -> Content:
    """Gather what people read about a build; nothing is worked out anew that the ledger has.

    Parameters
    ----------
    findings : sequence of Finding
        All of them, the worst first.
    pictures : bool
        With what there is to draw; without, all shapes are left out.
    """
    ground = prescription.zone_map.ground
    return Content(
        written_by=written.by,
        stopped=any(one.severity == "stop" for one in findings),
        title=plan.field.name,
        facts=tuple(Fact(label=label, value=value) for label, value in _facts(plan, written) if value),
        notes=plan.notes,
        replaces=written.replaces,
        paper="letter" if plan.units == "us" else "a4",
        area_unit=area_unit(plan),
        areas=_areas(plan, ledger),
        area_notes=area_notes(plan, ledger, ground),
        place=_place(ground),
        crs=_crs(plan, ground),
        grid=ground.grid_crs,
        boundary=drawn_outline(ground.boundary, ground.boundary) if pictures else "",
        keep_outs=_keep_outs(plan, ground, pictures=pictures),
        machine=machine_facts(plan),
        products=tuple(
            _product(
                rate, found, account, plan=plan, zone_map=prescription.zone_map, written=written, pictures=pictures
            )
            for rate, found, account in zip(plan.rate, prescription.maps, ledger.products, strict=True)
        ),
        findings=tuple(
            finding_content(
                number, one, crs=ground.frame.crs, tolerance=tolerance_m(ground.boundary), pictures=pictures
            )
            for number, one in enumerate(findings, start=1)
        ),
        cautions=cautions(plan),
        limits=tuple(_limits(plan, written.sheets)),
        inputs=tuple(written.inputs),
        outputs=tuple(Checksum(path=one.path, sha256=one.sha256) for one in written.files),
        reproduce=_reproduce(plan, written),
        backdrop=backdrop,
        cost=total_cost(ledger),
    )


def _facts(plan: Plan, written: Written) -> Iterator[tuple[str, str]]:
    field = plan.field
    yield "Client", field.client
    yield "Farm", field.farm
    yield "Field", field.name
    yield "Season", str(field.season or "")
    yield "Crop", field.crop
    yield "Date", plan.date.isoformat() if plan.date else ""
    yield "Revision", str(plan.revision)
    yield "Prepared by", plan.prepared_by
    yield "Approved by", plan.approved_by
    yield CHANGED, "; ".join(one.text for one in written.changes)


def _areas(plan: Plan, ledger: Ledger) -> tuple[AreaLine, ...]:
    lines = [AreaLine(label="Within the boundary", true=area_words(ledger.boundary_area_m2, plan), sheet="")]
    if ledger.rest_area_m2:
        lines.append(AreaLine(label="Outside the part to treat", true=area_words(ledger.rest_area_m2, plan), sheet=""))
    if ledger.keep_out_area_m2:
        kept_out = area_words(ledger.keep_out_area_m2, plan)
        lines.append(AreaLine(label="Keep-outs for every product", true=kept_out, sheet=""))
    treated = area_words(ledger.geodesic_area_m2, plan)
    sheet = area_words(ledger.grid_area_m2, plan)
    return (*lines, AreaLine(label="Ground to treat", true=treated, sheet=sheet))


def _place(ground: Ground) -> str:
    latitude, longitude = ground.frame.latitude, ground.frame.longitude
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{abs(latitude):.4f} {north}, {abs(longitude):.4f} {east}"


def _crs(plan: Plan, ground: Ground) -> tuple[Fact, ...]:
    grid, maps = parse_crs(ground.grid_crs).name, parse_crs(plan.receiver.crs).name
    return (
        Fact(label="Map coordinates of the files (CRS)", value=f"{maps} ({plan.receiver.crs})"),
        Fact(label="Map sheet for the second area (grid)", value=f"{grid} ({ground.grid_crs})"),
    )


def _keep_outs(plan: Plan, ground: Ground, *, pictures: bool) -> tuple[KeepOutContent, ...]:
    return tuple(
        KeepOutContent(
            name=one.name,
            binds=", ".join(one.products) or "every product",
            set_back=length_words(one.set_back_m, plan) if one.set_back_m else "",
            area=area_words(float(shapely.area(one.shape)), plan),
            shape=drawn_outline(one.shape, ground.boundary) if pictures else "",
        )
        for one in ground.keep_outs
    )


def _product(
    rate: RateOfPlan,
    found: ProductMap,
    account: ProductLedger,
    *,
    plan: Plan,
    zone_map: ZoneMap,
    written: Written,
    pictures: bool,
) -> ProductContent:
    product, unit = found.product, account.total_unit
    digits = amount_digits(account.total_given, unit)
    classes = rate_classes(product, account, plan)
    sheet, column = _column(product.name, written.sheets)
    return ProductContent(
        name=product.name,
        kind=product.form if product.form == product.use else f"{product.form} {product.use}",
        allowed=product.allowed_text,
        unit=account.unit,
        amount_unit=unit,
        settings=settings(product),
        total=f"{account.total_given:,.{digits}f} {unit}",
        other_units=tuple(f"{amount_text(amount)} {name}" for name, amount in account.to_buy if name != unit),
        true_area=area_words(account.geodesic_area_m2, plan),
        sheet_area=area_words(account.grid_area_m2, plan),
        sums=_sums(account, plan, digits),
        rows=tuple(
            _row(row, found, account, plan, digits=digits, rate_class=rate_class)
            for row, rate_class in zip(account.rows, classes.of_row, strict=True)
        ),
        classes=classes.classes,
        patches=patches(zone_map, account, plan) if pictures else (),
        keep_outs=tuple(at for at, one in enumerate(zone_map.ground.keep_outs) if one.binds(product.name)),
        method=method(rate, found, plan),
        example=example(rate, found, account, plan),
        files=tuple(_files(sheet, written.files)),
        column=column.name if column else "",
        written_unit=column.unit if column else "",
        written_rates=_written_rates(found, column),
        overlays=tuple(
            OverlayLine(
                name=one.name,
                what=one.what,
                area=area_words(one.area_m2, plan),
                amount=f"{change_number(one.amount, digits)} {unit}",
            )
            for one in account.overlays
        ),
        drives=drives_of(product.name, plan),
        price=price_words(account.order),
        currency=product.price.currency if product.price is not None else "",
        order=order_lines(account.order, digits),
        order_sum=order_sum(account.order, digits),
        loads=_loads(account, product, plan, digits),
        share=share_of_width_words(account.share) if account.share != 1 else "",
        product_area=area_words(account.product_area_m2, plan) if account.share != 1 else "",
        width_note=_width_note(account, plan) if account.share != 1 else "",
    )


def _width_note(account: ProductLedger, plan: Plan) -> str:
    field, own = (area_words(one, plan) for one in (account.geodesic_area_m2, account.product_area_m2))
    return (
        f"{share_of_width_words(account.share)} of the width carries it: it gets {own} of the {field} of the field, "
        f"and its amounts go by the {own}."
    )


def _loads(account: ProductLedger, product: Product, plan: Plan, digits: int) -> LoadsContent | None:
    loads = loads_content(account, product, plan, digits)
    if loads is None or account.loads is None or not account.loads.stays:
        return loads
    stays = account.loads.stays
    on_hand = account.order.to_order + stays
    return replace(loads, stays=f"{float(stays):,.{digits}f}", on_hand=f"{float(on_hand):,.{digits}f}")


def _sums(account: ProductLedger, plan: Plan, digits: int) -> str:
    limits, joining = (change_number(one, digits) for one in (account.changed_by_limits, account.changed_by_joining))
    return (
        f"total given {account.total_given:,.{digits}f} {account.total_unit} on "
        f"{_ground(account, plan)} = wanted {account.total_wanted:,.{digits}f}, "
        f"limits and steps {limits}, joining small parts {joining}"
    )


def _ground(account: ProductLedger, plan: Plan) -> str:
    whole = area_words(account.geodesic_area_m2, plan)
    if account.share == 1:
        return whole
    return f"{whole} of the field, {area_words(account.product_area_m2, plan)} of this product"


def _row(
    row: LedgerRow, found: ProductMap, account: ProductLedger, plan: Plan, *, digits: int, rate_class: int
) -> RowContent:
    more = f" and {len(row.inputs) - _MOST_INPUTS} more" if len(row.inputs) > _MOST_INPUTS else ""
    return RowContent(
        zone=row.zone,
        inputs=", ".join(row.inputs[:_MOST_INPUTS]) + more,
        wanted=wanted_number(row.wanted, found.product),
        limited=number_text(row.limited),
        given=number_text(row.given),
        why=row.why,
        true_area=area_number(row.geodesic_area_m2, plan),
        sheet_area=area_number(row.grid_area_m2, plan),
        amount=f"{row.amount_given:,.{digits}f}",
        rate_class=rate_class,
        cost=cost_words(row.amount_given, account.order),
    )


def _column(product: str, sheets: Sequence[Sheet]) -> tuple[Sheet, RateColumn] | tuple[None, None]:
    for sheet in sheets:
        for column in sheet.columns:
            if column.product == product:
                return sheet, column
    return None, None


def _files(sheet: Sheet | None, files: Sequence[WrittenFile]) -> Iterator[MapFile]:
    if sheet is None:
        return
    mine = [one for one in files if one.path.rpartition("/")[2].partition(".")[0] == sheet.name]
    for one in mine:
        if not one.format.endswith(" part"):
            parts = [each for each in mine if each.format == f"{one.format} part"]
            yield MapFile(
                name=one.path.rpartition("/")[2],
                format=one.format,
                code=sheet.name.rpartition("_")[2],
                sha256=one.sha256,
                beside=tuple(each.path.rpartition("/")[2] for each in parts),
                rates_sha256=next((each.sha256 for each in parts if each.path.endswith(_RATES)), ""),
            )


def _written_rates(found: ProductMap, column: RateColumn | None) -> tuple[Fact, ...]:
    product = found.product
    if column is None or column.unit == product.unit.name:
        return ()
    pairs = {
        number: column.rate_text(at) for at, number in enumerate(column.step_numbers.tolist()) if number
    }  # the same number is written the same everywhere
    return tuple(
        Fact(label=product.rate_text(number), value=f"{pairs[number]} {column.unit}") for number in sorted(pairs)
    )


def finding_content(number: int, one: Finding, *, crs: str, tolerance: float, pictures: bool = True) -> FindingContent:
    """Return a finding as people read it.

    Parameters
    ----------
    number : int
        From 1.
    crs : str
        Of the local metres in which it is drawn.
    tolerance : float
        By how many metres an edge may move without anyone seeing it.
    pictures : bool
        With its place and ground.
    """
    shape, place = "", None
    if pictures and one.where is not None and not one.where.is_empty:
        local = move_shapes(one.where, WGS84, crs)
        point = shapely.point_on_surface(local)
        place = (round(float(point.x), 2), round(float(point.y), 2))
        simple = shapely.simplify(local, tolerance)
        shape = drawn_text(np.array([simple if not simple.is_empty else local], dtype=object))[0]
    return FindingContent(
        number=number,
        severity=one.severity,
        title=title_of(one.id),
        message=one.message,
        remedy=one.remedy,
        id=one.id,
        product=one.product,
        zone=one.zone,
        place=place,
        shape=shape,
    )


def _limits(plan: Plan, sheets: Sequence[Sheet]) -> Iterator[LimitMet]:
    receiver = plan.receiver
    for sheet in sheets:
        name = ", ".join(one.product for one in sheet.columns)
        most = int(shapely.get_num_coordinates(sheet.shapes).max(initial=0))
        yield LimitMet(
            limit=f"{name}: polygons in the file",
            allowed=f"{receiver.most_features:,}",
            needed=f"{len(sheet.shapes):,}",
        )
        yield LimitMet(
            limit=f"{name}: vertices of the largest polygon", allowed=f"{receiver.most_vertices:,}", needed=f"{most:,}"
        )
        yield LimitMet(
            limit=f"{name}: characters of the file name", allowed=str(receiver.name_length), needed=str(len(sheet.name))
        )
        for column in sheet.columns:
            widest = max((len(column.rate_text(at)) for at in range(len(column.counts))), default=0)
            if receiver.rate_width is not None:
                yield LimitMet(
                    limit=f"{column.product}: width of a rate", allowed=str(receiver.rate_width), needed=str(widest)
                )
            if receiver.rate_decimals is not None:
                yield LimitMet(
                    limit=f"{column.product}: decimals of a rate",
                    allowed=str(receiver.rate_decimals),
                    needed=str(column.decimals),
                )


def _reproduce(plan: Plan, written: Written) -> tuple[str, ...]:
    formats = ", ".join(plan.receiver.formats)
    command = shlex.join(
        ("vrx", "build", written.plan_name, *(w for one in written.changes for w in (one.option, one.said)))
    )
    return (
        f"Made by {written.by} from {written.plan_name} and the inputs below.",
        f"The same inputs, the same plan and the same versions give the same bytes: {command}",
        f"Compare the checksums (SHA-256) below; manifest.json holds them too, with the versions of the libraries. "
        f"Formats written: {formats}.",
    )
