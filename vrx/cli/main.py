"""The command line: one place that turns words into calls, and errors into words and exit codes."""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Sequence
from typing import NoReturn

from vrx import __version__
from vrx.cli import build, demo, new
from vrx.errors import InputError, VrxError

_COMMANDS = (build, demo, new)
_EPILOG = (
    "Exit codes: 0 fine, cautions allowed; 1 a finding marked STOP, no machine files written; "
    "2 the input or the call can't be used."
)


class _Parser(argparse.ArgumentParser):
    """A parser that raises an error of ours instead of leaving."""

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
    try:
        found = parser().parse_args(list(words))
        return _do(found)
    except VrxError as err:
        return _refuse(err, as_json="--json" in words)
    except BrokenPipeError:
        # Whoever read our output has seen enough; nothing more may be written, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("Stopped. Nothing half-written was left.", file=sys.stderr)
        return 130
    except MemoryError:
        return _refuse(InputError("The machine has too little memory for this.", remedy="Use fewer or simpler zones."))
    except Exception as err:
        # The last resort: no traceback reaches a user who did not ask for one.
        if os.environ.get("VRX_TRACEBACK"):
            traceback.print_exc()
        strange = InputError(
            f"This should not have happened: {type(err).__name__}: {err}.",
            remedy="Please report it with the plan; VRX_TRACEBACK=1 shows where it came from.",
        )
        return _refuse(strange, as_json="--json" in words)


def _do(found: argparse.Namespace) -> int:
    code: int = found.run(found)
    sys.stdout.flush()  # a closed pipe is noticed here, not at exit
    return code


def _refuse(err: VrxError, *, as_json: bool = False) -> int:
    for one in err.each:
        print(f"vrx: {' '.join(str(one).split())}", file=sys.stderr)
    if as_json:
        import json

        from vrx.reports.as_json import errors_json

        print(json.dumps(errors_json(err.each), ensure_ascii=False, allow_nan=False))
    return 2


def run() -> NoReturn:
    """Run the command line and leave."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            # Names in files are of any language; a terminal that lacks a letter shows a stand-in for it.
            reconfigure(errors="replace")
    sys.exit(main(sys.argv[1:]))
