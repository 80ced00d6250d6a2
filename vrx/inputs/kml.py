"""KML and KMZ: the Placemarks of every folder, with their extended data.

Source: [KML2.3]_. Elements are known by their local name, so files of every version are read, and of
tracks (``gx``) the line. XML is parsed by defusedxml, without document types, entities and links.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from vrx.errors import InputError
from vrx.geo.crs import WGS84
from vrx.inputs.archives import Archive
from vrx.inputs.raw_layer import RawLayer, has_z, named_columns
from vrx.inputs.rings import Points, Polygons, Shapes
from vrx.model.finding import Finding
from vrx.model.layer import Cell, Column
from vrx.words import some, visible

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_MOST_BYTES: Final = 2**28
_MOST_ELEMENTS: Final = 10_000_000
_DEEPEST: Final = 60
_NUMBERS: Final = ("int", "uint", "short", "ushort", "float", "double")
_COMMA: Final = re.compile(r"\s*,\s*")
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_GEOMETRIES: Final = ("Point", "LineString", "LinearRing", "Polygon", "MultiGeometry", "Track", "MultiTrack")
_AGAIN: Final = "Have it saved or sent again as KML."


class _UnfitError(Exception):
    """XML that is larger or deeper than a map is; no ValueError, which the parser might take for its own."""


@dataclass
class _Placemark:
    """A Placemark: its own name, folder and description, its extended data by name, and what it draws."""

    own: dict[str, str | None]
    extended: dict[str, Cell]
    geometries: list[Element]

    @property
    def folder(self) -> str:
        return self.own["folder"] or ""


@dataclass
class _Shape:
    """What a Placemark draws: rings of polygons, lines and points, shape (n, 2) each."""

    polygons: list[list[Points]] = field(default_factory=list)
    lines: list[Points] = field(default_factory=list)
    points: list[Points] = field(default_factory=list)
    multiple: bool = False
    heights: bool = False


def read_kmz(data: bytes, folder: str = "", *, source: str) -> RawLayer:
    """Read the KML of a KMZ: the one named ``doc.kml``, else the only one, else the only one outside its folders.

    What it links to within the KMZ is read as if it stood there.

    Raises
    ------
    InputError
        As for :func:`read_kml`; a zip file that can't be read, or without one such KML.
    """
    archive = Archive(data, source=source)
    members = [PurePosixPath(name) for name in archive.names]
    found = [member for member in members if member.suffix.lower() == ".kml"]
    top = [member for member in found if len(member.parts) == 1]
    main = [member for member in top if member.name.lower() == "doc.kml"]
    meant = next((few for few in (main, found, top) if len(few) == 1), None)
    if meant is None:
        problem = f"It holds several KML files: {some(map(str, found))}." if found else "No KML file is in it."
        raise InputError(problem, remedy="Unpack it and name the KML file that is meant.", where=source)
    unread = {str(member) for member in found if member != meant[0]}

    def linked(href: str) -> bytes | None:
        if href not in unread:
            return None
        unread.remove(href)  # once, whatever links to it
        return archive.read(href)

    return _read(archive.read(str(meant[0])), folder, linked, source)


def read_kml(data: bytes, folder: str = "", *, source: str) -> RawLayer:
    """Read the Placemarks of all folders, or of one.

    Parameters
    ----------
    data : bytes
        The whole file.
    folder : str
        Name of a Folder or Document, or its path as the column ``folder`` has it; those within it belong to it.
    source : str
        Its name, as people are told it.

    Returns
    -------
    RawLayer
        Columns ``name``, and ``folder`` and ``description`` where there are any, then those of Data, SimpleData and
        other extended data, numbers where a Schema says so. WGS 84, longitude first; heights other than 0 are left
        out with the note ``has-z``. A Placemark without a shape has None.

    Raises
    ------
    InputError
        No KML, damaged, too large, with entities or a document type, coordinates that are none, or no such folder.
    """
    return _read(data, folder, lambda _: None, source)


def _read(data: bytes, folder: str, linked: Callable[[str], bytes | None], source: str) -> RawLayer:
    file = _File(linked, source)
    file.take(_parsed(data, source))
    placemarks = _within(file.placemarks, file.folders, folder, source) if folder else file.placemarks
    shapes, heights = _shapes(placemarks, source)
    columns, renamed = _columns(placemarks, file.types, source)
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=columns,
        records=np.arange(1, len(placemarks) + 1, dtype=np.int64),
        crs=WGS84,
        by_standard=True,
        findings=(*file.findings, *renamed, *([has_z(source)] if heights else [])),
    )


def _parsed(data: bytes, source: str) -> Element:
    # Loaded here, as most fields come without KML.
    from xml.etree.ElementTree import ParseError, TreeBuilder  # noqa: PLC0415 - names; defusedxml parses

    from defusedxml import DefusedXmlException  # noqa: PLC0415
    from defusedxml.ElementTree import DefusedXMLParser  # noqa: PLC0415

    if len(data) > _MOST_BYTES:
        raise InputError(
            f"The KML has {len(data) / 1e6:.0f} MB; {_MOST_BYTES / 1e6:.0f} MB are read at most.",
            remedy="Save the layer as a GeoPackage.",
            where=source,
        )

    class Bounded(TreeBuilder):
        """Builds the tree, and stops where it is larger or deeper than a map is."""

        depth = elements = 0

        def start(self, tag: str, attrs: dict[str, str], /) -> Element:
            self.depth += 1
            self.elements += 1
            if self.depth > _DEEPEST or self.elements > _MOST_ELEMENTS:
                raise _UnfitError
            return super().start(tag, attrs)

        def end(self, tag: str, /) -> Element:
            self.depth -= 1
            return super().end(tag)

    parser = DefusedXMLParser(target=Bounded(), forbid_dtd=True, forbid_entities=True, forbid_external=True)
    try:
        parser.feed(data)
        root: Element = parser.close()
    except DefusedXmlException:
        raise _refused("It has a document type or entities of its own, which no map needs.", source) from None
    except _UnfitError:
        raise _refused(
            f"Its elements lie more than {_DEEPEST} deep, or are more than {_MOST_ELEMENTS}.", source
        ) from None
    except (ParseError, ValueError, LookupError) as err:
        raise _refused(f"This is no sound XML: {' '.join(str(err).split())[:100]}.", source) from None
    if _name(root) not in {"kml", "Document", "Folder", "Placemark"}:
        raise _refused(f"This is XML, but no KML: it begins with {_name(root)[:40]!r}.", source)
    return root


def _name(element: Element) -> str:
    """Return the name of an element without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _children(element: Element, *names: str) -> Iterator[Element]:
    return (child for child in element if _name(child) in names)


