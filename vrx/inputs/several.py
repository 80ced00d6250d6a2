"""Folders and zip files: which of the layers in them is meant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePath, PurePosixPath
from typing import Final

from vrx.errors import LayerChoiceError
from vrx.inputs.archives import Archive
from vrx.inputs.files import listing, read_bytes
from vrx.inputs.geopackage import layers_of_geopackage

LAYERS: Final = (
    ".shp",
    ".gpkg",
    ".geojson",
    ".fgb",
    ".kml",
    ".kmz",
    ".parquet",
    ".geoparquet",
    ".tif",
    ".tiff",
    ".json",
)
"""Endings of files that are looked for in a folder or a zip file."""
# Where another layer is there: .json may be anything, and a raster a picture of the field.
_UNSURE: Final = (".json", ".tif", ".tiff")
# They may hold several layers; which, their reader knows.
_HOLD_SEVERAL: Final = (".gpkg", ".kml", ".kmz", ".tif", ".tiff")
_MOST_LISTED: Final = 20


@dataclass(frozen=True, slots=True)
class Place:
    """Where files lie beside each other.

    Attributes
    ----------
    files : callable
        Returns all files there.
    whole : callable
        Returns the bytes of one.
    opened : callable
        Returns what a reader that needs no whole file starts from: its path, or its bytes where it has none.
    """

    files: Callable[[], list[PurePath]]
    whole: Callable[[PurePath], bytes]
    opened: Callable[[PurePath], Path | bytes]


def folder_place(folder: Path) -> Place:
    """Return the place that a folder is."""
    return Place(files=lambda: list(listing(folder)), whole=lambda file: read_bytes(Path(file)), opened=Path)


def zip_place(file: Path) -> Place:
    """Return the place that a zip file is; nothing of it is unpacked onto a disk."""
    archive = Archive(file, source=file.name)

    def content(member: PurePath) -> bytes:
        return archive.read(str(member))

    return Place(files=lambda: [PurePosixPath(name) for name in archive.names], whole=content, opened=content)


def layer_meant(place: Place, layer: str, *, source: str, accepted: str) -> tuple[PurePath, str]:
    """Find the one layer that is meant.

    Parameters
    ----------
    layer : str
        A file's name, with or without its ending, or its path; a layer within a file, alone or as ``file/layer``;
        empty where nothing is said.
    source : str
        Name of the folder or zip file, as people are told it.
    accepted : str
        What could be in it.

    Returns
    -------
    file : PurePath
    inner : str
        The layer within the file; empty where it is for its reader to say.

    Raises
    ------
    LayerChoiceError
        There is none, or several could be meant, with the names that settle it.
    """
    files = [file for file in place.files() if file.suffix.lower() in LAYERS and not file.name.startswith(".")]
    wanted = layer.casefold()
    named = [file for file in files if wanted in _names(file)]
    if len(named) == 1:
        return named[0], ""
    found = [file for file in files if file.suffix.lower() not in _UNSURE] or files
    if len(found) == 1 and (not layer or found[0].suffix.lower() in _HOLD_SEVERAL):
        return found[0], layer.removeprefix(f"{found[0].name}/")
    if not found:
        raise LayerChoiceError("No layer is in it.", remedy=f"Give {accepted}.", where=source)
    inner = [(file, name) for file in found for name in _layers_within(file, place)]
    fitting = [(file, name) for file, name in inner if wanted in _inner_names(file, name)]
    if len(fitting) == 1:
        return fitting[0]
    raise _several(inner, layer, len(named) + len(fitting), source)


def _names(file: PurePath) -> set[str]:
    return {file.stem.casefold(), file.name.casefold(), str(file).casefold()}


def _inner_names(file: PurePath, name: str) -> set[str]:
    return {name.casefold(), f"{file.name}/{name}".casefold(), f"{file}/{name}".casefold()} if name else set()


def _layers_within(file: PurePath, place: Place) -> list[str]:
    """Return the names of the layers in a file; one without a name where it is one layer."""
    if file.suffix.lower() == ".gpkg":
        names = layers_of_geopackage(place.opened(file), source=file.name)
        return names if len(names) > 1 else [""]
    return [""]


def _several(inner: list[tuple[PurePath, str]], layer: str, fitting: int, source: str) -> LayerChoiceError:
    names = [f"{file}/{name}" if name else str(file) for file, name in inner]
    listed = ", ".join(map(repr, names[:_MOST_LISTED])) + (", ..." if len(names) > _MOST_LISTED else "")
    if not layer:
        problem = f"It holds several layers: {listed}."
    elif fitting:
        problem = f"Several layers in it are named {layer!r}; it holds {listed}."
    else:
        problem = f"No layer in it is named {layer!r}; it holds {listed}."
    return LayerChoiceError(problem, remedy='Name one of them, as layer = "...".', where=source)
