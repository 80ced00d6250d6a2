"""What a strict display loads, where nobody says what this one does: lengths, numbers and names."""

from __future__ import annotations

import re
from typing import Final

COLUMN_LENGTH: Final = 10  # a name's slot in a .dbf has 11 bytes, the last one zero
NAME_LENGTH: Final = 32
MOST_FEATURES: Final = 5000
MOST_VERTICES: Final = 2000
RESERVED_STEMS: Final = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{digit}" for port in ("com", "lpt") for digit in "0123456789"}
)
_PLAIN_STEM: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]*")


def plain_stem(name: str) -> bool:
    """Tell whether a file name without its ending is of plain letters, digits, ``_`` and ``-``, which is not first."""
    return _PLAIN_STEM.fullmatch(name) is not None


def reserved_stem(name: str) -> bool:
    """Tell whether Windows keeps a file name, whatever its ending, for a device."""
    return name.lower() in RESERVED_STEMS