def _text(element: Element, name: str) -> str | None:
    """Return the text of the first child of a name; None where there is none."""
    child = next(_children(element, name), None)
    return None if child is None else "".join(child.itertext()).strip() or None


class _File:
    """Gathers the Placemarks of a file and of what it links to, in order.

    Parameters
    ----------
    linked : callable
        Returns the bytes that a link leads to; None where they can't be had.
    """

    def __init__(self, linked: Callable[[str], bytes | None], source: str) -> None:
        self.placemarks: list[_Placemark] = []
        self.folders: list[str] = []
        self.types: dict[str, str] = {}
        self.findings: list[Finding] = []
        self._linked = linked
        self._source = source

    def take(self, root: Element, path: str = "") -> None:
        """Take up what stands in an element of the whole file, within the folders of a path."""
        for name, said in _schema_types(root):
            # A name that is said to be two things is text.
            self.types[name] = said if self.types.get(name, said) in _NUMBERS else ""
        self._walk([root], path)

    def _walk(self, elements: Iterable[Element], path: str) -> None:
        for element in elements:
            kind = _name(element)
            if kind == "Placemark":
                self.placemarks.append(_placemark(element, path))
            elif kind in {"Document", "Folder", "NetworkLink"}:
                name = _text(element, "name")
                inner = f"{path}/{name}" if path and name else path or name or ""
                if kind == "NetworkLink":
                    self._follow(element, inner)
                    continue
                if name:
                    self.folders.append(inner)
                self._walk(element, inner)
            elif kind == "kml":
                self._walk(element, path)

    def _follow(self, link: Element, path: str) -> None:
        href = next((_text(one, "href") or "" for one in _children(link, "Link", "Url")), "")
        data = self._linked(href)
        if data is not None:
            self.take(_parsed(data, self._source), path)
        elif not self.findings:
            self.findings.append(
                Finding(
                    id="kml-link",
                    severity="caution",
                    message=f"{self._source}: it links to {visible(href)[:80]!r}, and links are not followed.",
                    remedy="If zones are missing, save what it links to as a file of its own.",
                )
            )


