"""Tables of FlatBuffers, read where they lie: every offset is checked, so that damaged bytes can't lead astray.

Source: the FlatBuffers binary format (tables with vtables, offsets that count from where they stand).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

_U16: Final = struct.Struct("<H")
_I32: Final = struct.Struct("<i")
_U32: Final = struct.Struct("<I")


class DamagedError(ValueError):
    """An offset or a length leads outside the bytes."""


class Table:
    """One table; its fields are asked for by their number in the schema.

    Parameters
    ----------
    data : bytes
        The whole buffer.
    at : int
        Where the table begins; the root table unless said.
    """

    __slots__ = ("_at", "_data", "_size", "_vtable")

    def __init__(self, data: bytes, at: int = -1) -> None:
        self._data = data
        self._at = _number(data, 0, _U32) if at < 0 else at
        self._vtable = self._at - _number(data, self._at, _I32)
        self._size = _number(data, self._vtable, _U16)

    def number(self, field: int, form: struct.Struct, default: int = 0) -> int:
        """Return a whole number, or the default where the field is left out."""
        at = self._place(field)
        return _number(self._data, at, form) if at else default

    def text(self, field: int) -> str:
        """Return text in UTF-8; empty where the field is left out."""
        data = self.array(field, np.dtype(np.uint8)).tobytes()
        try:
            return data.decode("utf-8")
        except UnicodeDecodeError:
            raise DamagedError("a text is not UTF-8") from None

    def array(self, field: int, kind: np.dtype[np.generic]) -> NDArray[np.generic]:
        """Return a vector of numbers; empty where the field is left out."""
        at, count = self._vector(field)
        if not count:
            return np.empty(0, dtype=kind)
        try:
            return np.frombuffer(self._data, dtype=kind, count=count, offset=at)
        except ValueError:
            raise DamagedError(f"a list of {count} values leads outside the bytes") from None

    def table(self, field: int) -> Table | None:
        """Return a table that a field points to; None where the field is left out."""
        at = self._place(field)
        return Table(self._data, at + _number(self._data, at, _U32)) if at else None

    def tables(self, field: int) -> Iterator[Table]:
        """Yield the tables of a vector."""
        for at in (self._vector(field)[0] + 4 * place for place in range(self.count(field))):
            yield Table(self._data, at + _number(self._data, at, _U32))

    def count(self, field: int) -> int:
        """Return how many a vector holds; 0 where the field is left out."""
        return self._vector(field)[1]

    def _place(self, field: int) -> int:
        slot = 4 + 2 * field
        offset = _number(self._data, self._vtable + slot, _U16) if slot + 2 <= self._size else 0
        return self._at + offset if offset else 0

    def _vector(self, field: int) -> tuple[int, int]:
        at = self._place(field)
        if not at:
            return 0, 0
        at += _number(self._data, at, _U32)
        return at + 4, _number(self._data, at, _U32)


def _number(data: bytes, at: int, form: struct.Struct) -> int:
    if not 0 <= at <= len(data) - form.size:
        raise DamagedError("an offset leads outside the bytes")
    return int(form.unpack_from(data, at)[0])
