"""Starting a plan: from nothing, or from another field's."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from vrx.errors import OutputError, VrxError
from vrx.inputs.new_plan import starter_plan
from vrx.inputs.next_field import next_field
from vrx.inputs.read import read_layer
from vrx.units import System

_NAME = "plan.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A plan copied from another field's.

    Attributes
    ----------
    fill_in : tuple of str
        What is empty and has to be given, with lines.
    left_out : tuple of str
        What the other plan has and this one does not.
    look_at : tuple of str
        What was copied and may be meant for the other field.
    """

    path: Path
    fill_in: tuple[str, ...]
    left_out: tuple[str, ...]
    look_at: tuple[str, ...]


def start_plan(folder: Path, *, units: System, force: bool) -> Path:
    """Write a commented plan to start from, and return its path.

    Raises
    ------
    OutputError
        A plan is there already and ``force`` is not given, or the folder can't be written.
    """
    return _write(folder, starter_plan(units=units), force=force)


def start_from(plan: Path, folder: Path, *, boundary: Path, force: bool) -> Started:
    """Copy a plan for the next field: all but what is of one field's ground.

    Parameters
    ----------
    plan : Path
        The plan to copy; it stays as it is.
    folder : Path
        Where the new one goes, as ``plan.toml``.
    boundary : Path
        The next field's boundary; it has to be there.

    Raises
    ------
    VrxError
        The plan can't be read or copied, there is no such boundary, or the new plan can't be written.
    """
    path = folder / _NAME
    if os.path.realpath(path) == os.path.realpath(plan):
        raise OutputError(
            "This is the plan to copy from.",
            remedy="Choose another folder: a plan is never written over itself.",
            where=str(path),
        )
    made = next_field(plan, folder, boundary)
    fill_in = list(made.fill_in)
    try:
        read_layer(boundary)
    except VrxError as err:
        if not boundary.exists():
            raise
        fill_in.append(f"what the boundary needs: {err}")
    _write(folder, made.text, force=force)
    return Started(path=path, fill_in=tuple(fill_in), left_out=made.left_out, look_at=made.look_at)


def _write(folder: Path, text: str, *, force: bool) -> Path:
    path = folder / _NAME
    try:
        if path.exists() and not force:
            raise OutputError("A plan is there already.", remedy="Use --force to write over it.", where=str(path))
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as err:
        raise OutputError(
            f"The plan can't be written: {err.strerror or 'the system refuses'}.",
            remedy="Choose another folder.",
            where=str(path),
        ) from err
    return path