def _placemark(element: Element, folder: str) -> _Placemark:
    own = {"name": _text(element, "name"), "folder": folder or None, "description": _text(element, "description")}
    cells: dict[str, Cell] = {}
    for extended in _children(element, "ExtendedData"):
        for name, cell in _extended(extended):
            key, number = name, 1
            while key in cells:
                number += 1
                key = f"{name}_{number}"
            cells[key] = cell
    return _Placemark(own, cells, list(_children(element, *_GEOMETRIES)))


def _columns(
    placemarks: list[_Placemark], types: dict[str, str], source: str
) -> tuple[dict[str, Column], tuple[Finding, ...]]:
    own = {name: tuple(one.own[name] for one in placemarks) for name in ("name", "folder", "description")}
    own = {name: cells for name, cells in own.items() if name == "name" or any(cells)}
    # A field of a schema is there though no Placemark fills it.
    names = dict.fromkeys((*types, *(name for one in placemarks for name in one.extended)))
    extended = {name: tuple(one.extended.get(name) for one in placemarks) for name in names}
    # Writers repeat a Placemark's name among its data.
    extended = {name: cells for name, cells in extended.items() if own.get(name) != cells}
    kinds = ["number" if types.get(name) in _NUMBERS else "text" for name in extended]
    return named_columns([*own, *extended], ["text"] * len(own) + kinds, [*own.values(), *extended.values()], source)


def _extended(element: Element) -> Iterator[tuple[str, Cell]]:
    for child in element:
        kind = _name(child)
        if kind == "Data":
            yield child.get("name", "").strip(), _text(child, "value")
        elif kind == "SchemaData":
            for simple in _children(child, "SimpleData"):
                yield simple.get("name", "").strip(), (simple.text or "").strip() or None
        elif kind and not len(child):
            yield kind, (child.text or "").strip() or None


def _schema_types(root: Element) -> Iterator[tuple[str, str]]:
    """Yield what the schemas say that each field is."""
    for one in root.iter():
        if _name(one) == "SimpleField":
            yield one.get("name", "").strip(), one.get("type", "").strip().lower()


def _within(placemarks: list[_Placemark], folders: list[str], folder: str, source: str) -> list[_Placemark]:
    wanted = folder.casefold()
    meant = [path for path in dict.fromkeys(folders) if wanted in {path.casefold(), path.rpartition("/")[2].casefold()}]
    if not meant:
        listed = some(map(repr, dict.fromkeys(folders))) or "none with a name"
        problem, remedy = f"It has no folder {folder!r}; it has {listed}.", "Name one of them, or leave layer out."
        raise InputError(problem, remedy=remedy, where=source)
    return [one for one in placemarks if any(one.folder == path or one.folder.startswith(f"{path}/") for path in meant)]


