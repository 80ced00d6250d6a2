"""Mending a map: its file and shapes, and where that is asked for its rates; checked again when it was written.

Where to (target_of), then shapes, rates and columns; then the file: written, read back, put in place, checked again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely

from vrx.errors import InputError, OutputError, Problems, UnitError
from vrx.exports.formats import write_sheet
from vrx.exports.names import content_code
from vrx.exports.side_by_side import write_files
from vrx.geo.crs import WGS84, short_name
from vrx.geo.merge import decimals_of
from vrx.inputs.files import file_and_name
from vrx.inputs.rate_column import unit_in_name
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap
from vrx.model.fixed import Fixed
from vrx.model.sheet import RateColumn, Sheet
from vrx.runs.check import Against, check_map, read_against, read_groups
from vrx.runs.fix_columns import Columns, columns_of
from vrx.runs.fix_name import Target, named, target_of
from vrx.runs.fix_rates import MendedRates, rate_column, rates_as_they_are, rates_in_steps
from vrx.runs.fix_shapes import MendedShapes, mend_shapes
from vrx.runs.verify import verify_copy
from vrx.units import Unit, parse_unit

NO_DATE: Final = "1980-01-01"
_HEIGHTS: Final = ("has-z",)


def check_and_fix(
    maps: Sequence[Path | str],
    out: Path | str,
    *,
    rates: bool = False,
    force: bool = False,
    plan: Path | str | None = None,
    product: str = "",
    boundary: Path | str | None = None,
    groups: str = "",
    **reading: str,
) -> tuple[Check, Fixed]:
    """Check a map and mend it; the check of the map as it is comes first.

    Parameters
    ----------
    maps, plan, product, boundary, groups
        As of :func:`vrx.runs.check.check`.
    out, rates, force
        As of :func:`fix`.
    **reading : str
        ``column``, ``unit``, ``crs``, ``layer`` and ``decimal`` as of :func:`vrx.runs.check.check`.

    Raises
    ------
    VrxError
        As of both of them.
    """
    library = file_and_name(product)[0]
    named_files = [Path(one) for one in (*maps, plan, boundary, library) if one]
    against = read_against(plan=plan, product=product, boundary=boundary)
    planned = () if against.job is None else against.job.inputs
    inputs = tuple(dict.fromkeys((*named_files, *planned)))
    target_of(Path(out), maps=[Path(one) for one in maps], inputs=inputs, force=force)  # before any work is done
    grouping = read_groups(groups)
    checked = check_map(maps, against, grouping=grouping, **reading)

    def again(path: Path, column: str, unit: Unit | None) -> Check:
        return check_map(
            [path], _asked_again(against, checked.on), grouping=grouping, **_read_again(checked.on, column, unit)
        )

    found = fix(
        checked, Path(out), maps=[Path(one) for one in maps], inputs=inputs, again=again, rates=rates, force=force
    )
    return checked, found


def fix(
    check: Check,
    out: Path,
    *,
    maps: Sequence[Path],
    inputs: Sequence[Path],
    again: Callable[[Path, str, Unit | None], Check],
    rates: bool,
    force: bool = False,
) -> Fixed:
    """Write a mended map into a new file; the map itself stays as it is.

    Parameters
    ----------
    check : Check
        Of the map.
    out : Path
        A file name that ends with ``.shp``, ``.geojson`` or ``.gpkg``; or a folder, in which the mended map gets a name
        of its own.
    maps, inputs : sequence of Path
        The files of the map, and all files that were read for the check: none of them is ever written.
    again : callable
        Checks the mended file, by its path, the name of its rate column and the unit of that.
    rates : bool
        Rates are brought onto the steps of the product too, and within its limits.
    force : bool
        Replace a file that is there.

    Raises
    ------
    VrxError
        The map can't be mended, or nothing may be written there; then nothing was.
    """
    on = check.on
    target = target_of(out, maps=maps, inputs=inputs, force=force, on=on)
    _refuse_unknown(on)
    crs = WGS84 if target.form == "geojson" or on.plan is None else on.plan.receiver.crs
    shapes = _mended(on, crs)
    kept = rates_as_they_are(on, shapes.owner)
    given = rates_in_steps(check, kept, _ground_of(shapes, len(kept.rates))) if rates else kept
    columns = columns_of(on, target.form, shapes.owner, unit=given.unit, stated_hold=not shapes.reshaped)
    rate, digits = rate_column(columns.rate, _of_shapes(given, shapes), given.unit, on)
    sheet = _sheet(on, shapes, rate, columns, target)
    target = named(target, sheet.name)

    def fill(folder: Path) -> None:
        for one in write_sheet(sheet, folder, target.form):
            if one.suffix == target.path.suffix:
                verify_copy(one, sheet, shapes.unrounded, on.the_shapes.frame)

    files = write_files(target.path, target.files, fill, force=force)
    return Fixed(
        path=files[0],
        files=files,
        source=on.source.name,
        changes=(*shapes.changes, *given.changes, *digits, *_file_text(on, crs), *columns.changes),
        left=(*shapes.left, *columns.left),
        check=again(files[0], rate.name, given.unit),
    )


def _refuse_unknown(on: CheckedMap) -> None:
    """Refuse a map of which shapes or rates are not known."""
    if on.failures:
        raise on.failures[0] if len(on.failures) == 1 else Problems(on.failures)
    if on.shapes is None:
        raise InputError(
            "The map holds no polygon: there is nothing to mend.",
            remedy="Ask for a map of polygons.",
            where=on.source.name,
        )
    if on.rates is None:
        raise InputError(
            "It is not known which column holds the rates, and a mended map needs a rate in every shape.",
            remedy="Name the column with --column.",
            where=on.source.name,
        )


def _mended(on: CheckedMap, crs: str) -> MendedShapes:
    found = mend_shapes(on, crs)
    if not shapely.is_valid(found.shapes).all():
        raise OutputError(
            "The shapes can't be rounded to the decimals of a file: one of them is broken then.",
            remedy="Look for needles in the map, or simplify it a little.",
            where=on.source.name,
        )
    return found


def _ground_of(shapes: MendedShapes, count: int) -> Any:
    return np.bincount(shapes.owner, weights=shapes.area_m2, minlength=count)


def _of_shapes(given: MendedRates, shapes: MendedShapes) -> list[Any]:
    return [given.rates[at] for at in shapes.owner.tolist()]


def _sheet(on: CheckedMap, shapes: MendedShapes, rate: RateColumn, columns: Columns, target: Target) -> Sheet:
    code = content_code(
        b"".join(shapely.to_wkb(shapes.shapes, byte_order=1)),
        f"{rate.name}\0{rate.unit}\0{rate.decimals}".encode(),
        rate.counts.astype("<i8").tobytes(),
        *(f"{one.name}\0{one.kind}\0{one.cells!r}".encode() for one in columns.others),
    )
    said = (rate.product, rate.unit, "" if on.plan is None else on.plan.field.name)
    return Sheet(
        name=target.stem(code),
        crs=shapes.crs,
        shapes=shapes.shapes,
        columns=(rate,),
        date=on.plan.date.isoformat() if on.plan is not None and on.plan.date else NO_DATE,
        description=", ".join(filter(None, said)),
        labels=columns.others,
    )


def _file_text(on: CheckedMap, crs: str) -> list[str]:
    """Say in what the file differs that is neither shape nor rate."""
    found = []
    before, after = short_name(on.the_layer.crs), short_name(crs)
    if before != after:
        found.append(f"Its map coordinates (CRS) are {after}; they were {before}.")
    elif (
        decimals_of(crs) and on.source.format == "shp" and ".prj" not in {Path(one).suffix for one in on.source.sha256}
    ):
        found.append(f"The file says its map coordinates (CRS) itself now: {after}.")
    if any(one.id in _HEIGHTS for one in on.the_layer.findings):
        found.append("Heights and measures (Z, M) are left out.")
    return found


def _asked_again(against: Against, on: CheckedMap) -> Against:
    """Return what the mended map is checked against: a product that its name or bundle told is said from now on."""
    known = against.product(on.product_asked) is not None
    return replace(against, asked=on.product_asked) if known else against


def _read_again(on: CheckedMap, column: str, unit: Unit | None) -> dict[str, str]:
    """Return how the mended map is read: what it can't say itself any more is said."""
    as_before = unit == on.the_rates.unit and on.the_rates.unit_how == "product"
    if unit is None or as_before or unit_in_name(column, on.dialect) == unit:
        return {"column": column}
    for name in (unit.name, f"us_{unit.name}"):
        try:
            if parse_unit(name, on.dialect) == unit:
                return {"column": column, "unit": name}
        except UnitError:
            continue
    return {"column": column}
