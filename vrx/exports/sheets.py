"""From a prescription to sheets: equal neighbours merged, rates in the receiver's unit, names that load."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.dosing.conversion import conversion_to_product
from vrx.errors import UnitError
from vrx.exports.limits import receiver_findings
from vrx.exports.names import column_names, content_code, file_stem, renamed_finding
from vrx.geo.area import true_areas
from vrx.geo.crs import WGS84
from vrx.geo.merge import Merged, for_file, merge_equal
from vrx.model.finding import Finding
from vrx.model.prescription import KEPT_OUT, Prescription, ProductMap
from vrx.model.sheet import RateColumn, Sheet, Unrounded
from vrx.model.zone_map import Frame
from vrx.units import Unit, decimals_needed, parse_unit
from vrx.words import some

if TYPE_CHECKING:
    from vrx.model.plan import Plan
    from vrx.model.product import Product
    from vrx.model.receiver import Format, Receiver

NO_DATE = "1980-01-01"
# Decimals that are always worth writing where they are exact: 0.0625 is no rate to be rounded.
_EXACT_DECIMALS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetToWrite:
    """A sheet, the formats that it is written in, and what its shapes stand for."""

    sheet: Sheet
    formats: tuple[Format, ...]
    unrounded: Unrounded


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """The maps of a bundle, and what there is to say about them.

    Attributes
    ----------
    to_write : tuple of SheetToWrite
        A map whose formats need two CRS is in it twice, under one name.
    """

    to_write: tuple[SheetToWrite, ...]
    findings: tuple[Finding, ...]

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """Each map once, in the CRS of the first of its formats."""
        by_name: dict[str, Sheet] = {}
        for one in self.to_write:
            by_name.setdefault(one.sheet.name, one.sheet)
        return tuple(by_name.values())


def make_sheets(prescription: Prescription, plan: Plan) -> Sheets:
    """Lay out the maps as the plan's receiver wants them.

    One sheet a product, or one for all with a column a product. Keep-outs are polygons of their own at rate 0,
    or left out where the receiver's keep-outs are holes.
    """
    together = plan.receiver.files == "one column a product"
    wanted = [one.product.name if together else plan.receiver.rate_column for one in prescription.maps]
    if not together:
        names = tuple(column_names([plan.receiver.rate_column])[0] for _ in wanted)
    else:
        names = column_names(wanted)
    if "shapefile" not in plan.receiver.formats and not together:
        names = tuple(wanted)
    to_write: list[SheetToWrite] = []
    findings: list[Finding] = []
    renamed = renamed_finding(dict(zip(wanted, names, strict=True)).items())
    if renamed:
        findings.append(renamed)
    findings += [one for found in prescription.maps for one in _unit_findings(found, plan)]
    for at, laid in enumerate(merged_maps(prescription, plan.receiver)):
        columns = names if together else (names[at],)
        taken = [one.sheet.name for one in to_write]
        of_map = list(_sheets_of(laid, prescription.zone_map.ground.frame, columns, plan, taken=taken))
        to_write += of_map
        found = [finding for one in of_map for finding in receiver_findings(one.sheet, plan.receiver)]
        findings += {(one.id, one.message): one for one in found}.values()
    return Sheets(to_write=tuple(to_write), findings=tuple(findings))


@dataclass(frozen=True, slots=True, kw_only=True)
class MergedMaps:
    """The polygons of one sheet before they are laid out.

    Attributes
    ----------
    maps : tuple of ProductMap
        The products on the sheet.
    polygons : Merged
        In the field's frame; neighbours with equal rates are one polygon.
    numbers : int64 array, shape (n_polygons, n_maps)
        Step numbers; 0 where a product is off or may not go.
    """

    maps: tuple[ProductMap, ...]
    polygons: Merged
    numbers: NDArray[np.int64]


def merged_maps(prescription: Prescription, receiver: Receiver) -> Iterator[MergedMaps]:
    """Unite neighbours with equal rates, sheet by sheet.

    Keep-outs are polygons of their own. Where the receiver's keep-outs are holes, ground that no product of the
    sheet may go onto is left out.
    """
    together = receiver.files == "one column a product"
    for maps in (prescription.maps,) if together else ((one,) for one in prescription.maps):
        # A row of step numbers for each piece; equal rows are one rate, and keep-outs are rows of their own.
        rows = np.column_stack([np.where(one.treated, one.numbers, KEPT_OUT) for one in maps])
        kinds, keys = np.unique(rows, axis=0, return_inverse=True)
        united = merge_equal(prescription.zone_map.shapes, keys.ravel().astype(np.int64))
        if receiver.keep_outs == "hole":
            united = united.where((kinds[united.keys] != KEPT_OUT).any(axis=1))
        numbers = kinds[united.keys]
        yield MergedMaps(maps=maps, polygons=united, numbers=np.where(numbers == KEPT_OUT, 0, numbers))


def _sheets_of(
    laid: MergedMaps, frame: Frame, names: Sequence[str], plan: Plan, *, taken: list[str]
) -> Iterator[SheetToWrite]:
    """Yield a map in each CRS that its formats need, all under the name of the first."""
    meant = laid.polygons.shapes
    area_m2, perimeter_m = true_areas(meant, frame), shapely.length(meant)
    stem = ""
    for crs, formats in _formats_by_crs(plan.receiver).items():
        merged = for_file(laid.polygons, frame.crs, crs)
        numbers = laid.numbers[merged.source]
        columns = tuple(rate_column(name, numbers[:, at], laid.maps[at].product, plan) for at, name in enumerate(names))
        stem = stem or _stem(merged.shapes, columns, plan, taken)
        sheet = Sheet(
            name=stem,
            crs=crs,
            shapes=merged.shapes,
            columns=columns,
            date=plan.date.isoformat() if plan.date else NO_DATE,
            description=_description(columns, plan),
        )
        unrounded = Unrounded(area_m2=area_m2, perimeter_m=perimeter_m, source=merged.source)
        yield SheetToWrite(sheet=sheet, formats=tuple(formats), unrounded=unrounded)


def _formats_by_crs(receiver: Receiver) -> dict[str, list[Format]]:
    """Return the formats in each CRS: GeoJSON is WGS 84 by its standard, whatever the others are in."""
    found: dict[str, list[Format]] = {}
    for form in receiver.formats:
        found.setdefault(WGS84 if form == "geojson" else receiver.crs, []).append(form)
    return found


def _stem(shapes: NDArray[np.object_], columns: Sequence[RateColumn], plan: Plan, taken: list[str]) -> str:
    code = content_code(
        b"".join(shapely.to_wkb(shapes, byte_order=1)),
        *(f"{one.name}\0{one.product}\0{one.unit}\0{one.decimals}".encode() for one in columns),
        *(one.counts.astype("<i8").tobytes() for one in columns),
    )
    products = ", ".join(one.product for one in columns)
    together = plan.receiver.files == "one column a product"
    return file_stem(
        plan.field.name,
        plan.field.season,
        products,
        code,
        longest=plan.receiver.name_length,
        taken=taken,
        beside=() if together else [one.name for one in plan.rated],
    )


def _description(columns: Sequence[RateColumn], plan: Plan) -> str:
    # Columns of one file may have units of their own, and nothing else in the file says so.
    rates = (
        [f"{one.product} in {one.unit}" for one in columns]
        if len(columns) > 1
        else [columns[0].product, columns[0].unit]
    )
    return ", ".join(part for part in (*rates, plan.field.name, str(plan.field.season or "")) if part)


def _unit_findings(found: ProductMap, plan: Plan) -> list[Finding]:
    """Show people both units where the rates are written in another unit than the one in which the machine steps."""
    product = found.product
    used = np.unique(found.numbers[found.treated & (found.numbers > 0)])
    column = rate_column("", used, product, plan)
    if column.unit == product.unit.name or not len(used):
        return []
    pairs = [f"{product.rate_text(number)} as {column.rate_text(at)}" for at, number in enumerate(used.tolist())]
    return [
        Finding(
            id="rate-unit-written",
            severity="note",
            message=f"{product.name} is written in {column.unit}: {some(pairs)}.",
            remedy="Set the display to that unit.",
            product=product.name,
        )
    ]


def rate_column(name: str, numbers: NDArray[np.int64], product: Product, plan: Plan) -> RateColumn:
    """Write step numbers as rates in the receiver's unit, with decimals enough to find the step number again.

    Parameters
    ----------
    numbers : int64 array, shape (n_shapes,)
        Step numbers; 0 is off.
    """
    unit, per_step_unit = receiver_unit(product, plan)
    step, base = product.step.value / per_step_unit, product.base / per_step_unit
    decimals = decimals_needed(step, base)
    exact = all((value * 10**decimals).denominator == 1 for value in (step, base))
    if not exact or decimals > max(_most_decimals(step), _EXACT_DECIMALS):
        decimals = _most_decimals(step)
    held = plan.receiver.rate_decimals
    # Fewer do where the receiver holds no more and steps stay apart; in the machine's own unit a rate is never rounded.
    if held is not None and held < decimals and unit.name != product.unit.name and Fraction(1, 10**held) <= step / 2:
        decimals = held
    written = {
        number: _half_up(product.rate_of(number) / per_step_unit * 10**decimals)
        for number in np.unique(numbers).tolist()
    }
    return RateColumn(
        name=name,
        product=product.name,
        unit=unit.name,
        counts=np.array([written[number] for number in numbers.tolist()], dtype=np.int64),
        decimals=decimals,
        step_numbers=numbers.astype(np.int64),
    )


def receiver_unit(product: Product, plan: Plan) -> tuple[Unit, Fraction]:
    """Return the unit in which a product's rates are written, and one of it in the unit of the step.

    Raises
    ------
    UnitError
        The receiver's unit can't be reached from the product's with what the plan says of it.
    """
    if not plan.receiver.unit:
        return product.unit, Fraction(1)
    try:
        unit = parse_unit(plan.receiver.unit, plan.dialect)
        return unit, conversion_to_product(unit, product).factor
    except UnitError as err:
        raise err.at("receiver.unit", ("receiver", "unit")) from err


def _most_decimals(step: Fraction) -> int:
    """Return the decimals with which the last written digit is at most a twentieth of a step."""
    decimals = 0
    while Fraction(1, 10**decimals) > step / 20:
        decimals += 1
    return decimals


def _half_up(value: Fraction) -> int:
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
