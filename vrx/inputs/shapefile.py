"""Shapefiles, record by record.

Source: ESRI Shapefile Technical Description (J-7855, July 1998). Records are walked in the ``.shp`` by their own
headers, so that the ``.shx`` is not needed; nothing is ever written beside the file.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import InputError, Problems, VrxError
from vrx.inputs.crs_text import declared_crs
from vrx.inputs.dbf import DbfTable, read_dbf
from vrx.inputs.raw_layer import RawLayer, check_finite, check_vertices, has_z
from vrx.inputs.rings import Ints, Shapes, linear_rings, polygons_of_records
from vrx.model.finding import Finding
from vrx.model.layer import Column
from vrx.words import some

PARTS: Final = (".shp", ".dbf", ".shx", ".prj", ".cpg")
"""What belongs to a shapefile and is looked at."""

# 10 more is with heights, 20 more with measures
_SHAPE_TYPES: Final = {
    base + more: name
    for base, name in ((1, "point"), (3, "line"), (5, "polygon"), (8, "multipoint"))
    for more in (0, 10, 20)
}
_AGAIN: Final = "Have the shapefile saved or sent again."


class _Records(NamedTuple):
    starts: Ints  # of the contents, in bytes
    lengths: Ints  # of the contents, in bytes
    numbers: Ints  # as the records say


class _Filled(NamedTuple):
    """The records that have a shape: where their contents start, how long they are, and which they are (from 0)."""

    starts: Ints
    lengths: Ints
    records: Ints
    source: str


def read_shapefile(parts: Mapping[str, bytes], *, source: str) -> RawLayer:
    """Read a shapefile from the bytes of its parts.

    Parameters
    ----------
    parts : mapping of str to bytes
        By suffix in lower case; ``.shp`` at least.
    source : str
        Name of the file, as people are told it.

    Returns
    -------
    RawLayer
        Null shapes, and polygons without parts, are None. Deleted records are left out with their shapes.

    Raises
    ------
    InputError
        Damaged or cut short (with the record), of a type that has no use here, or shapes and records differ
        in number. All problems of the parts are reported together.
    """
    problems: list[VrxError] = []
    crs, findings = "", list[Finding]()
    try:
        prj = parts.get(".prj", b"")
        crs, found = declared_crs(_text(prj), part=".prj", source=source)
        findings.extend(found)
    except VrxError as err:
        problems.append(err)
    try:
        kind = _header(parts[".shp"], source)
        table, records, noted = _records(parts, source)
        findings.extend(noted)
        shapes, wound = _shapes(parts[".shp"], kind, records, source)
        findings.extend(wound)
    except VrxError as err:
        problems.append(err)
        raise (Problems(problems) if len(problems) > 1 else err) from None
    if problems:
        raise problems[0]
    if kind > 10:
        findings.append(has_z(source, measures=kind > 20))
    return _live(source, shapes, table, crs, findings, lacking=_lacking(parts))


def _live(
    source: str, shapes: Shapes, table: DbfTable | None, crs: str, findings: list[Finding], *, lacking: str
) -> RawLayer:
    numbers = np.arange(1, len(shapes) + 1, dtype=np.int64)
    columns: dict[str, Column] = dict(table.columns) if table else {}
    if table and table.deleted:
        gone = [at + 1 for at in table.deleted]
        findings.append(
            Finding(
                id="deleted-record",
                severity="note",
                message=f"{source}: {len(gone)} deleted record{'s'[: len(gone) > 1]} ignored ({some(gone)}).",
                features=tuple(gone),
            )
        )
        live = np.ones(len(shapes), dtype=bool)
        live[list(table.deleted)] = False
        shapes, numbers = shapes[live], numbers[live]
        kept = np.flatnonzero(live).tolist()
        columns = {
            name: Column(name=name, kind=column.kind, cells=tuple(column.cells[at] for at in kept))
            for name, column in columns.items()
        }
    return RawLayer(
        source=source,
        shapes=shapes,
        columns=columns,
        records=numbers,
        crs=crs,
        lacking=lacking,
        mend="put the .prj that belongs to it beside it",
        findings=tuple(findings),
    )


def _lacking(parts: Mapping[str, bytes]) -> str:
    if ".prj" not in parts:
        return "there is no .prj beside it"
    return "its .prj is empty" if not parts[".prj"].strip() else "its .prj names a local grid without a place on earth"


def _text(prj: bytes) -> str:
    try:
        return prj.decode("utf-8-sig").strip("\0 \r\n\t")
    except UnicodeDecodeError:
        return prj.decode("latin-1").strip("\0 \r\n\t")


def _header(data: bytes, source: str) -> int:
    if len(data) < 100:
        raise InputError(f"The .shp has {len(data)} bytes; its header alone takes 100.", remedy=_AGAIN, where=source)
    (code,) = struct.unpack_from(">i", data, 0)
    version, kind = struct.unpack_from("<ii", data, 28)
    if code != 9994 or version != 1000:
        raise InputError(
            f"This is no shapefile: its .shp starts with file code {code} and version {version}, not 9994 and 1000.",
            remedy=_AGAIN,
            where=source,
        )
    if kind == 31:
        raise InputError(
            "It holds surfaces in space (multipatch), not areas on the ground.",
            remedy="Save it as polygons.",
            where=source,
        )
    if kind not in _SHAPE_TYPES and kind != 0:
        raise InputError(f"Its shape type {kind} is not known.", remedy=_AGAIN, where=source)
    return int(kind)


def _records(parts: Mapping[str, bytes], source: str) -> tuple[DbfTable | None, _Records, list[Finding]]:
    data, findings = parts[".shp"], list[Finding]()
    index = _indexed(data, parts[".shx"]) if ".shx" in parts else None
    failure: InputError | None = None
    walked: _Records | None = None
    try:
        walked, note = _walked(data, source)
        findings.extend(note)
    except InputError as err:
        failure = err
    expected = len(walked.starts) if walked else None
    table = None
    if ".dbf" in parts:
        table = read_dbf(parts[".dbf"], source=source, cpg=parts.get(".cpg"), expected=expected)
        findings.extend(table.findings)
    else:
        findings.append(_missing(source, ".dbf", "caution", "so the shapes have no columns, and no rates"))
    if ".shx" not in parts:
        findings.append(_missing(source, ".shx", "note", "the records are found without it"))
    records, note = _agreed(walked, index, table, failure, source)
    return table, records, findings + note


def _agreed(
    walked: _Records | None, index: _Records | None, table: DbfTable | None, failure: InputError | None, source: str
) -> tuple[_Records, list[Finding]]:
    count = table.count if table else None
    if walked is not None and count in {None, len(walked.starts)}:
        same = index is None or np.array_equal(index.starts, walked.starts)
        return walked, [] if same else [_index_note(source, "which is wrong and not used")]
    # Programs that change a shape in place leave the old one behind: then the index knows which holds.
    if index is not None and len(index.starts) == count:
        return index, [_index_note(source, "which leaves out shapes that were replaced; the index holds")]
    if failure is not None:
        raise failure
    number = len(walked.starts) if walked else 0
    raise InputError(
        f"The .shp holds {number} shapes, the .dbf {count} records: they do not belong together.",
        remedy="Have the .shp and the .dbf sent again, from the same folder.",
        where=source,
    )


def _walked(data: bytes, source: str) -> tuple[_Records, list[Finding]]:
    stated = 2 * struct.unpack_from(">i", data, 24)[0]
    end = min(stated, len(data))
    header = struct.Struct(">ii").unpack_from
    starts, lengths, numbers = list[int](), list[int](), list[int]()
    at = 100
    while at < end:
        number, words = header(data, at) if at + 8 <= len(data) else (0, 2**30)
        size = 2 * words
        if size < 4 or at + 8 + size > len(data):
            raise _cut(len(starts) + 1, at, size, len(data), source)
        starts.append(at + 8)
        lengths.append(size)
        numbers.append(number)
        at += 8 + size
    if stated > len(data):
        raise _cut(len(starts) + 1, at, 0, len(data), source)
    found = _Records(*(np.array(column, dtype=np.intp) for column in (starts, lengths, numbers)))
    if at >= len(data):
        return found, []
    message = f"{source}: {len(data) - at} bytes after the end that the .shp states are not read."
    return found, [Finding(id="length-mismatch", severity="caution", message=message, remedy=_AGAIN)]


def _cut(record: int, at: int, size: int, length: int, source: str) -> InputError:
    if 4 <= size < 2**30:
        problem = f"needs {size} bytes from byte {at + 8} on, but the .shp ends at {length}: the file is cut short"
    elif at + 8 > length or size == 0:
        problem = f"should start at byte {at}, but the .shp ends at {length}: the file is cut short"
    else:
        problem = f"has an impossible length: the .shp is damaged from byte {at} on"
    return InputError(f"Record {record} {problem}.", remedy=_AGAIN, where=source)


def _indexed(data: bytes, shx: bytes) -> _Records | None:
    """Return the records as the index has them; None where it is not sound."""
    if len(shx) < 100 or (len(shx) - 100) % 8:
        return None
    table = np.frombuffer(shx, ">i4", offset=100).reshape(-1, 2).astype(np.intp) * 2
    starts, lengths = table[:, 0] + 8, table[:, 1]
    if not ((starts >= 108) & (lengths >= 4) & (starts + lengths <= len(data))).all():
        return None
    heads = _gather(data, starts - 8, 2, ">i4")
    # A record that shrank keeps its place, so the index may give less than stands there, not more.
    sound = len(np.unique(starts)) == len(starts) and bool((heads[:, 1] * 2 >= lengths).all())
    return _Records(starts, lengths, heads[:, 0]) if sound else None


def _gather(data: bytes, at: Ints, number: int, kind: str) -> Ints:
    """Return ``number`` integers of 4 bytes from each place, shape (n_places, number)."""
    raw = np.frombuffer(data, np.uint8)
    picked = raw[at[:, None] + np.arange(4 * number)]
    whole: Ints = np.ascontiguousarray(picked).view(kind).astype(np.intp)
    return whole.reshape(len(at), number)


def _shapes(data: bytes, kind: int, records: _Records, source: str) -> tuple[Shapes, list[Finding]]:
    shapes = np.full(len(records.starts), None, dtype=object)
    types = _gather(data, records.starts, 1, "<i4")[:, 0]
    wrong = np.flatnonzero((types != kind) & (types != 0))
    if len(wrong):
        raise InputError(
            f"Record {some((wrong + 1).tolist())} is of shape type {types[wrong[0]]} in a file of type {kind}.",
            remedy=_AGAIN,
            where=source,
        )
    if kind == 0:
        return shapes, []
    filled = np.flatnonzero(types)
    place = _Filled(records.starts[filled], records.lengths[filled], filled, source)
    match _SHAPE_TYPES[kind]:
        case "point":
            _put_points(shapes, data, place)
        case "multipoint":
            _put_multipoints(shapes, data, place)
        case "line":
            shapes[:] = _lines(*_paths(data, place), len(shapes))
        case _:
            points, part_lengths, owner = _paths(data, place)
            # Before they are nested, which takes sound numbers.
            check_finite(points, lambda: np.repeat(owner + 1, part_lengths), source=source)
            nested = polygons_of_records(linear_rings(points, part_lengths), owner, len(shapes))
            return nested.shapes, _wound(nested.against_winding, nested.outside, source)
    return shapes, []


def _put_points(shapes: Shapes, data: bytes, place: _Filled) -> None:
    _check_room(place, 20)
    points = _points(data, place.starts + 4, np.ones_like(place.starts))
    seen = ~np.isnan(points).any(axis=1)  # NaN stands for an empty point
    shapes[place.records[seen]] = shapely.points(points[seen])


def _put_multipoints(shapes: Shapes, data: bytes, place: _Filled) -> None:
    _check_room(place, 40)
    number = _gather(data, place.starts + 36, 1, "<i4")[:, 0]
    _check_room(place, np.where(number < 0, 2**40, 40 + 16 * number))
    check_vertices(number, place.records + 1, source=place.source)
    points = shapely.points(_points(data, place.starts + 40, number))
    full = number > 0
    index = np.repeat(np.arange(int(full.sum())), number[full])
    shapes[place.records[full]] = shapely.multipoints(points, indices=index)


def _paths(data: bytes, place: _Filled) -> tuple[NDArray[np.float64], Ints, Ints]:
    """Return the points, length of each part, and record of each part, of lines and polygons."""
    _check_room(place, 44)
    starts = place.starts
    n_parts, n_points = _gather(data, starts + 36, 2, "<i4").T
    room = np.where((n_parts < 0) | (n_points < 0), 2**40, 44 + 4 * n_parts + 16 * n_points)
    _check_room(place, room)
    check_vertices(n_points, place.records + 1, source=place.source)
    first = _joined(data, starts + 44, 4 * n_parts, "<i4").astype(np.intp)
    owner = np.repeat(np.arange(len(starts)), n_parts)
    last = np.r_[first[1:], 0]
    final = np.r_[owner[1:] != owner[:-1], True] if len(owner) else np.zeros(0, dtype=bool)
    last[final] = n_points[owner[final]]
    opening = np.r_[True, final[:-1]] if len(owner) else final
    size = last - first
    bad = np.unique(owner[(size < 0) | (opening & (first != 0))])
    stray = np.flatnonzero((n_parts == 0) & (n_points > 0))
    if len(bad) or len(stray):
        records = place.records[np.union1d(bad, stray)] + 1
        raise InputError(
            f"The parts of record {some(records.tolist())} do not fit its points.", remedy=_AGAIN, where=place.source
        )
    points = _points(data, starts + 44 + 4 * n_parts, n_points)
    full = size > 0
    return points, size[full], place.records[owner[full]]


def _lines(points: NDArray[np.float64], lengths: Ints, owner: Ints, n_records: int) -> Shapes:
    shapes = np.full(n_records, None, dtype=object)
    if not len(lengths):
        return shapes
    if (lengths < 2).any():  # a line of one point: it stays, with no length
        ends = np.cumsum(lengths)
        points = np.insert(points, ends[lengths < 2], points[ends[lengths < 2] - 1], axis=0)
        lengths = np.maximum(lengths, 2)
    lines = shapely.linestrings(points, indices=np.repeat(np.arange(len(lengths)), lengths))
    single = np.bincount(owner)[owner] == 1
    shapes[owner[single]] = lines[single]
    if not single.all():
        several, place = np.unique(owner[~single], return_inverse=True)
        shapes[several] = shapely.multilinestrings(lines[~single], indices=place)
    return shapes


def _joined(data: bytes, starts: Ints, sizes: Ints, kind: str) -> NDArray[np.generic]:
    view = memoryview(data)
    pieces = [view[start : start + size] for start, size in zip(starts.tolist(), sizes.tolist(), strict=True)]
    return np.frombuffer(b"".join(pieces), kind)


def _points(data: bytes, starts: Ints, number: Ints) -> NDArray[np.float64]:
    return _joined(data, starts, 16 * number, "<f8").astype(np.float64).reshape(-1, 2)


def _check_room(place: _Filled, needed: Ints | int) -> None:
    short = np.flatnonzero(place.lengths < needed)
    if len(short):
        raise InputError(
            f"Record {some((place.records[short] + 1).tolist())} states more points than it has room for.",
            remedy=_AGAIN,
            where=place.source,
        )


def _wound(against: Ints, outside: Ints, source: str) -> list[Finding]:
    texts = (
        (against, "has a hole wound like the ring around it; it lies inside, so it is a hole"),
        (outside, "has a ring wound as a hole that lies in no other ring; it is taken as ground"),
    )
    return [
        Finding(
            id="hole-winding",
            severity="note",
            message=f"{source}: record {some((records + 1).tolist())} {text}.",
            features=tuple((records + 1).tolist()),
        )
        for records, text in texts
        if len(records)
    ]


def _missing(source: str, part: str, severity: str, consequence: str) -> Finding:
    return Finding(
        id="missing-part",
        severity="caution" if severity == "caution" else "note",
        message=f"{source}: there is no {part} beside it; {consequence}.",
        remedy=f"Put the {part} that was saved with it beside the .shp, or have all its files sent as one .zip.",
    )


def _index_note(source: str, why: str) -> Finding:
    return Finding(id="index-mismatch", severity="note", message=f"{source}: the .shp and its .shx differ, {why}.")
