"""What safe writing shares: words for what a system refuses, names of our own, and what is on the disk for good."""

from __future__ import annotations

import errno
import hashlib
import os
import platform
import re
import secrets
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from vrx.errors import OutputError

_WORDS: Final[dict[int, tuple[str, str]]] = {
    errno.ENOSPC: ("there is no room left on the disk", "Make room, or choose another folder."),
    errno.EDQUOT: ("your share of the disk is used up", "Make room, or choose another folder."),
    errno.EFBIG: ("a file is larger than is allowed here", "Choose a folder on another disk."),
    errno.EACCES: ("writing is not allowed, or a file in it is open elsewhere", "Close it, or choose another folder."),
    errno.EPERM: ("writing is not allowed", "Choose a folder that you may write to."),
    errno.EROFS: ("the disk can only be read", "Choose a folder that you may write to."),
    errno.ENOTDIR: ("a part of its path is a file", "Choose a path that leads through folders."),
    errno.ENAMETOOLONG: ("its name is too long", "Choose a shorter name."),
    errno.EXDEV: ("it is where another disk begins", "Choose a folder inside that disk."),
    errno.EBUSY: ("it is in use", "Close the program that uses it, or choose another folder."),
    errno.EIO: ("the disk reports a fault", "Check the disk, or choose another one."),
    errno.EEXIST: ("another run wrote it meanwhile", "Look at what is there, and run again."),
    errno.ENOTEMPTY: ("another run wrote it meanwhile", "Look at what is there, and run again."),
}


@contextmanager
def plain_words(target: Path, what: str = "folder") -> Iterator[None]:
    """Turn what the system refuses into words; errors of our own pass."""
    try:
        yield
    except OSError as err:
        reason, remedy = _WORDS.get(err.errno or 0, (err.strerror or str(err), "Choose another folder."))
        raise OutputError(f"The {what} can't be written: {reason}.", remedy=remedy, where=str(target)) from err


def own_name(target: Path) -> Path:
    """Return a name beside a target for what is not finished: of this process, and rubbish once that is gone."""
    return target.with_name(f".{target.name}.{host()}-{os.getpid()}-{secrets.token_hex(4)}.tmp")


def host() -> str:
    """Return a digest of this computer's name."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def remove_rubbish(target: Path) -> None:
    """Remove what dead processes of this computer left; what another computer left may be in use."""
    pattern = re.compile(rf"\.{re.escape(target.name)}\.{host()}-(\d+)-[0-9a-f]{{8}}\.tmp")
    if not target.parent.is_dir():
        return
    for path in target.parent.iterdir():
        match = pattern.fullmatch(path.name)
        if match and not _alive(int(match[1])):
            shutil.rmtree(path, ignore_errors=True)


def _alive(pid: int) -> bool:
    if sys.platform == "win32":
        return True  # there signal 0 would end the process; its rubbish stays until someone deletes it
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def sync_all(folder: Path) -> None:
    """Have the disk hold a folder and all in it, before it gets its name."""
    for path in (*folder.rglob("*"), folder):
        sync(path)
    sync(folder.parent)


def sync(path: Path) -> None:
    """Have the disk hold a file, or the names in a folder."""
    if sys.platform == "win32" and path.is_dir():
        return  # folders can't be opened there
    handle = os.open(path, os.O_RDONLY if sys.platform != "win32" else os.O_RDWR)
    try:
        os.fsync(handle)
    except OSError as err:
        # Some network disks do not know this for folders; the files are safe by then.
        if not path.is_dir() or err.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
            raise
    finally:
        os.close(handle)
