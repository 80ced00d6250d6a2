"""The sample fields: where they are, and a copy of one to play with."""

from __future__ import annotations

import shutil
from pathlib import Path

import vrx
from vrx.errors import InputError, OutputError

DEMO_FIELD = "quail_bench"


def sample_folder() -> Path:
    """Return the folder of sample fields: inside an installed package, or beside it in a checkout."""
    package = Path(vrx.__file__).parent
    for folder in (package / "sample_fields", package.parent / "sample_fields"):
        if folder.is_dir():
            return folder
    raise InputError("The sample fields are not installed with vrx.", remedy="Install vrx again.")


def sample_names() -> tuple[str, ...]:
    """Return the names of the sample fields."""
    return tuple(sorted(one.name for one in sample_folder().iterdir() if (one / "plan.toml").is_file()))


def copy_sample(name: str, target: Path, *, force: bool) -> Path:
    """Copy a sample field into a folder, and return its plan.

    Parameters
    ----------
    force : bool
        Write over the sample's files in a folder that is there; other files in it stay.

    Raises
    ------
    VrxError
        No such sample; the folder is there and not empty; it can't be written.
    """
    if name not in sample_names():
        raise InputError(f"There is no sample field {name!r}.", remedy=f"Use one of {', '.join(sample_names())}.")
    try:
        if target.exists() and not target.is_dir():
            raise OutputError("This is a file, not a folder.", remedy="Choose another folder.", where=str(target))
        if not force and target.is_dir() and any(target.iterdir()):
            raise OutputError(
                "The folder is there and not empty.",
                remedy="Choose another folder, or use --force to write the sample over it.",
                where=str(target),
            )
        target.mkdir(parents=True, exist_ok=True)
        for path in sorted((sample_folder() / name).iterdir()):
            if path.is_file():
                # Contents alone: in a place that may only be read, the sample's rights would bar changing the copy.
                shutil.copyfile(path, target / path.name)
    except OSError as err:
        reason = err.strerror or "the system refuses"
        raise OutputError(
            f"The folder can't be written: {reason}.", remedy="Choose another folder.", where=str(target)
        ) from err
    return target / "plan.toml"