def _shapes(placemarks: list[_Placemark], source: str) -> tuple[Shapes, bool]:
    shapes = np.full(len(placemarks), None, dtype=object)
    polygons, heights, wrong = Polygons(), False, []
    for at, placemark in enumerate(placemarks):
        shape = _Shape(multiple=len(placemark.geometries) > 1)
        try:
            for geometry in placemark.geometries:
                _draw(geometry, shape)
        except ValueError as err:
            wrong.append(f"Placemark {at + 1} ({visible(placemark.own['name'] or 'without a name')[:60]}) {err}")
            continue
        heights |= shape.heights
        if shape.lines or shape.points:
            shapes[at] = _mixed(shape)
        else:
            for rings in shape.polygons:
                polygons.add(at, rings, multiple=shape.multiple)
    if wrong:
        raise InputError(
            f"{some(wrong, most=5, between='; ')}.",
            remedy="Write coordinates as longitude,latitude or longitude,latitude,height, with spaces between points.",
            where=source,
        )
    polygons.put(shapes)
    return shapes, heights


def _mixed(shape: _Shape) -> object:
    """Make a shape of points and lines, with polygons where there are such too."""
    alone = Polygons()
    for rings in shape.polygons:
        alone.add(0, rings)
    ground = np.full(1, None, dtype=object)
    alone.put(ground)
    parts = [shapely.linestrings(line) if len(line) > 1 else shapely.Point(line[0]) for line in shape.lines]
    parts += [shapely.Point(point) for points in shape.points for point in points]
    parts += [] if ground[0] is None else list(shapely.get_parts(ground))
    if len(parts) == 1:
        return parts[0]
    kinds = {part.geom_type for part in parts}
    make = {"Point": shapely.multipoints, "LineString": shapely.multilinestrings}
    return make[kinds.pop()](parts) if len(kinds) == 1 and kinds <= set(make) else shapely.GeometryCollection(parts)


def _draw(geometry: Element, shape: _Shape) -> None:
    kind = _name(geometry)
    if kind == "Polygon":
        outer = [ring for one in _children(geometry, "outerBoundaryIs") for ring in _rings(one, shape)]
        inner = [ring for one in _children(geometry, "innerBoundaryIs") for ring in _rings(one, shape)]
        if len(outer) > 1:
            raise ValueError("has a polygon with several outer rings")
        if outer:
            shape.polygons.append([*outer, *inner])
    elif kind in {"MultiGeometry", "MultiTrack"}:
        shape.multiple = True
        for part in _children(geometry, *_GEOMETRIES):
            _draw(part, shape)
    elif kind == "Track":
        line = _numbers([(coord.text or "").split() for coord in _children(geometry, "coord")], shape)
        shape.lines += [line] if len(line) else []
    else:
        line = _coordinates(geometry, shape)
        (shape.points if kind == "Point" else shape.lines).extend([line] if len(line) else [])


def _rings(boundary: Element, shape: _Shape) -> list[Points]:
    rings = (_coordinates(ring, shape) for ring in _children(boundary, "LinearRing"))
    return [ring for ring in rings if len(ring)]


def _coordinates(geometry: Element, shape: _Shape) -> Points:
    text = " ".join("".join(one.itertext()) for one in _children(geometry, "coordinates"))
    return _numbers([position.rstrip(",").split(",") for position in _COMMA.sub(",", text).split()], shape)


def _numbers(positions: list[list[str]], shape: _Shape) -> Points:
    """Return longitudes and latitudes, shape (n, 2), and note on the shape whether there are heights."""
    if not positions:
        return np.empty((0, 2))
    wrong = next((one for one in positions if not 2 <= len(one) <= 3), None)
    if wrong is not None:
        raise ValueError(f"has the position {','.join(wrong)[:40]!r}")
    strange = next((number for one in positions for number in one if not _NUMBER.fullmatch(number)), None)
    if strange is not None:
        raise ValueError(f"has the coordinate {strange[:40]!r}, which is no number")
    shape.heights |= any(len(one) == 3 and float(one[2]) != 0 for one in positions)
    return np.array([[float(number) for number in one[:2]] for one in positions], dtype=np.float64)


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy=_AGAIN, where=source)
