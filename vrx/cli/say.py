"""Saying things: results on standard output, complaints on standard error."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from contextlib import suppress
from pathlib import Path

from vrx.errors import OutputError
from vrx.words import visible


def say(text: str) -> None:
    """Print on standard output; names from files in it can't steer a terminal.

    Raises
    ------
    OutputError
        It can't be written, such as on a full disk.
    BrokenPipeError
        Whoever read it has seen enough.
    """
    if sys.stdout is None:  # closed by whoever started this process: there is nobody to tell
        return
    try:
        print(visible(text, keep="\n"), flush=True)
    except BrokenPipeError:
        hush()
        raise
    except OSError as err:
        hush()
        raise OutputError(
            f"The result can't be printed: {err.strerror or 'the system refuses'}.",
            remedy="Give standard output another place.",
        ) from err


def say_json(value: object) -> None:
    """Print one JSON object, with escapes for letters that the terminal or file lacks: none may be lost."""
    import json

    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        text = json.dumps(value, ensure_ascii=True, allow_nan=False)
    say(text)


def complain(text: str) -> None:
    """Print on standard error, if it is there."""
    if sys.stderr is None:  # print would take standard output instead, which may be for JSON alone
        return
    with suppress(OSError):
        print(visible(text, keep="\n"), file=sys.stderr, flush=True)


def typed(*words: str) -> str:
    """Return a command of vrx that can be typed as it stands: begun as this one was, blanks quoted."""
    called = sys.argv[0]
    if Path(called).name == "__main__.py":
        program = [sys.executable, "-m", "vrx"]
    elif Path(called).stem != "vrx" or (Path(called).is_absolute() and shutil.which("vrx") == called):
        program = ["vrx"]  # called by another program, or found by its name alone
    else:
        program = [called]
    line = [*program, *words]
    if os.name == "nt":
        from subprocess import list2cmdline

        return list2cmdline(line)
    return shlex.join(line)


def hush() -> None:
    """Turn standard output away: what is still in its buffer may not be written either, not even at exit."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
