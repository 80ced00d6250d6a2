"""Files of one map put beside other files: all or none, and never at the cost of what was there."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from vrx.errors import OutputError
from vrx.exports.side_by_side import write_files

NAMES = ("map.shp", "map.dbf", "map.shx")


def fill(folder: Path) -> None:
    for name in NAMES:
        (folder / name).write_text(f"new {name}", encoding="utf-8")


def held(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8")
        for path in folder.rglob("*")
        if path.is_file()
    }


NEW = {name: f"new {name}" for name in NAMES}


def test_files_lie_beside_others(tmp_path: Path) -> None:
    """All of them are there, nothing hidden is left, and what lay there lies there."""
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    found = write_files(tmp_path / "map.shp", NAMES, fill, force=False)
    assert [path.name for path in found] == list(NAMES)
    assert held(tmp_path) == NEW | {"note.txt": "mine"}
    assert len(list(tmp_path.iterdir())) == 4


@pytest.mark.parametrize("name", NAMES)
def test_one_file_that_is_there_stops_all(name: str, tmp_path: Path) -> None:
    """Whichever of the files it is; with force it is replaced, a folder never."""
    (tmp_path / name).write_text("old", encoding="utf-8")
    with pytest.raises(OutputError, match="already"):
        write_files(tmp_path / "map.shp", NAMES, fill, force=False)
    assert held(tmp_path) == {name: "old"}
    write_files(tmp_path / "map.shp", NAMES, fill, force=True)
    assert held(tmp_path) == NEW
    (tmp_path / name).unlink()
    (tmp_path / name).mkdir()
    with pytest.raises(OutputError, match="folder of that name"):
        write_files(tmp_path / "map.shp", NAMES, fill, force=True)


def test_a_fill_that_raises_leaves_nothing(tmp_path: Path) -> None:
    """Verification fails: old files stay, and the hidden folder goes."""
    (tmp_path / "map.shp").write_text("old", encoding="utf-8")

    def wrong(folder: Path) -> None:
        fill(folder)
        raise OutputError("It did not come back as it was written.")

    with pytest.raises(OutputError, match="come back"):
        write_files(tmp_path / "map.shp", NAMES, wrong, force=True)
    assert held(tmp_path) == {"map.shp": "old"}
    assert [path.name for path in tmp_path.iterdir()] == ["map.shp"]


def test_an_old_file_that_can_t_get_its_name_back_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two renamings fail, the one that places and the one that puts back: the old file waits in the hidden folder."""
    (tmp_path / "map.shp").write_text("old", encoding="utf-8")
    real = os.rename

    def fails(source: Path, target: Path) -> None:
        if Path(target).parent == tmp_path:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        real(source, target)

    monkeypatch.setattr(os, "rename", fails)
    with pytest.raises(OutputError, match="fault"):
        write_files(tmp_path / "map.shp", NAMES, fill, force=True)
    (only,) = held(tmp_path).items()
    assert (Path(only[0]).name, only[1]) == ("map.shp", "old")


def test_a_folder_that_is_missing_is_not_made(tmp_path: Path) -> None:
    """A name mistyped makes no folder."""
    with pytest.raises(OutputError, match="no such folder"):
        write_files(tmp_path / "no" / "map.shp", NAMES, fill, force=False)
    assert not list(tmp_path.iterdir())
