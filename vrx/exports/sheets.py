"""From a prescription to sheets: equal neighbours merged, rates in the receiver's unit, names that load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.dosing.conversion import conversion_to_product
from vrx.exports.limits import receiver_findings
from vrx.exports.names import column_names, content_code, file_stem, renamed_finding
from vrx.geo.area import true_areas
from vrx.geo.merge import for_file, merge_equal
from vrx.model.finding import Finding
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription, ProductMap
from vrx.model.product import Product
from vrx.model.sheet import RateColumn, Sheet
from vrx.units import Unit, decimals_needed, parse_unit

NO_DATE = "1980-01-01"
_KEPT_OUT = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """The maps of a bundle, and what there is to say about them.

    Attributes
    ----------
    areas_m2, sources : tuple of arrays
        For each sheet the true areas of its polygons before they were rounded, and which of them each shape
        of the sheet comes from: rounding may break or lose a polygon a millimetre wide.
    """

    sheets: tuple[Sheet, ...]
    areas_m2: tuple[NDArray[np.float64], ...]
    sources: tuple[NDArray[np.int64], ...]
    findings: tuple[Finding, ...]


def make_sheets(prescription: Prescription, plan: Plan) -> Sheets:
    """Lay out the maps as the plan's receiver wants them.

    One sheet a product, or one for all with a column a product. Keep-outs are polygons of their own at rate 0,
    or left out where the receiver's keep-outs are holes.
    """
    together = plan.receiver.files == "one column a product"
    groups = [prescription.maps] if together else [(one,) for one in prescription.maps]
    wanted = [one.product.name if together else plan.receiver.rate_column for one in prescription.maps]
    if not together:
        names = tuple(column_names([plan.receiver.rate_column])[0] for _ in wanted)
    else:
        names = column_names(wanted)
    if "shapefile" not in plan.receiver.formats and not together:
        names = tuple(wanted)
    sheets: list[Sheet] = []
    areas: list[NDArray[np.float64]] = []
    sources: list[NDArray[np.int64]] = []
    findings: list[Finding] = []
    renamed = renamed_finding(dict(zip(wanted, names, strict=True)).items())
    if renamed:
        findings.append(renamed)
    for maps in groups:
        columns = names if together else (names[len(sheets)],)
        sheet, area_m2, source = _sheet(prescription, maps, columns, plan, taken=[one.name for one in sheets])
        sheets.append(sheet)
        areas.append(area_m2)
        sources.append(source)
        findings += receiver_findings(sheet, plan.receiver)
    return Sheets(sheets=tuple(sheets), areas_m2=tuple(areas), sources=tuple(sources), findings=tuple(findings))


def _sheet(
    prescription: Prescription, maps: Sequence[ProductMap], names: Sequence[str], plan: Plan, *, taken: list[str]
) -> tuple[Sheet, NDArray[np.float64], NDArray[np.int64]]:
    zone_map = prescription.zone_map
    # A row of step numbers for each piece; equal rows are one rate, and keep-outs are rows of their own.
    rows = np.column_stack([np.where(one.treated, one.numbers, _KEPT_OUT) for one in maps])
    kinds, keys = np.unique(rows, axis=0, return_inverse=True)
    frame = zone_map.ground.frame
    united = merge_equal(zone_map.shapes, keys.ravel().astype(np.int64))
    if plan.receiver.keep_outs == "hole":
        united = united.where((kinds[united.keys] != _KEPT_OUT).any(axis=1))
    merged = for_file(united, frame.crs, plan.receiver.crs)
    numbers = kinds[merged.keys]
    numbers = np.where(numbers == _KEPT_OUT, 0, numbers)
    columns = tuple(rate_column(name, numbers[:, at], maps[at].product, plan) for at, name in enumerate(names))
    products = ", ".join(one.product.name for one in maps)
    code = content_code(
        b"".join(shapely.to_wkb(merged.shapes, byte_order=1)),
        *(f"{one.name}\0{one.product}\0{one.unit}\0{one.decimals}".encode() for one in columns),
        *(one.counts.astype("<i8").tobytes() for one in columns),
    )
    parts = [products, columns[0].unit if len(columns) == 1 else "", plan.field.name, str(plan.field.season or "")]
    sheet = Sheet(
        name=file_stem(
            plan.field.name, plan.field.season, products, code, longest=plan.receiver.name_length, taken=taken
        ),
        crs=plan.receiver.crs,
        shapes=merged.shapes,
        columns=columns,
        date=plan.date.isoformat() if plan.date else NO_DATE,
        description=", ".join(part for part in parts if part),
    )
    return sheet, true_areas(united.shapes, frame), merged.source


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
    if not exact or decimals > _most_decimals(step):
        decimals = _most_decimals(step)
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
    unit = parse_unit(plan.receiver.unit, plan.dialect)
    return unit, conversion_to_product(unit, product).factor


def _most_decimals(step: Fraction) -> int:
    """Return the decimals with which the last written digit is at most a twentieth of a step."""
    decimals = 0
    while Fraction(1, 10**decimals) > step / 20:
        decimals += 1
    return decimals


def _half_up(value: Fraction) -> int:
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
