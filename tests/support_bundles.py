"""Folders written for tests: their contents before and after, a filler, and what lies where."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path


def with_manifest(files: dict[str, bytes]) -> dict[str, bytes]:
    """Return files with a manifest that lists them."""
    listed = json.dumps({"outputs": [{"path": name} for name in files]})
    return {"manifest.json": listed.encode(), **files}


OLD = with_manifest({"machine/map.shp": b"old map", "machine/map.dbf": b"old table"})
NEW = with_manifest({"machine/map.shp": b"new map", "paper/ledger.csv": b"new ledger"})


def put(content: dict[str, bytes]) -> Callable[[Path], str]:
    """Return a filler that writes these files with the calls that the tests disturb."""

    def fill(folder: Path) -> str:
        for name, data in content.items():
            (folder / name).parent.mkdir(exist_ok=True)
            handle = os.open(folder / name, os.O_WRONLY | os.O_CREAT)
            try:
                os.write(handle, data)
            finally:
                os.close(handle)
        return "written"

    return fill


def files_in(folder: Path) -> dict[str, bytes] | None:
    if not folder.is_dir():
        return None
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())
