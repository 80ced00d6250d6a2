"""What a format's reader hands over, and what all formats have in common after it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import InputError
from vrx.inputs.crs_text import Box, both_given, differs, fits_degrees, given_crs, missing_crs
from vrx.inputs.place import check_place
from vrx.model.finding import Finding
from vrx.model.layer import Cell, Column, Layer
from vrx.words import some

MOST_VERTICES: Final = 1_000_000
"""Of one shape: more take longer to measure than anyone waits, and no machine follows them."""
# In degrees, metres or feet no coordinate system comes near it, and arithmetic with more overflows.
_FARTHEST: Final = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class RawLayer:
    """Shapes and attributes before their CRS is settled.

    Attributes
    ----------
    source, shapes, columns, records, findings
        As in :class:`vrx.model.layer.Layer`; shapes may still have heights.
    crs : str
        What the file declares, as ``EPSG:code`` or WKT; empty where it declares nothing.
    by_standard : bool
        The file says nothing itself, its format does.
    lacking, mend : str
        What to say where no CRS is declared, and how to put it into such a file.
    """

    source: str
    shapes: NDArray[np.object_]
    columns: Mapping[str, Column]
    records: NDArray[np.int64]
    crs: str
    lacking: str = ""
    mend: str = ""
    by_standard: bool = False
    findings: tuple[Finding, ...] = ()


def settled(raw: RawLayer, given: str) -> Layer:
    """Return the layer with its CRS, once its coordinates are found to be possible in it.

    Parameters
    ----------
    raw : RawLayer
    given : str
        The CRS that the plan gives, for files without one; empty where it gives none.

    Raises
    ------
    CrsError
        No CRS, one that is not known, or coordinates that can't belong to it.
    InputError
        A coordinate that is not finite or no place on earth, or a shape of too many vertices.
    """
    check_vertices(shapely.get_num_coordinates(raw.shapes), raw.records, source=raw.source)
    shapes, heights = _flat(raw.shapes)
    _check_coordinates(shapes, raw)
    box = _box(shapes)
    findings = [*raw.findings, *([has_z(raw.source)] if heights and not _says(raw.findings, "has-z") else [])]
    said = given_crs(given) if given else ""
    crs = raw.crs or said
    if not crs:
        raise missing_crs(box, lacking=raw.lacking, mend=raw.mend, source=raw.source)
    if raw.by_standard and said and not fits_degrees(box):
        crs = said
        findings.append(_not_by_standard(raw, said))
    elif said and differs(crs, said, box):
        findings.append(both_given(crs, said, raw.source))
    findings.extend(check_place(crs, box, source=raw.source))
    return Layer(
        source=raw.source,
        crs=crs,
        shapes=shapes,
        columns=raw.columns,
        records=raw.records,
        findings=tuple(findings),
    )


def has_z(source: str, *, measures: bool = False) -> Finding:
    """Return the note that heights (or measures, M) are left out."""
    what = "measures (M)" if measures else "heights in the file (Z)"
    return Finding(id="has-z", severity="note", message=f"{source}: {what} are not needed and left out.")


def shape_array(shapes: Iterable[object]) -> NDArray[np.object_]:
    """Return shapes as an object array of one dimension."""
    listed = list(shapes)
    array = np.empty(len(listed), dtype=object)
    array[:] = listed
    return array


def named_columns(
    names: Iterable[str], kinds: Iterable[str], cells: Iterable[tuple[Cell, ...]], source: str
) -> tuple[dict[str, Column], tuple[Finding, ...]]:
    """Return columns by name; a name that comes twice, or is empty, is changed and reported."""
    columns: dict[str, Column] = {}
    changed = []
    for at, (name, kind, column) in enumerate(zip(names, kinds, cells, strict=True), start=1):
        base = name or f"column_{at}"
        unique, number = base, 1
        while unique in columns:
            number += 1
            unique = f"{base}_{number}"
        if unique != name:
            changed.append(f"{name!r} at place {at} is called {unique!r}")
        columns[unique] = Column(name=unique, kind="number" if kind == "number" else "text", cells=column)
    if not changed:
        return columns, ()
    message = f"{source}: column names that are empty or come twice are changed: {', '.join(changed)}."
    return columns, (Finding(id="column-names", severity="note", message=message),)


def _flat(shapes: NDArray[np.object_]) -> tuple[NDArray[np.object_], bool]:
    empty = shapely.is_empty(shapes)
    if empty.any():
        shapes = shapes.copy()
        shapes[empty] = None
    solid = shapely.has_z(shapes) | shapely.has_m(shapes)
    return (shapely.force_2d(shapes), True) if solid.any() else (shapes, False)


def _box(shapes: NDArray[np.object_]) -> Box:
    bounds = shapely.bounds(shapes)
    bounds = bounds[~np.isnan(bounds).any(axis=1)]
    return np.r_[bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)] if len(bounds) else np.full(4, np.nan)


def check_vertices(
    number: NDArray[np.integer[Any]], records: NDArray[np.integer[Any]] | Sequence[int], *, source: str
) -> None:
    """Refuse shapes of too many vertices, by the number that each record has, or says that it has.

    Raises
    ------
    InputError
        A shape of more than :data:`MOST_VERTICES`.
    """
    many = np.flatnonzero(number > MOST_VERTICES)
    if len(many):
        at = many[0]
        raise InputError(
            f"The shape of record {records[at]} has {number[at]} vertices; {MOST_VERTICES} in one shape are read at "
            "most.",
            remedy="Have it drawn with fewer vertices (simplified), or cut into several records.",
            where=source,
        )


def check_finite(points: NDArray[np.float64], records: Callable[[], NDArray[np.integer[Any]]], *, source: str) -> None:
    """Refuse coordinates that are no finite numbers.

    Parameters
    ----------
    points : float64 array, shape (n, 2)
    records : callable
        Returns the record number of each point; asked only where one is refused.

    Raises
    ------
    InputError
        With the records that have such coordinates.
    """
    finite = np.isfinite(points).all(axis=1)
    if not finite.all():
        raise InputError(
            f"Coordinates of record {some(np.unique(records()[~finite]).tolist())} are not finite numbers.",
            remedy="Draw these shapes again.",
            where=source,
        )


def _check_coordinates(shapes: NDArray[np.object_], raw: RawLayer) -> None:
    coordinates, owner = shapely.get_coordinates(shapes, return_index=True)
    check_finite(coordinates, lambda: raw.records[owner], source=raw.source)
    wild = np.flatnonzero((np.abs(coordinates) > _FARTHEST).any(axis=1))
    if len(wild):
        x, y = coordinates[wild[0]]
        raise InputError(
            f"Record {raw.records[owner[wild[0]]]} has a vertex at {x:.6g}, {y:.6g}, which is no place on earth.",
            remedy="Mend the shape, or fetch the file again: it may be damaged.",
            where=raw.source,
        )


def _says(findings: Iterable[Finding], name: str) -> bool:
    return any(finding.id == name for finding in findings)


def _not_by_standard(raw: RawLayer, said: str) -> Finding:
    return Finding(
        id="crs-suspect",
        severity="caution",
        message=(
            f"{raw.source} should be in WGS 84 longitude and latitude by its standard, but its coordinates are not "
            f"degrees; they are read in {said if len(said) < 20 else 'the CRS'} as was said."
        ),
        remedy="Have it saved again in WGS 84, so that everyone reads it the same way.",
    )
