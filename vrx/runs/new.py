"""Starting a plan."""

from __future__ import annotations

from pathlib import Path

from vrx.errors import OutputError
from vrx.inputs.new_plan import starter_plan
from vrx.units import System


def start_plan(folder: Path, *, units: System, force: bool) -> Path:
    """Write a commented plan to start from, and return its path.

    Raises
    ------
    OutputError
        A plan is there already and ``force`` is not given, or the folder can't be written.
    """
    path = folder / "plan.toml"
    try:
        if path.exists() and not force:
            raise OutputError("A plan is there already.", remedy="Use --force to write over it.", where=str(path))
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(starter_plan(units=units), encoding="utf-8", newline="\n")
    except OSError as err:
        raise OutputError(
            f"The plan can't be written: {err.strerror or 'the system refuses'}.",
            remedy="Choose another folder.",
            where=str(path),
        ) from err
    return path
