"""GeoJSON as it is met: RFC 7946, the old ``crs`` member, bare NaN, heights.

Source: RFC 7946 (August 2016); the ``crs`` member from the GeoJSON specification of 2008.
"""

from __future__ import annotations

import gc
import json
import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain
from typing import Any, Final

import numpy as np
import pydantic_core
import shapely
from numpy.typing import NDArray

from vrx.errors import CrsError, InputError
from vrx.geo.crs import WGS84, short_name
from vrx.inputs.crs_text import given_crs
from vrx.inputs.raw_layer import RawLayer, has_z
from vrx.inputs.rings import linear_rings
from vrx.model.finding import Finding
from vrx.model.layer import Cell, Column
from vrx.words import some

_GEOMETRIES: Final = (
    "Point",
    "MultiPoint",
    "LineString",
    "MultiLineString",
    "Polygon",
    "MultiPolygon",
    "GeometryCollection",
)
_DEPTH: Final = {"Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2, "Polygon": 2, "MultiPolygon": 3}
# As Python holds it: a list of two numbers takes 72 bytes, a number 24 and its place in a list 8, an object 184.
# Making the shapes takes as much again.
_MOST_HELD_BYTES: Final = 600_000_000
_LON_LAT: Final = ("CRS84", "EPSG::4326", "EPSG:4326", "WGS84", "WGS 84")


class _BadGeometryError(ValueError):
    """A geometry that is not one, with the reason; the feature is added where it is known."""


class _Rings:
    """Gathers the rings of all polygons, so that the shapes are made in one go."""

    def __init__(self) -> None:
        self.numbers: list[object] = []
        self.ring_lengths: list[int] = []
        self.polygon_of_ring: list[int] = []
        self.feature_of_polygon: list[int] = []
        self.multiple: set[int] = set()
        self.heights = False

    def add(self, feature: int, polygon: Sequence[Any]) -> None:
        """Take up a polygon; one without rings leaves no trace."""
        number = len(self.feature_of_polygon)
        rings = 0
        for ring in polygon:
            if ring:
                self.ring_lengths.append(self.add_positions(ring))
                self.polygon_of_ring.append(number)
                rings += 1
        if rings:
            self.feature_of_polygon.append(feature)

    def add_positions(self, positions: Sequence[Any]) -> int:
        """Take up positions, their x and y only; return how many."""
        sizes = set(map(len, positions))
        if sizes == {2}:
            self.numbers.extend(chain.from_iterable(positions))
        elif min(sizes) >= 2 and isinstance(positions[0], list):
            self.heights = True
            self.numbers.extend(chain.from_iterable(position[:2] for position in positions))
        else:
            raise _BadGeometryError("has a position of fewer than two numbers")
        return len(positions)


def read_geojson(data: bytes, *, source: str) -> RawLayer:
    """Read GeoJSON: a FeatureCollection, a Feature or a bare geometry.

    Parameters
    ----------
    data : bytes
        The whole file, UTF-8 with or without a byte order mark.
    source : str
        Its name, as people are told it.

    Returns
    -------
    RawLayer
        A column is of numbers where all its values are; bare NaN and Infinity stay as text in it. A geometry
        that is null or has no coordinates is None. Heights are left out, with the note ``has-z``.

    Raises
    ------
    InputError
        Not JSON, not UTF-8, no GeoJSON, or a geometry that is none, with the feature.
    CrsError
        A ``crs`` member that is not known.
    """
    with _collector_at_rest():
        content = _parsed(data, source)
        features = _features(content, source)
        crs, findings = _crs(content, source)
        shapes, heights = _shapes([feature.get("geometry") for feature in features], source)
    if heights:
        findings.append(has_z(source))
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=_columns([feature.get("properties") for feature in features]),
        records=np.arange(1, len(features) + 1, dtype=np.int64),
        crs=crs or WGS84,
        by_standard=not crs,
        findings=tuple(findings),
    )


