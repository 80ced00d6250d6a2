"""Reading back what was written, and comparing it with what was meant."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.dosing.conversion import conversion_to_product
from vrx.errors import OutputError, VrxError
from vrx.geo.area import true_areas
from vrx.geo.coverage import is_coverage
from vrx.geo.crs import move_shapes, parse_crs
from vrx.inputs.cells import cell_text, read_numbers
from vrx.inputs.read import read_layer
from vrx.model.layer import Cell, Layer
from vrx.model.plan import Plan
from vrx.model.product import Product
from vrx.model.sheet import RateColumn, Sheet, Unrounded
from vrx.model.zone_map import Frame
from vrx.units import parse_unit

_AREA_SHARE = 2e-6
_ROUNDING_M = 1e-3
_APART_M = 2e-3
# Half of a digit is met exactly where a rate lies between two of them.
_ROUNDED = 1 + 1e-9


def verify_sheet(sheet: Sheet, unrounded: Unrounded, frame: Frame) -> None:
    """Compare the rounded polygons of a sheet with the ground that they stand for.

    Raises
    ------
    OutputError
        Neighbours do not fit, or an area differs by more than rounding explains.
    """
    amiss = _ground_amiss(sheet.shapes, sheet.crs, unrounded, frame)
    if amiss:
        raise OutputError(
            f"{sheet.name} can't be rounded to the decimals of a file: {amiss}.",
            remedy="Nothing was written. Look for needles in the zones or simplify them a little, and report this with "
            "the plan.",
        )


def verify_file(path: Path, sheet: Sheet, unrounded: Unrounded, frame: Frame, plan: Plan) -> None:
    """Read a written map and compare it with its sheet: number of polygons, step numbers, CRS, and every vertex.

    A format that can't hold each coordinate to the last digit, or names the CRS otherwise, is compared like
    :func:`verify_sheet`, and has to lie in the same place within 2 mm.

    Raises
    ------
    OutputError
        It can't be read, or something differs.
    """
    try:
        layer = read_layer(path)
    except VrxError as err:
        raise _differs(path.name, f"it can't be read: {err.problem.rstrip('.')}") from err
    if len(layer.shapes) != len(sheet.shapes):
        raise _differs(path.name, f"{len(sheet.shapes)} polygons were written and {len(layer.shapes)} are there")
    _same_steps(path, layer, sheet, plan)
    if not (_same_crs(layer.crs, sheet.crs) and _identical(layer.shapes, sheet.shapes)):
        _same_place(path.name, layer, sheet, frame)
        amiss = _ground_amiss(layer.shapes, layer.crs, unrounded, frame)
        if amiss:
            raise _differs(path.name, amiss)


def verify_copy(path: Path, sheet: Sheet, unrounded: Unrounded, frame: Frame) -> None:
    """Read a mended map and compare it with its sheet: polygons, CRS, place, rates and every other cell.

    Unlike the maps of a build its polygons need not fit together, and its rates are compared as they are written.

    Raises
    ------
    OutputError
        It can't be read, or something differs.
    """
    try:
        layer = read_layer(path)
    except VrxError as err:
        raise _differs(path.name, f"it can't be read: {err.problem.rstrip('.')}") from err
    if len(layer.shapes) != len(sheet.shapes):
        raise _differs(path.name, f"{len(sheet.shapes)} polygons were written and {len(layer.shapes)} are there")
    if not (_same_crs(layer.crs, sheet.crs) and _identical(layer.shapes, sheet.shapes)):
        _same_place(path.name, layer, sheet, frame)
    amiss = _ground_amiss(layer.shapes, layer.crs, unrounded, frame, fitting=False)
    if amiss:
        raise _differs(path.name, amiss)
    rates = ((column.name, [column.rate_text(at) for at in range(len(column.counts))]) for column in sheet.columns)
    numbers = [*rates, *((label.name, label.cells) for label in sheet.labels if label.kind == "number")]
    for name, texts in numbers:
        meant = np.array([np.nan if text is None else float(text) for text in texts])
        _same_cells(path.name, name, layer, _floats(layer, name), meant)
    for label in sheet.labels:
        if label.kind == "text":
            found = np.array([cell_text(cell) for cell in _cells(layer, label.name)], dtype=object)
            _same_cells(path.name, label.name, layer, found, np.array([cell_text(one) for one in label.cells], object))


def _cells(layer: Layer, name: str) -> tuple[Cell, ...]:
    # A column without a single cell need not come back.
    return layer.columns[name].cells if name in layer.columns else (None,) * len(layer.records)


def _floats(layer: Layer, name: str) -> NDArray[np.float64]:
    # No codes for no data here: a number is to come back as it was written.
    return np.array([np.nan if cell is None else float(cell) for cell in _cells(layer, name)], dtype=np.float64)


def _same_cells(file: str, name: str, layer: Layer, found: NDArray[Any], meant: NDArray[Any]) -> None:
    same = found == meant
    if meant.dtype == np.float64:
        same |= np.isnan(found) & np.isnan(meant)
    wrong = np.flatnonzero(~same)
    if len(wrong):
        at = int(wrong[0])
        cell = _cells(layer, name)[at]
        raise _differs(file, f"in column {name} {str(meant[at])!r} came back as {cell_text(cell)!r}")


def _identical(shapes: NDArray[np.object_], others: NDArray[np.object_]) -> bool:
    return bool(shapely.equals_identical(shapely.normalize(shapes), shapely.normalize(others)).all())


def _same_crs(text: str, other: str) -> bool:
    return text == other or bool(parse_crs(text).equals(parse_crs(other), ignore_axis_order=True))


def _same_place(name: str, layer: Layer, sheet: Sheet, frame: Frame) -> None:
    found = shapely.boundary(move_shapes(layer.shapes, layer.crs, frame.crs))
    meant = shapely.boundary(move_shapes(sheet.shapes, sheet.crs, frame.crs))
    apart = shapely.hausdorff_distance(found, meant)
    # NaN, where a shape is missing, is never near enough.
    wrong = np.flatnonzero(~(apart <= _APART_M))
    if len(wrong):
        raise _differs(name, f"polygon {int(wrong[0]) + 1} lies {apart[wrong[0]]:.3f} m from where it was meant")


def _ground_amiss(
    shapes: NDArray[np.object_], crs: str, unrounded: Unrounded, frame: Frame, *, fitting: bool = True
) -> str:
    """Say in what polygons differ from the ground that they stand for; nothing where they do not."""
    if not shapely.is_valid(shapes).all() or (fitting and not is_coverage(shapes)):
        return "the polygons no longer fit together"
    meant = unrounded.area_m2
    areas = true_areas(move_shapes(shapes, crs, frame.crs), frame)
    found = np.bincount(unrounded.source, weights=areas, minlength=len(meant))
    # The perimeter as it was: of a needle that rounding flattens none is left. A speck may fill a cell of the grid.
    moved = (unrounded.perimeter_m + 4 * _ROUNDING_M) * _ROUNDING_M
    wrong = np.flatnonzero(~(np.abs(found - meant) <= np.maximum(_AREA_SHARE * meant, moved)))
    if not len(wrong):
        return ""
    at = int(wrong[0])
    return f"a polygon of {meant[at]:.3f} m2 comes out with {found[at]:.3f} m2"


def _same_steps(path: Path, layer: Layer, sheet: Sheet, plan: Plan) -> None:
    """Turn the rates that were read into the unit of the step, and compare them with those of the step numbers."""
    products = {product.name: product for product in plan.rated}
    for column in sheet.columns:
        if column.name not in layer.columns:
            raise _differs(path.name, f"the column {column.name} is not there")
        product = products[column.product]
        per_unit = _in_step_unit(column, product, plan)
        half_digit = per_unit / (2 * 10**column.decimals)
        if half_digit > product.step.value / 2:
            raise _differs(path.name, f"{column.decimals} decimals of {column.unit} do not part two steps")
        numbers, at_number = np.unique(column.step_numbers, return_inverse=True)
        meant = np.array([float(product.rate_of(number)) for number in numbers.tolist()])[at_number]
        found = read_numbers(layer.columns[column.name]).values * float(per_unit)
        # NaN, where a cell could not be read, is never within half a digit.
        wrong = np.flatnonzero(~(np.abs(found - meant) <= float(half_digit) * _ROUNDED + 4 * np.spacing(meant)))
        if len(wrong):
            at = int(wrong[0])
            cell = layer.columns[column.name].cells[at]
            rate = product.rate_text(int(column.step_numbers[at]))
            raise _differs(path.name, f"a rate of {rate} came back as {cell!r} in {column.unit}")


def _in_step_unit(column: RateColumn, product: Product, plan: Plan) -> Fraction:
    """Return one of the written unit in the unit of the step: worked out anew, not taken from what was written."""
    if column.unit == product.unit.name:
        return Fraction(1)
    return conversion_to_product(parse_unit(column.unit, plan.dialect), product).factor


def _differs(name: str, what: str) -> OutputError:
    return OutputError(
        f"{name} did not come back as it was written: {what}.",
        remedy="Nothing was put in place. Check the disk, and report this with the plan if it stays.",
    )
