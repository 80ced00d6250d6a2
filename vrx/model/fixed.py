"""A map that was mended."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vrx.model.check import Check


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """What a mended map came to.

    Attributes
    ----------
    path : Path
        The file to open; of a shapefile the ``.shp``.
    files : tuple of Path
        All that was written, ``path`` first.
    source : str
        Name of the map that was mended, as people are told it.
    changes : tuple of str
        What was changed, a sentence each, with the ground that it concerns; empty where nothing had to be.
    left : tuple of str
        What was seen and left as it is, since nobody but the map's maker may settle it.
    check : Check
        Of the mended map.
    """

    path: Path
    files: tuple[Path, ...]
    source: str
    changes: tuple[str, ...]
    left: tuple[str, ...]
    check: Check
