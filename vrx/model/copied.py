"""What was put on a stick."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vrx.model.finding import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiedFile:
    """A machine file on a stick.

    Attributes
    ----------
    sha256 : str
        In hexadecimal, as read back.
    field : str
        The field that it is for.
    is_new : bool
        False where the same file lay there before.
    """

    name: str
    sha256: str
    field: str
    is_new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """Machine files of one bundle or several, side by side in a folder of a stick.

    Attributes
    ----------
    removed : tuple of str
        Files of other builds that were taken off the stick, as told.
    """

    folder: Path
    files: tuple[CopiedFile, ...]
    removed: tuple[str, ...]
    findings: tuple[Finding, ...]