@contextmanager
def _collector_at_rest() -> Iterator[None]:
    """Keep the garbage collector from searching millions of new numbers for cycles: seven times faster."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _parsed(data: bytes, source: str) -> dict[str, Any]:
    data = data.removeprefix(b"\xef\xbb\xbf")
    _check_size(data, source)
    try:
        # JSON of any size in half the time of json.loads, with a limit to how deep it nests.
        content = pydantic_core.from_json(data, allow_inf_nan=True, cache_strings="keys")
    except ValueError as err:
        what = "not UTF-8 text" if _not_utf8(data) else f"not valid JSON: {err}"
        raise InputError(f"This is {what}.", remedy="Have it saved again as GeoJSON in UTF-8.", where=source) from None
    if not isinstance(content, dict) or not isinstance(content.get("type"), str):
        raise _refused("This is JSON, but no GeoJSON: it has no type.", source)
    return content


def _check_size(data: bytes, source: str) -> None:
    """Refuse what would fill the memory, by what the signs in it will take once it is read."""
    held = 72 * data.count(b"[") + 184 * data.count(b"{") + 32 * data.count(b",")
    if held > _MOST_HELD_BYTES:
        raise InputError(
            f"The GeoJSON has {len(data) / 1e6:,.0f} MB, whose numbers and lists take {held / 1e6:,.0f} MB of memory; "
            f"{_MOST_HELD_BYTES / 1e6:,.0f} MB are taken at most.",
            remedy="Save the layer as a GeoPackage, or only the part around the field.",
            where=source,
        )


def _not_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return True
    return False


def _features(content: dict[str, Any], source: str) -> list[dict[str, Any]]:
    kind = content["type"]
    if kind == "FeatureCollection":
        features = content.get("features")
        if not isinstance(features, list):
            raise _refused("Its FeatureCollection has no list of features.", source)
        wrong = [at for at, one in enumerate(features, start=1) if not isinstance(one, dict)]
        if wrong:
            raise _refused(f"Feature {some(wrong)} is no GeoJSON feature.", source)
        return features
    if kind == "Feature":
        return [content]
    if kind in _GEOMETRIES:
        return [{"geometry": content}]
    hint = "; this looks like TopoJSON" if kind == "Topology" else ""
    raise _refused(f"Its type {kind[:40]!r} is none of FeatureCollection, Feature or a geometry{hint}.", source)


def _crs(content: dict[str, Any], source: str) -> tuple[str, list[Finding]]:
    """Return the CRS of the old member, and what to say about it; empty where there is none to go by."""
    member = content.get("crs")
    if member is None:
        return "", []
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str):
        raise CrsError(
            "Its crs member names no CRS (a link can't be followed).",
            remedy="Have it saved again in WGS 84 longitude and latitude, without a crs member.",
            where=source,
        )
    if name.upper().endswith(_LON_LAT):
        return "", []
    try:
        crs = given_crs(name)
    except CrsError as err:
        raise CrsError(
            f"Its crs member names {name[:60]!r}, which is not known.",
            remedy="Have it saved again in WGS 84 longitude and latitude, without a crs member.",
            where=source,
        ) from err
    finding = Finding(
        id="crs-member",
        severity="note",
        message=(
            f"{source} has the old crs member, naming {short_name(crs)}; its coordinates are read in that CRS. "
            "Other programs may take them for degrees."
        ),
        remedy="GeoJSON is WGS 84 longitude and latitude today (RFC 7946); have it saved so.",
    )
    return crs, [finding]


def _shapes(geometries: list[Any], source: str) -> tuple[NDArray[np.object_], bool]:
    shapes = np.full(len(geometries), None, dtype=object)
    rings = _Rings()
    wrong: list[tuple[int, str]] = []
    others: list[int] = []
    for at, geometry in enumerate(geometries):
        if geometry is None:
            continue
        try:
            kind, coordinates = _kind(geometry)
            if kind == "Polygon":
                rings.add(at, coordinates)
            elif kind == "MultiPolygon":
                rings.multiple.add(at)
                for polygon in coordinates:
                    rings.add(at, polygon)
            else:
                others.append(at)
        except (_BadGeometryError, TypeError, AttributeError, KeyError) as err:
            wrong.append((at, str(err) if isinstance(err, _BadGeometryError) else "has coordinates that are no lists"))
    if not wrong and not set(map(type, rings.numbers)) <= {int, float}:
        wrong = [(at, "has a coordinate that is no number") for at in _not_numbers(rings)]
    heights = rings.heights
    for at in others if not wrong else []:
        try:
            shapes[at] = _shape(geometries[at])
        except _BadGeometryError as err:
            wrong.append((at, str(err)))
    if wrong:
        text = "; ".join(f"feature {at + 1} {why}" for at, why in wrong[:5])
        more = f"; and {len(wrong) - 5} more" if len(wrong) > 5 else ""
        raise InputError(
            f"The geometry of {text}{more}.", remedy="Draw these shapes again, or write null.", where=source
        )
    _put_polygons(shapes, rings, source)
    return shapes, heights


def _kind(geometry: Any) -> tuple[str, Any]:
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in _GEOMETRIES:
        raise _BadGeometryError(f"is of type {str(kind)[:40]!r}, which GeoJSON does not have")
    coordinates = geometry.get("geometries" if kind == "GeometryCollection" else "coordinates")
    if not isinstance(coordinates, list):
        raise _BadGeometryError("has no coordinates")
    return kind, coordinates


def _not_numbers(rings: _Rings) -> list[int]:
    polygon = np.repeat(rings.polygon_of_ring, rings.ring_lengths)
    bad = [type(number) not in {int, float} for number in rings.numbers]
    feature = np.array(rings.feature_of_polygon)[polygon]
    found: list[int] = np.unique(np.repeat(feature, 2)[bad]).tolist()
    return found


def _put_polygons(shapes: NDArray[np.object_], rings: _Rings, source: str) -> None:
    if not rings.numbers:
        return
    try:
        points = np.array(rings.numbers, dtype=np.float64).reshape(-1, 2)
    except OverflowError:
        raise _refused("A coordinate is too large to be a number.", source) from None
    made = linear_rings(points, np.array(rings.ring_lengths, dtype=np.intp))
    polygons = shapely.polygons(made, indices=np.array(rings.polygon_of_ring, dtype=np.intp))
    feature = np.array(rings.feature_of_polygon, dtype=np.intp)
    multiple = np.isin(feature, list(rings.multiple))
    shapes[feature[~multiple]] = polygons[~multiple]
    if multiple.any():
        places, index = np.unique(feature[multiple], return_inverse=True)
        shapes[places] = shapely.multipolygons(polygons[multiple], indices=index)


def _shape(geometry: Any) -> Any:
    """Make one shape; heights stay, so that they are noticed."""
    kind, coordinates = _kind(geometry)
    if kind == "GeometryCollection":
        parts = [part for part in map(_shape, coordinates) if part is not None]
        return shapely.GeometryCollection(parts) if parts else None
    if not coordinates:
        return None
    flat: list[Any] = [coordinates]
    for _ in range(_DEPTH[kind]):
        if not all(isinstance(part, list) for part in flat):
            raise _BadGeometryError("has coordinates that are no lists")
        flat = list(chain.from_iterable(flat))
    for position in flat:
        if not isinstance(position, list) or len(position) < 2:
            raise _BadGeometryError("has a position of fewer than two numbers")
        if not set(map(type, position)) <= {int, float}:
            raise _BadGeometryError("has a coordinate that is no number")
    try:
        return shapely.from_geojson(json.dumps({"type": kind, "coordinates": coordinates}))
    except (shapely.errors.GEOSException, OverflowError, ValueError):
        raise _BadGeometryError(f"is no {kind}") from None


def _columns(properties: list[Any]) -> dict[str, Column]:
    rows = [row if isinstance(row, dict) else {} for row in properties]
    names = dict.fromkeys(chain.from_iterable(rows))
    return {name: _column(name, [row.get(name) for row in rows]) for name in names}


def _column(name: str, values: list[Any]) -> Column:
    kinds = set(map(type, values)) - {type(None)}
    number = bool(kinds) and kinds <= {int, float}
    cells: Iterable[Cell] = values
    if not kinds <= {int} and not (kinds <= {int, float} and all(map(_finite_or_none, values))):
        cells = map(_cell, values)
    return Column(name=name, kind="number" if number else "text", cells=tuple(cells))


def _finite_or_none(value: float | None) -> bool:
    return value is None or math.isfinite(value)


def _cell(value: Any) -> Cell:
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, float) and not math.isfinite(value):
        return "NaN" if math.isnan(value) else "Infinity" if value > 0 else "-Infinity"
    if value is None or isinstance(value, bool | int | float):
        return value
    return json.dumps(value, ensure_ascii=False)


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy="Have it saved again as GeoJSON, a FeatureCollection of polygons.", where=source)
