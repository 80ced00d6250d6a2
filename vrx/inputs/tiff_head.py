"""What the header of a TIFF states of its size, read before any library gets the file.

Source: TIFF Revision 6.0 (Adobe, 3 June 1992), sections 2, 8 and 15, and its form for large files as the libraries
of the trade write it (BigTIFF: 43 for 42, and 8 bytes for 4); from memory.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final

_CLASSIC, _BIG = 42, 43
_SHORT, _LONG, _LONG8 = 3, 4, 16
_TYPES: Final = {_SHORT: "H", _LONG: "I", _LONG8: "Q"}
_WIDTH, _HEIGHT, _BITS, _SAMPLES, _STRIP_ROWS, _TILE_WIDTH, _TILE_HEIGHT = 256, 257, 258, 277, 278, 322, 323
_NEEDED: Final = frozenset({_WIDTH, _HEIGHT, _BITS, _SAMPLES, _STRIP_ROWS, _TILE_WIDTH, _TILE_HEIGHT})
_MOST_ENTRIES: Final = 4096  # a directory of a map has about twenty


@dataclass(frozen=True, slots=True, kw_only=True)
class TiffHead:
    """The first image of a TIFF.

    Attributes
    ----------
    width, height : int
        In cells.
    block_bytes : int
        Of one tile or strip with all of its samples, unpacked.
    """

    width: int
    height: int
    block_bytes: int


def tiff_head(data: bytes) -> TiffHead | None:
    """Return what a TIFF states of its first image; None where its first directory can't be read.

    Nothing beyond that directory is looked at.
    """
    order = {b"II": "<", b"MM": ">"}.get(data[:2])
    if order is None:
        return None
    try:
        entries = _entries(data, order)
    except struct.error:
        return None
    width, height = entries.get(_WIDTH, 0), entries.get(_HEIGHT, 0)
    if not (width and height):
        return None
    cell_bytes = -(-entries.get(_BITS, 1) * max(entries.get(_SAMPLES, 1), 1) // 8)
    if _TILE_WIDTH in entries:
        cells = entries[_TILE_WIDTH] * entries.get(_TILE_HEIGHT, 0)
    else:
        cells = width * min(entries.get(_STRIP_ROWS, height), height)
    return TiffHead(width=width, height=height, block_bytes=cells * cell_bytes)


def _entries(data: bytes, order: str) -> dict[int, int]:
    """Return the first number of each entry that is needed, by its tag."""
    (kind,) = struct.unpack_from(f"{order}H", data, 2)
    if kind == _CLASSIC:
        (at,) = struct.unpack_from(f"{order}I", data, 4)
        (count,), start, size, number = struct.unpack_from(f"{order}H", data, at), at + 2, 12, "I"
    elif kind == _BIG:
        (at,) = struct.unpack_from(f"{order}Q", data, 8)
        (count,), start, size, number = struct.unpack_from(f"{order}Q", data, at), at + 8, 20, "Q"
    else:
        return {}
    found: dict[int, int] = {}
    head = struct.Struct(f"{order}HH{number}")
    for at in range(start, start + size * min(count, _MOST_ENTRIES), size):
        tag, type_, number_of = head.unpack_from(data, at)
        if tag not in _NEEDED or type_ not in _TYPES or not number_of:
            continue
        value = struct.Struct(order + _TYPES[type_])
        place = at + head.size
        if value.size * number_of > size - head.size:  # too many to stand in the entry itself
            (place,) = struct.unpack_from(order + number, data, place)
        found[tag] = int(value.unpack_from(data, place)[0])
    return found
