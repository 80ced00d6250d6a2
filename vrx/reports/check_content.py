"""The content of a check's page: the map as one product, its records or rates as rows, and what was found.

Nothing is measured here; numbers are those of the check.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import fsum
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.crs import parse_crs, short_name
from vrx.model.check import Check
from vrx.model.checked_map import CheckedMap, MapShapes
from vrx.model.content import (
    AreaLine,
    Checksum,
    Content,
    Fact,
    FindingContent,
    KeepOutContent,
    Patch,
    ProductContent,
    RateClass,
    RowContent,
)
from vrx.model.finding import Finding
from vrx.reports.area_notes import is_web_mercator
from vrx.reports.cautions import cautions_of
from vrx.reports.check_words import rates_words
from vrx.reports.content import finding_content
from vrx.reports.drawn_shapes import drawn_outline, drawn_text, tolerance_m
from vrx.reports.words import area_number, area_unit, area_words, length_words, share_words
from vrx.units import Dialect, rate_number_text

NO_RATE: Final = "no rate"
_UNKNOWN: Final = "?"
# A line a record up to so many, else a line a rate; beyond the second number shapes of a class are drawn as one.
_MOST_RECORDS: Final = 200
_MOST_PATCHES: Final = 3000
_MOST_RATES: Final = 12
_SPANS: Final = 8


class _Place(NamedTuple):
    """How people tell areas and lengths."""

    units: str
    acre: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Classes:
    """Classes of rates from the lowest up, and which of them each record is in."""

    classes: tuple[RateClass, ...]
    of_record: NDArray[np.int64]


def check_content(check: Check, *, written_by: str) -> Content:
    """Gather what the page of a check draws and lists; a map that could not be read has no product, and is not drawn.

    Parameters
    ----------
    written_by : str
        Program and version.
    """
    on, place = check.on, _place_of(check.on.dialect)
    shapes = on.shapes
    findings = tuple(_finding(number, one, on) for number, one in enumerate(check.findings, start=1))
    return Content(
        written_by=written_by,
        stopped=False,  # nothing was built that a band across the map would have to forbid
        title=on.source.name,
        facts=tuple(Fact(label=label, value=value) for label, value in _facts(on) if value),
        notes="",
        replaces="",
        paper="letter" if place.units == "us" else "a4",
        area_unit=area_unit(place),
        areas=tuple(_areas(on, place)),
        area_notes=tuple(_area_notes(on)),
        place=_where(on),
        crs=() if on.layer is None else (Fact(label="Map coordinates (CRS)", value=_crs_words(on.layer.crs)),),
        boundary=_boundary(on),
        keep_outs=_keep_outs(on, place),
        machine=(),
        products=() if shapes is None else (_product(check, shapes, place),),
        findings=findings,
        cautions=cautions_of(() if on.product is None else (on.product,)),
        limits=(),
        inputs=tuple(Checksum(path=name, sha256=digest) for name, digest in on.source.sha256.items()),
        outputs=(),
        reproduce=(),
    )


def _place_of(dialect: Dialect) -> _Place:
    return _Place(units=dialect.system or "metric", acre=dialect.acre)


def _finding(number: int, one: Finding, on: CheckedMap) -> FindingContent:
    if on.shapes is None:
        made = finding_content(number, one, crs="", tolerance=0.0, pictures=False)
    else:
        made = finding_content(number, one, crs=on.shapes.frame.crs, tolerance=_tolerance(on.shapes))
    # There is one map and one product: what belongs to it needs no name.
    return replace(made, product="")


def _facts(on: CheckedMap) -> Iterator[tuple[str, str]]:
    yield "Product", on.product.name if on.product is not None else on.product_asked
    if on.product is not None:
        yield "Rates it can be given at", on.product.allowed_text
    if on.plan is not None:
        yield "Field", on.plan.field.name
        yield "Crop", on.plan.field.crop
        yield "Season", str(on.plan.field.season or "")
        yield "Plan", on.plan_name


def _where(on: CheckedMap) -> str:
    if on.shapes is None:
        return ""
    latitude, longitude = on.shapes.frame.latitude, on.shapes.frame.longitude
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{abs(latitude):.4f} {north}, {abs(longitude):.4f} {east}"


def _crs_words(text: str) -> str:
    name, short = parse_crs(text).name, short_name(text)
    return name if name == short else f"{name} ({short})"


def _areas(on: CheckedMap, place: _Place) -> Iterator[AreaLine]:
    if on.ground is not None:
        yield AreaLine(label="Within the boundary", true=area_words(on.ground.boundary_area_m2, place), sheet="")
    if on.shapes is None or on.layer is None:
        return
    yield AreaLine(
        label="Ground that the map covers, each spot once", true=area_words(on.shapes.covered_m2, place), sheet=""
    )
    sheet = _sheet_m2(on.layer.shapes, on.layer.crs)
    yield AreaLine(
        label="All its shapes, counted one by one",
        true=area_words(fsum(on.shapes.area_m2.tolist()), place),
        sheet="" if sheet is None else area_words(sheet, place),
    )


def _sheet_m2(shapes: NDArray[np.object_], crs_text: str) -> float | None:
    """Return the area of shapes on the flat sheet of their own coordinates; None where these are degrees."""
    crs = parse_crs(crs_text)
    if not crs.is_projected:
        return None
    metres = float(crs.axis_info[0].unit_conversion_factor or 1.0)
    return fsum(shapely.area(shapes[~shapely.is_missing(shapes)]).tolist()) * metres**2


def _area_notes(on: CheckedMap) -> Iterator[str]:
    yield "True ground is measured on the curved earth, on the WGS 84 ellipsoid: rates and totals go by it."
    if on.layer is None or on.shapes is None:
        return
    sheet, true = _sheet_m2(on.layer.shapes, on.layer.crs), fsum(on.shapes.area_m2.tolist())
    if sheet is None or not true:
        yield "The map is in degrees, on which nothing can be measured: a program that tells its area converted it."
        return
    yield (
        "The map's own sheet is flat, and no flat sheet is true everywhere: measured there, its shapes come out "
        f"{(sheet / true - 1) * 100:+.3f} % off."
    )
    if is_web_mercator(on.layer.crs):
        yield (
            "The map is in Web Mercator, which is made for maps on screens and grows towards the poles. A program that "
            f"measures on it tells {100 * sheet / true:.1f} % of the true ground, and as much product: go by true "
            "ground."
        )


def _tolerance(shapes: MapShapes) -> float:
    return tolerance_m(shapes.covered)


def _boundary(on: CheckedMap) -> str:
    # Beside a map that lies elsewhere, or far off, both would be dots.
    if on.ground is None or on.shapes is None or not on.shapes.meets_field:
        return ""
    return drawn_outline(on.ground.boundary, on.ground.boundary)


def _keep_outs(on: CheckedMap, place: _Place) -> tuple[KeepOutContent, ...]:
    if on.ground is None or not _boundary(on):
        return ()
    ground = on.ground
    return tuple(
        KeepOutContent(
            name=one.name,
            binds=", ".join(one.products) or "every product",
            set_back=length_words(one.set_back_m, place) if one.set_back_m else "",
            area=area_words(float(shapely.area(one.shape)), place),
            shape=drawn_outline(one.shape, ground.boundary),
        )
        for one in ground.keep_outs
    )


def _product(check: Check, shapes: MapShapes, place: _Place) -> ProductContent:
    on = check.on
    classed = _classes(on, shapes, place)
    there = np.flatnonzero(~shapely.is_missing(shapes.shapes))
    by_record = len(there) <= _MOST_RECORDS
    row_of, rows = _record_rows(check, there, classed, place) if by_record else _rate_rows(on, classed, there, place)
    name = on.product.name if on.product is not None else on.product_asked or "The map"
    unit = on.rates.unit_name if on.rates is not None else ""
    ground = () if on.ground is None else on.ground.keep_outs
    bound = tuple(at for at, one in enumerate(ground) if on.product is None or one.binds(on.product.name))
    return ProductContent(
        name=name,
        kind="",
        allowed="" if on.product is None else on.product.allowed_text,
        unit=unit,
        amount_unit="",
        settings=(),
        total="",
        other_units=(),
        true_area=area_words(shapes.covered_m2, place),
        sheet_area="",
        sums=rates_words(on),
        rows=rows,
        classes=classed.classes,
        patches=tuple(_patches(shapes, there, row_of)),
        keep_outs=bound if _boundary(on) else (),
        method=(),
        example=(),
        files=(),
        column="" if on.rates is None else on.rates.column,
        written_unit=unit,
        written_rates=(),
    )


def _classes(on: CheckedMap, shapes: MapShapes, place: _Place) -> _Classes:
    """Sort records by their rate: a class a rate, or spans where there are too many to tell apart."""
    numbers = np.full(len(shapes.shapes), np.nan) if on.rates is None else on.rates.numbers.values
    known = np.isfinite(numbers)
    groups: list[tuple[str, float, NDArray[np.bool_]]] = []
    if not known.all():
        groups.append((NO_RATE if on.rates is not None else "rate not known", -1.0, ~known))
    if (known & (numbers == 0)).any():
        groups.append(("0", -1.0, known & (numbers == 0)))
    spans = _spans(np.unique(numbers[known & (numbers != 0)]))
    for at, (low, high) in enumerate(spans):
        shade = at / (len(spans) - 1) if len(spans) > 1 else 0.5
        words = rate_number_text(low) if low == high else f"{rate_number_text(low)} to {rate_number_text(high)}"
        groups.append((words, shade, known & (numbers >= low) & (numbers <= high) & (numbers != 0)))
    whole = fsum(shapes.area_m2.tolist())
    of_record = np.zeros(len(numbers), dtype=np.int64)
    classes = []
    for at, (words, shade, mine) in enumerate(groups):
        of_record[mine] = at
        area = fsum(shapes.area_m2[mine].tolist())
        classes.append(
            RateClass(rate=words, shade=shade, area=area_number(area, place), share=share_words(area, whole), amount="")
        )
    return _Classes(classes=tuple(classes), of_record=of_record)


def _spans(rates: NDArray[np.float64]) -> list[tuple[float, float]]:
    """Return the lowest and highest rate of each class; the rates come sorted, each once."""
    if len(rates) <= _MOST_RATES:
        return [(one, one) for one in rates.tolist()]
    edges = np.linspace(rates[0], rates[-1], _SPANS + 1)[1:-1]
    of_rate = np.searchsorted(edges, rates, side="right")
    parts = (rates[of_rate == at] for at in range(_SPANS))
    return [(float(part[0]), float(part[-1])) for part in parts if len(part)]


def _record_rows(
    check: Check, there: NDArray[np.int64], classed: _Classes, place: _Place
) -> tuple[NDArray[np.int64], tuple[RowContent, ...]]:
    """Return a row a record: by which findings it is concerned stands where a zone has its inputs."""
    on = check.on
    found: dict[int, list[str]] = {}
    for number, one in enumerate(check.findings, start=1):
        for record in one.features:
            found.setdefault(record, []).append(str(number))
    rows = tuple(
        _row(
            zone=on.called(at),
            inputs=", ".join(found.get(on.record(at), [])),
            given=_given(on, at),
            true_area=area_number(float(on.the_shapes.area_m2[at]), place),
            rate_class=int(classed.of_record[at]),
        )
        for at in there.tolist()
    )
    return np.arange(len(there)), rows


def _rate_rows(
    on: CheckedMap, classed: _Classes, there: NDArray[np.int64], place: _Place
) -> tuple[NDArray[np.int64], tuple[RowContent, ...]]:
    """Return a row a rate, or a class of rates; how many records it has stands where a zone has its inputs."""
    rows, of_record = [], classed.of_record[there]
    for at, one in enumerate(classed.classes):
        mine = there[of_record == at]
        area = fsum(on.the_shapes.area_m2[mine].tolist())
        rows.append(
            _row(zone="", inputs=f"{len(mine):,}", given=one.rate, true_area=area_number(area, place), rate_class=at)
        )
    return of_record, tuple(rows)


def _row(*, zone: str, inputs: str, given: str, true_area: str, rate_class: int) -> RowContent:
    return RowContent(
        zone=zone, inputs=inputs, wanted="", limited="", given=given, why="", true_area=true_area, sheet_area="",
        amount="", rate_class=rate_class,
    )  # fmt: skip


def _given(on: CheckedMap, at: int) -> str:
    if on.rates is None:
        return _UNKNOWN
    rate = float(on.rates.numbers.values[at])
    return rate_number_text(rate) if np.isfinite(rate) else NO_RATE


def _patches(shapes: MapShapes, there: NDArray[np.int64], row_of: NDArray[np.int64]) -> Iterator[Patch]:
    """Yield what is drawn, each part in one piece by itself."""
    drawn = shapely.simplify(shapes.shapes[there], _tolerance(shapes))
    if len(drawn) > _MOST_PATCHES:
        row_of, drawn = _together(drawn, row_of)
    parts, at = shapely.get_parts(drawn, return_index=True)
    for row, text in zip(row_of[at].tolist(), drawn_text(parts), strict=True):
        if text:
            yield Patch(row=row, shape=text)


def _together(shapes: NDArray[np.object_], row_of: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.object_]]:
    rows = np.unique(row_of)
    return rows, np.array([shapely.union_all(shapes[row_of == row]) for row in rows], dtype=object)
