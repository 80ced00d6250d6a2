"""FlatGeobuf: a header, an index that is not needed to read everything, and one buffer a feature.

Source: [FlatGeobuf3]_, ``header.fbs`` and ``feature.fbs``. The reader is ours because the one of the library that
is light to load leaves out columns of 32-bit numbers without a word.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import shapely

from vrx.errors import InputError
from vrx.inputs.cells import short_number
from vrx.inputs.crs_text import declared_crs
from vrx.inputs.flatbuffers import DamagedError, Table
from vrx.inputs.raw_layer import RawLayer, has_z, named_columns
from vrx.inputs.rings import Points, Polygons, Shapes
from vrx.inputs.wkb import curved_shapes
from vrx.model.finding import Finding
from vrx.model.layer import Cell

_MAGIC: Final = b"fgb\x03fgb"
_BYTE, _U16, _I32, _U32, _U64 = (struct.Struct(f"<{code}") for code in "BHiIQ")
_F8: Final[np.dtype[np.generic]] = np.dtype("<f8")
_U4: Final[np.dtype[np.generic]] = np.dtype("<u4")
_NODE_BYTES: Final = 40
_MOST_HEADER_BYTES: Final = 2**22
_DEEPEST: Final = 16

# numbers of the fields in the schema
_GEOMETRY_TYPE, _HAS_Z, _COLUMNS, _FEATURES_COUNT, _INDEX_NODE_SIZE, _CRS = 2, 3, 7, 8, 9, 10
_CRS_ORG, _CRS_CODE, _CRS_WKT = 0, 1, 4
_NAME, _TYPE = 0, 1
_GEOMETRY, _PROPERTIES, _OWN_COLUMNS = 0, 1, 2
_ENDS, _XY, _Z, _KIND, _PARTS = 0, 1, 2, 6, 7

_POINT, _LINE, _POLYGON, _MULTIPOINT, _MULTILINE, _MULTIPOLYGON, _COLLECTION, _TRIANGLE = (*range(1, 8), 17)
_BOOL, _FLOAT, _DOUBLE = 2, 9, 10
_NUMBERS: Final = {
    0: struct.Struct("<b"),
    1: _BYTE,
    _BOOL: struct.Struct("<?"),
    3: struct.Struct("<h"),
    4: _U16,
    5: _I32,
    6: _U32,
    7: struct.Struct("<q"),
    8: _U64,
    _FLOAT: struct.Struct("<f"),
    _DOUBLE: struct.Struct("<d"),
}
_TEXTS: Final = (11, 12, 13)  # text, JSON, a time
_BINARY: Final = 14


class _Header(NamedTuple):
    kind: int
    heights: bool
    names: list[str]
    types: list[int]
    number: int
    features_at: int
    crs: str


class _CurvedError(ValueError):
    """A shape that is not made of straight edges."""


def read_flatgeobuf(data: bytes, *, source: str) -> RawLayer:
    """Read a FlatGeobuf file.

    Parameters
    ----------
    data : bytes
        The whole file, with or without its index.
    source : str
        Its name, as people are told it.

    Returns
    -------
    RawLayer
        Records are numbered in the order of the file, which an index has sorted by place. A property that a feature
        leaves out, or NaN, is an empty cell. 32-bit numbers are the shortest decimals that they stand for: 12.7,
        not 12.699999809265137.

    Raises
    ------
    InputError
        No FlatGeobuf, cut short, damaged, or with curved shapes.
    CrsError
        A CRS that can't be read.
    """
    try:
        header, found = _header(data, source)
        features = list(_features(data, header, source))
        rows, shapes, heights = _content(features, header, room=len(data), source=source)
    except DamagedError as err:
        raise _refused(f"The FlatGeobuf is damaged: {err}.", source) from None
    columns, renamed = named_columns(
        header.names,
        ["number" if kind in _NUMBERS and kind != _BOOL else "text" for kind in header.types],
        [tuple(row.get(at) for row in rows) for at in range(len(header.names))],
        source,
    )
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=columns,
        records=np.arange(1, len(rows) + 1, dtype=np.int64),
        crs=header.crs,
        lacking="its header names none",
        mend="set its CRS in the program that made it",
        findings=(*found, *renamed, *([has_z(source)] if heights or header.heights else [])),
    )


def _header(data: bytes, source: str) -> tuple[_Header, tuple[Finding, ...]]:
    if not data.startswith(_MAGIC) or len(data) < 12:
        raise _refused("This is no FlatGeobuf of version 3.", source)
    size = _U32.unpack_from(data, 8)[0]
    if size > min(len(data) - 12, _MOST_HEADER_BYTES):
        raise DamagedError("its header leads beyond its end, so it may be cut short")
    table = Table(data[12 : 12 + size])
    names, types = [], []
    for column in table.tables(_COLUMNS):
        names.append(column.text(_NAME))
        types.append(column.number(_TYPE, _BYTE))
        if sum(map(len, names)) > size:  # names that share their bytes could unfold without end
            raise DamagedError("its columns have names longer than its header")
    if not set(types) <= {*_NUMBERS, *_TEXTS, _BINARY}:
        raise DamagedError("its columns are of unknown kinds")
    count = table.number(_FEATURES_COUNT, _U64)
    index = _index_bytes(count, table.number(_INDEX_NODE_SIZE, _U16, default=16))
    crs, findings = _crs(table.table(_CRS), source)
    kind, heights = table.number(_GEOMETRY_TYPE, _BYTE), bool(table.number(_HAS_Z, _BYTE))
    return _Header(kind, heights, names, types, count, 12 + size + index, crs), findings


def _index_bytes(count: int, node_size: int) -> int:
    """Return the size of the packed tree: a level of nodes for the features, and levels above it up to one root."""
    if not count or not node_size:
        return 0
    if node_size == 1:
        raise DamagedError("its index has nodes of one entry")
    nodes = level = count
    while level > 1:
        level = -(-level // node_size)
        nodes += level
    return nodes * _NODE_BYTES


def _crs(table: Table | None, source: str) -> tuple[str, tuple[Finding, ...]]:
    if table is None:
        return "", ()
    code, wkt = table.number(_CRS_CODE, _I32), table.text(_CRS_WKT)
    known = code > 0 and table.text(_CRS_ORG).upper() in {"", "EPSG"}
    return declared_crs(f"EPSG:{code}" if known else wkt, part="header", source=source)


def _features(data: bytes, header: _Header, source: str) -> Iterator[Table]:
    at, found = header.features_at, 0
    while at < len(data) and not 0 < header.number == found:
        size = _U32.unpack_from(data, at)[0] if at + 4 <= len(data) else len(data)
        if at + 4 + size > len(data):
            raise _refused(f"The file is cut short: it ends within feature {found + 1}.", source)
        yield Table(data[at + 4 : at + 4 + size])
        at, found = at + 4 + size, found + 1
    if found < header.number:
        raise _refused(f"The file is cut short: it should hold {header.number} features and holds {found}.", source)


def _content(
    features: list[Table], header: _Header, *, room: int, source: str
) -> tuple[list[dict[int, Cell]], Shapes, bool]:
    """Return the cells of each feature by column number, the shapes, and whether any has heights."""
    made = _Shapes(len(features), room // 8)
    rows: list[dict[int, Cell]] = []
    curved: list[int] = []
    for at, feature in enumerate(features):
        try:
            if feature.count(_OWN_COLUMNS):
                raise DamagedError("it has columns of its own, which are not read")
            geometry = feature.table(_GEOMETRY)
            if geometry is not None:
                made.add(at, geometry, header.kind)
            rows.append(_cells(feature.array(_PROPERTIES, np.dtype(np.uint8)).tobytes(), header.types))
        except _CurvedError:
            curved.append(at + 1)
        except DamagedError as err:
            raise DamagedError(f"feature {at + 1}: {err}") from None
    if curved:
        raise curved_shapes(curved, source)
    return rows, made.shapes(), made.heights


def _cells(data: bytes, types: list[int]) -> dict[int, Cell]:
    cells: dict[int, Cell] = {}
    at = 0
    try:
        while at < len(data):
            column = _U16.unpack_from(data, at)[0]
            kind, at = types[column], at + 2
            form = _NUMBERS.get(kind)
            if form is not None:
                value, at = form.unpack_from(data, at)[0], at + form.size
                real = np.float32(value) if kind == _FLOAT else value
                cells[column] = short_number(real) if kind in {_FLOAT, _DOUBLE} else value
                continue
            size = _U32.unpack_from(data, at)[0]
            raw, at = data[at + 4 : at + 4 + size], at + 4 + size
            cells[column] = f"({size} bytes)" if kind == _BINARY else raw.decode("utf-8").strip() or None
    except (struct.error, IndexError, UnicodeDecodeError):
        raise DamagedError("its properties can't be read") from None
    if at > len(data):
        raise DamagedError("its properties lead beyond their end")
    return cells


class _Shapes:
    """Gathers polygons, so that they are made in one go; the few others are made at once.

    Parameters
    ----------
    count : int
        How many features there are.
    most : int
        How many numbers there may be in all: a file whose features share their points could unfold without end.
    """

    def __init__(self, count: int, most: int) -> None:
        self.heights = False
        self._polygons = Polygons()
        self._others: dict[int, object] = {}
        self._count = count
        self._room = most

    def add(self, feature: int, geometry: Table, kind: int) -> None:
        kind = kind or geometry.number(_KIND, _BYTE)
        if kind in {_POLYGON, _TRIANGLE}:
            self._polygons.add(feature, self._rings(geometry))
        elif kind == _MULTIPOLYGON:
            for part in self._parts(geometry):
                self._polygons.add(feature, self._rings(part), multiple=True)
        else:
            self._others[feature] = self._other(geometry, kind, 0)

    def shapes(self) -> Shapes:
        """Return one shape a feature; None where there is none."""
        shapes = np.full(self._count, None, dtype=object)
        self._polygons.put(shapes)
        for at, shape in self._others.items():
            shapes[at] = shape
        return shapes

    def _other(self, geometry: Table, kind: int, depth: int) -> object:
        if kind in {_POLYGON, _TRIANGLE, _MULTIPOLYGON}:
            alone = _Shapes(1, self._room)
            alone.add(0, geometry, kind)
            self._room, self.heights = alone._room, self.heights or alone.heights
            return alone.shapes()[0]
        if kind == _COLLECTION and depth < _DEEPEST:
            parts = [self._other(part, part.number(_KIND, _BYTE), depth + 1) for part in self._parts(geometry)]
            return shapely.GeometryCollection([part for part in parts if part is not None])
        lines = self._rings(geometry)
        if kind in {_POINT, _MULTIPOINT}:
            points = np.concatenate([np.empty((0, 2)), *lines])
            return shapely.multipoints(points) if kind == _MULTIPOINT else shapely.Point(points[:1])
        if kind in {_LINE, _MULTILINE} and all(len(line) > 1 for line in lines):
            made = shapely.multilinestrings([shapely.linestrings(line) for line in lines])
            return made if kind == _MULTILINE else next(iter(shapely.get_parts(made)), None)
        if kind in range(8, 17):
            raise _CurvedError
        raise DamagedError("its shape is of no kind that there is")

    def _parts(self, geometry: Table) -> Iterator[Table]:
        self._take(geometry.count(_PARTS))
        return geometry.tables(_PARTS)

    def _rings(self, geometry: Table) -> list[Points]:
        numbers = geometry.array(_XY, _F8).astype(np.float64)
        self._take(len(numbers))
        self.heights |= geometry.count(_Z) > 0
        points = numbers.reshape(-1, 2) if len(numbers) % 2 == 0 else None
        ends = geometry.array(_ENDS, _U4).astype(np.int64)
        if points is None or (len(ends) and (ends[-1] != len(points) or (np.diff(ends, prepend=0) < 0).any())):
            raise DamagedError("its shape does not add up")
        return [ring for ring in np.split(points, ends[:-1]) if len(ring)]

    def _take(self, count: int) -> None:
        self._room -= count
        if self._room < 0:
            raise DamagedError("its shape has more points than there are bytes")


def _refused(problem: str, source: str) -> InputError:
    return InputError(problem, remedy="Have it saved or sent again as a FlatGeobuf.", where=source)
