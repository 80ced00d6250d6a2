"""Saying things: results on standard output, complaints on standard error."""

from __future__ import annotations

import os
import sys
from contextlib import suppress

from vrx.errors import OutputError


def say(text: str) -> None:
    """Print on standard output.

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
        print(text, flush=True)
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
        print(text, file=sys.stderr, flush=True)


def hush() -> None:
    """Turn standard output away: what is still in its buffer may not be written either, not even at exit."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
