"""The command line: one place that turns words into calls, and errors into words and exit codes."""

from __future__ import annotations

import argparse
import gc
import os
import re
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from typing import Any, NoReturn

from vrx import __version__
from vrx.cli import build, check, copy, demo, explain, new, product, ready, report
from vrx.cli.say import complain, say, say_json
from vrx.errors import InputError, OutputError, VrxError

_COMMANDS = (build, check, ready, copy, report, explain, demo, new, product)
_PLACE = re.compile(r"-[0-9.]+\s*,.*")
_EPILOG = (
    "Exit codes: 0 fine, cautions allowed; 1 a finding marked STOP, no machine files written; "
    "2 the input or the call can't be used."
)


class _Parser(argparse.ArgumentParser):
    """A parser that raises an error of ours instead of leaving, and takes options by their whole name only."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options, allow_abbrev=False)

    def _print_message(self, message: str, file: Any = None) -> None:
        # argparse would let a full disk pass in silence.
        (complain if file is sys.stderr else say)(message.rstrip("\n"))

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{message[:1].upper()}{message[1:]}.", remedy=f"See {self.prog} --help.")


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    whole = _Parser(
        prog="vrx",
        description="Prescription maps for variable-rate zones: built from a plan, kept within limits, accounted for.",
        epilog=_EPILOG,
    )
    whole.add_argument("--version", action="version", version=f"vrx {__version__}")
    whole.set_defaults(run=_help)
    commands = whole.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    for command in _COMMANDS:
        command.add(commands)
    return whole


def _help(_: argparse.Namespace) -> int:
    parser().print_help()
    return 0


def main(words: Sequence[str]) -> int:
    """Do what the words say, and return the exit code."""
    as_json = "--json" in words
    try:
        found = parser().parse_args(_joined(words))
        code: int = found.run(found)
    except VrxError as err:
        return _refuse(err, as_json=as_json)
    except BrokenPipeError:
        return 0
    except SystemExit as end:  # argparse leaves this way after --version and --help
        return int(end.code or 0)
    except KeyboardInterrupt:
        complain("Stopped. Nothing was left half-written.")
        return 130
    except MemoryError:
        few = InputError("The machine has too little memory for this.", remedy="Use fewer or simpler zones.")
        return _refuse(few, as_json=as_json)
    except Exception as err:
        # The last resort: no traceback reaches a user who did not ask for one.
        if os.environ.get("VRX_TRACEBACK"):
            traceback.print_exc()
        strange = InputError(
            f"This should not have happened: {type(err).__name__}: {err}.",
            remedy="Please report it with the plan; VRX_TRACEBACK=1 shows where it came from.",
        )
        return _refuse(strange, as_json=as_json)
    return code


def _joined(words: Sequence[str]) -> list[str]:
    """Join an option and a value such as -116.8,46.3, which argparse would take for another option."""
    joined: list[str] = []
    for word in words:
        if _PLACE.fullmatch(word) and joined and joined[-1].startswith("--") and "=" not in joined[-1]:
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _refuse(err: VrxError, *, as_json: bool) -> int:
    for one in err.each:
        complain(f"vrx: {' '.join(str(one).split())}")
    if as_json:
        from vrx.reports.as_json import errors_json

        with suppress(BrokenPipeError, OutputError):  # the lines above have said it
            say_json(errors_json(err.each))
    return 2


def run() -> NoReturn:
    """Run the command line and leave."""
    # A command lives for a second or two and leaves hardly a cycle behind: looking for them took 4 % of a build.
    gc.set_threshold(100_000, 50, 50)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            # Names in files are of any language; a terminal that lacks a letter shows a stand-in for it.
            reconfigure(errors="replace")
    sys.exit(main(sys.argv[1:]))
