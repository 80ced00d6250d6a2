"""Reading layers and tables: which format a file is in, and which of several is meant."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePath
from typing import Final, Protocol

import numpy as np

from vrx.errors import InputError, LayerChoiceError, Problems, VrxError
from vrx.geo.crs import move_shapes, short_name
from vrx.inputs.csv_table import read_csv, read_csv_points
from vrx.inputs.files import existing, read_bytes
from vrx.inputs.flatgeobuf import read_flatgeobuf
from vrx.inputs.geojson import read_geojson
from vrx.inputs.geopackage import read_geopackage
from vrx.inputs.geoparquet import read_geoparquet
from vrx.inputs.kml import read_kml, read_kmz
from vrx.inputs.raster import read_raster
from vrx.inputs.raw_layer import RawLayer, settled
from vrx.inputs.several import Place, folder_place, layer_meant, zip_place
from vrx.inputs.shapefile import PARTS, read_shapefile
from vrx.model.finding import Finding
from vrx.model.layer import Column, Layer, Table

_TABLES: Final = (".csv", ".tsv", ".txt")
_ACCEPTED: Final = (
    "a Shapefile (.shp, its folder or .zip), GeoJSON, GeoPackage, FlatGeobuf, KML, KMZ, GeoParquet, "
    "a GeoTIFF of rates or classes, or CSV with coordinates"
)


class _Reader(Protocol):
    def __call__(self, data: bytes, /, *, source: str) -> RawLayer: ...


class _ReaderWithin(Protocol):
    def __call__(self, data: bytes, within: str, /, *, source: str) -> RawLayer: ...


# Files that are one layer unless a person names a part of it.
_WITHIN: Final[Mapping[str, _ReaderWithin]] = {
    ".kml": read_kml,
    ".kmz": read_kmz,
    ".tif": read_raster,
    ".tiff": read_raster,
}
_READERS: Final[Mapping[str, _Reader]] = {
    ".geojson": read_geojson,
    ".json": read_geojson,
    ".fgb": read_flatgeobuf,
    ".parquet": read_geoparquet,
    ".geoparquet": read_geoparquet,
    **dict.fromkeys(_TABLES, read_csv_points),
}


def read_layer(path: Path, *, crs: str = "", layer: str = "") -> Layer:
    """Read a layer of shapes with attributes.

    Parameters
    ----------
    path : Path
        A file in one of the formats that are read (see ``_ACCEPTED``), or a folder or ``.zip`` that holds one.
    crs : str
        The CRS of a file that does not say its own, such as ``EPSG:32614``.
    layer : str
        Which one, where a file or folder holds several; a folder within a KML, a band of a GeoTIFF.

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
    if existing(path):
        place = folder_place(path)
        file, inner = layer_meant(place, layer, source=path.name or str(path), accepted=_ACCEPTED)
        return _read(file, place, inner, source=file.name)
    if path.suffix.lower() == ".zip":
        place = zip_place(path)
        file, inner = layer_meant(place, layer, source=path.name, accepted=_ACCEPTED)
        return _read(file, place, inner, source=path.name)
    return _read(path, folder_place(path.parent), layer, source=path.name)


def _read(file: PurePath, place: Place, layer: str, *, source: str) -> RawLayer:
    suffix = file.suffix.lower()
    if suffix == ".gpkg":
        return _geopackage(place.opened(file), layer, source)
    if suffix in _WITHIN:
        own_name = layer.casefold() in {file.stem.casefold(), file.name.casefold()}
        return _WITHIN[suffix](place.whole(file), "" if own_name else layer, source=source)
    _check_layer_name(file, layer)
    if suffix == ".shp":
        return read_shapefile(_parts(file, place), source=source)
    reader = _READERS.get(suffix)
    if reader:
        return reader(place.whole(file), source=source)
    raise InputError(
        f"Layers are not read from {suffix or 'a file without an ending'}.",
        remedy="Name the .shp that belongs to it." if suffix in PARTS else f"Give {_ACCEPTED}.",
        where=file.name,
    )


def _geopackage(file: Path | bytes, layer: str, source: str) -> RawLayer:
    try:
        return read_geopackage(file, source=source, layer=layer)
    except OSError as err:
        problem = f"The file can't be read: {err.strerror}."
        raise InputError(problem, remedy="Check who may read it.", where=source) from None


def _check_layer_name(file: PurePath, layer: str) -> None:
    if layer and layer.casefold() not in {file.stem.casefold(), file.name.casefold()}:
        raise LayerChoiceError(
            f"It has no layer {layer!r}: such a file is one layer, {file.stem!r}.",
            remedy="Leave the name of the layer out.",
            where=file.name,
        )


def _parts(shp: PurePath, place: Place) -> Mapping[str, bytes]:
    """Read what belongs to a ``.shp``; of names that differ by case only, the one written alike comes first."""
    mine = [
        file
        for file in place.files()
        if file.parent == shp.parent and file.stem.casefold() == shp.stem.casefold() and file.suffix.lower() in PARTS
    ]
    chosen: dict[str, PurePath] = {}
    for file in sorted(mine, key=lambda one: one.stem != shp.stem):
        chosen.setdefault(file.suffix.lower(), file)
    chosen[".shp"] = shp
    return {suffix: place.whole(file) for suffix, file in chosen.items()}


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
