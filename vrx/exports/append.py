"""Adding text to the end of a file that a person keeps: the rest of it stays byte for byte."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from vrx.errors import OutputError
from vrx.exports.system import plain_words, sync


def append_text(path: Path, text: str, *, before: bytes | None) -> None:
    """Add text to the end of a file, all of it or nothing.

    Parameters
    ----------
    path : Path
    text : str
        With LF; written with the line ends that the file has, and from a line of its own on.
    before : bytes or None
        What the file held when it was looked at; None where there was none, and it is made.

    Raises
    ------
    OutputError
        The file was changed meanwhile, or the system refuses.
    """
    with plain_words(path, "file"):
        if before is None:
            _write(path, text.encode("utf-8"), os.O_CREAT | os.O_EXCL)
            return
        if path.read_bytes() != before:
            raise OutputError(
                "The file was changed meanwhile.", remedy="Run it again: nothing was written.", where=str(path)
            )
        ends = "\r\n" if b"\r\n" in before else "\n"
        gap = "" if not before else "\n" if before.endswith(b"\n") else "\n\n"
        _write(path, f"{gap}{text}".replace("\n", ends).encode("utf-8"), os.O_APPEND)


def _write(path: Path, data: bytes, how: int) -> None:
    handle = os.open(path, os.O_WRONLY | how | getattr(os, "O_BINARY", 0), 0o666)
    size = os.fstat(handle).st_size
    try:
        left = memoryview(data)
        while left:
            left = left[os.write(handle, left) :]
        os.fsync(handle)
    except BaseException:
        with suppress(OSError):
            os.ftruncate(handle, size)
            if how & os.O_EXCL:
                path.unlink()
        raise
    finally:
        os.close(handle)
    with suppress(OSError):
        sync(path.parent)
