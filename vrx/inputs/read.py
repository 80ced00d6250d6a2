"""Reading layers and tables: which format a file is in, and which of several is meant."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePath, PurePosixPath
from typing import Final, TypeVar

import numpy as np

from vrx.errors import InputError, Problems, VrxError
from vrx.geo.crs import move_shapes, short_name
from vrx.inputs.archives import Archive
from vrx.inputs.csv_table import read_csv, read_csv_points
from vrx.inputs.files import existing, listing, read_bytes
from vrx.inputs.geojson import read_geojson
from vrx.inputs.geopackage import read_geopackage
from vrx.inputs.raw_layer import RawLayer, settled
from vrx.inputs.shapefile import PARTS, read_shapefile
from vrx.model.finding import Finding
from vrx.model.layer import Column, Layer, Table

_Path = TypeVar("_Path", bound=PurePath)
_TABLES: Final = (".csv", ".tsv", ".txt")
_LAYERS: Final = (".shp", ".gpkg", ".geojson", ".json")
_ACCEPTED: Final = "a Shapefile (.shp, its folder or .zip), GeoJSON, GeoPackage, or CSV with coordinates"


def read_layer(path: Path, *, crs: str = "", layer: str = "") -> Layer:
    """Read a layer of shapes with attributes.

    Parameters
    ----------
    path : Path
        A ``.shp``, ``.geojson``, ``.json``, ``.gpkg`` or ``.csv`` file, or a folder or ``.zip`` that holds one.
    crs : str
        The CRS of a file that does not say its own, such as ``EPSG:32614``.
    layer : str
        Which one, where a file or folder holds several.

    Raises
    ------
    InputError
        Missing, damaged, or not a layer.
    CrsError
        The file does not say its CRS and none is given, or its coordinates can't belong to it.
    """
    try:
        # Numbers of a damaged file overflow in the libraries that read it: we say which record, they a line of code.
        with np.errstate(all="ignore"):
            return settled(_raw(path, layer), crs)
    except VrxError as err:
        raise err.at(path.name) from None


def read_layers(paths: Sequence[Path], *, crs: str = "", layer: str = "") -> Layer:
    """Read several files as one layer, in the CRS of the first.

    Parameters
    ----------
    paths : sequence of Path
    crs, layer : str
        As for :func:`read_layer`, for each of the files.

    Returns
    -------
    Layer
        Columns are joined by name, with empty cells where a file has no such column. Records are numbered from
        1 in the order of the files, in the findings too.

    Raises
    ------
    VrxError
        What any of them has; all problems together.
    """
    if not paths:
        raise InputError("No file is named.", remedy=f"Name one or more: {_ACCEPTED}.")
    layers, problems = [], []
    for path in paths:
        try:
            layers.append(read_layer(path, crs=crs, layer=layer))
        except VrxError as err:
            problems.append(err)
    if problems:
        raise problems[0] if len(problems) == 1 else Problems(problems)
    return layers[0] if len(layers) == 1 else _joined(layers)


def read_table(path: Path) -> Table:
    """Read a table in CSV, with a header line.

    Raises
    ------
    InputError
        Missing, damaged or not a table.
    """
    data = read_bytes(path)
    if path.suffix.lower() not in _TABLES:
        raise InputError(
            f"A table is read from {', '.join(_TABLES)}; this is {path.suffix or 'a file without an ending'}.",
            remedy="Save the table as CSV.",
            where=path.name,
        )
    try:
        return read_csv(data, source=path.name)
    except VrxError as err:
        raise err.at(path.name) from None


def _raw(path: Path, layer: str) -> RawLayer:
    suffix = path.suffix.lower()
    if existing(path):
        return _from_folder(path, layer)
    if suffix == ".zip":
        return _from_archive(path, layer)
    if suffix == ".gpkg":
        return _geopackage(path, layer)
    _check_layer_name(path, layer)
    if suffix == ".shp":
        siblings = listing(path.parent)
        return read_shapefile(_parts(path, siblings, read_bytes), source=path.name)
    if suffix in {".geojson", ".json"}:
        return read_geojson(read_bytes(path), source=path.name)
    if suffix in _TABLES:
        return read_csv_points(read_bytes(path), source=path.name)
    raise InputError(
        f"Layers are not read from {suffix or 'a file without an ending'}.",
        remedy="Name the .shp that belongs to it." if suffix in PARTS else f"Give {_ACCEPTED}.",
        where=path.name,
    )


def _geopackage(path: Path, layer: str) -> RawLayer:
    try:
        return read_geopackage(path, source=path.name, layer=layer)
    except OSError as err:
        problem = f"The file can't be read: {err.strerror}."
        raise InputError(problem, remedy="Check who may read it.", where=path.name) from None


def _from_folder(folder: Path, layer: str) -> RawLayer:
    found = [path for path in listing(folder) if path.suffix.lower() in _LAYERS and not path.name.startswith(".")]
    chosen, inner = _one_of(found, layer, folder.name or str(folder))
    return _raw(chosen, inner)


def _from_archive(path: Path, layer: str) -> RawLayer:
    archive = Archive(path)
    members = [PurePosixPath(name) for name in archive.names]
    found = [member for member in members if member.suffix.lower() in _LAYERS]
    chosen, inner = _one_of(found, layer, path.name)
    suffix = chosen.suffix.lower()

    def content(member: PurePosixPath) -> bytes:
        return archive.read(str(member))

    if suffix == ".shp":
        beside = [member for member in members if member.parent == chosen.parent]
        return read_shapefile(_parts(chosen, beside, content), source=path.name)
    if suffix == ".gpkg":
        return read_geopackage(content(chosen), source=path.name, layer=inner)
    return read_geojson(content(chosen), source=path.name)


def _one_of(found: list[_Path], layer: str, source: str) -> tuple[_Path, str]:
    """Return the layer that is meant, and the name of a layer within it where there is only one file."""
    certain = [path for path in found if path.suffix.lower() != ".json"]  # .json may be anything
    found = certain or found
    named = [
        path for path in found if layer.casefold() in {path.stem.casefold(), path.name.casefold(), str(path).casefold()}
    ]
    if len(named) == 1:
        return named[0], ""
    if len(found) == 1 and (not layer or found[0].suffix.lower() == ".gpkg"):
        return found[0], layer
    if not found:
        raise InputError("No layer is in it.", remedy=f"Give {_ACCEPTED}.", where=source)
    listed = ", ".join(repr(str(path)) for path in found[:20])
    problem = (
        f"No layer in it is named {layer!r}; it holds {listed}." if layer else f"It holds several layers: {listed}."
    )
    raise InputError(problem, remedy='Name one of them, as layer = "...".', where=source)


def _check_layer_name(path: Path, layer: str) -> None:
    if layer and layer.casefold() not in {path.stem.casefold(), path.name.casefold()}:
        raise InputError(
            f"It has no layer {layer!r}: such a file is one layer, {path.stem!r}.",
            remedy="Leave the name of the layer out.",
            where=path.name,
        )


def _parts(shp: _Path, beside: Iterable[_Path], content: Callable[[_Path], bytes]) -> Mapping[str, bytes]:
    """Read what belongs to a ``.shp``; of names that differ by case only, the one written alike comes first."""
    mine = [path for path in beside if path.stem.casefold() == shp.stem.casefold() and path.suffix.lower() in PARTS]
    chosen: dict[str, _Path] = {}
    for path in sorted(mine, key=lambda one: one.stem != shp.stem):
        chosen.setdefault(path.suffix.lower(), path)
    chosen[".shp"] = shp
    return {suffix: content(path) for suffix, path in chosen.items()}


def _joined(layers: list[Layer]) -> Layer:
    first = layers[0]
    names = dict.fromkeys(name for layer in layers for name in layer.columns)
    starts = np.cumsum([0, *(len(layer.records) for layer in layers)]).tolist()
    findings = [
        _renumbered(finding, layer, start)
        for layer, start in zip(layers, starts[:-1], strict=True)
        for finding in layer.findings
    ]
    if len({layer.crs for layer in layers}) > 1:
        findings.append(_mixed(layers))
    return Layer(
        source=" + ".join(layer.source for layer in layers),
        crs=first.crs,
        shapes=np.concatenate([move_shapes(layer.shapes, layer.crs, first.crs) for layer in layers]),
        columns={name: _column(name, layers) for name in names},
        records=np.arange(1, starts[-1] + 1, dtype=np.int64),
        findings=tuple(findings),
    )


def _column(name: str, layers: list[Layer]) -> Column:
    there = [layer.columns[name] for layer in layers if name in layer.columns]
    cells = (layer.columns[name].cells if name in layer.columns else (None,) * len(layer.records) for layer in layers)
    return Column(
        name=name,
        kind="number" if all(column.kind == "number" for column in there) else "text",
        cells=tuple(cell for part in cells for cell in part),
    )


def _renumbered(finding: Finding, layer: Layer, start: int) -> Finding:
    if not finding.features:
        return finding
    place = {record: start + at + 1 for at, record in enumerate(layer.records.tolist())}
    return replace(finding, features=tuple(place[record] for record in finding.features if record in place))


def _mixed(layers: list[Layer]) -> Finding:
    listed = ", ".join(f"{layer.source} in {short_name(layer.crs)}" for layer in layers)
    return Finding(
        id="crs-mixed",
        severity="note",
        message=f"The files differ in CRS ({listed}); all are brought to {short_name(layers[0].crs)}.",
    )
