"""A program for tests: builds a plan again and again, each time in a fork that is disturbed at another step.

``python support_kill.py HOW BASE START`` copies the folder ``BASE/start`` to ``BASE/1``, ``BASE/2`` ..., and builds its
``plan.toml`` over what is there; the n-th build is disturbed at its n-th step.
Prints a JSON list: how each build ended, and what it said on standard error. HOW is

kill        the process is killed (SIGKILL) before the step
full        the step and all after it fail for want of room, except those that need none: to delete, and to read
once        the step alone fails
limit       a file may hold so many bytes as the n-th of some sizes; no step is counted

A step is a call by which Python asks the system to change something under BASE, or to open a file there for writing or
for flushing: the interpreter announces each of them to an audit hook.
"""

from __future__ import annotations

import errno
import json
import os
import resource
import shutil
import signal
import sys
from pathlib import Path
from typing import Any

from vrx.cli.main import main

CHANGES = {"os.mkdir", "os.rename", "os.remove", "os.rmdir"}
NEEDS_NO_ROOM = {"os.remove", "os.rmdir"}
WRITES = os.O_WRONLY | os.O_RDWR
LIMITS = (0, 30, 99, 300, 1_000, 3_000, 10_000, 50_000)
MOST = 300
STEPS = 50  # more than a build has until its bundle is in place


def is_step(event: str, arguments: tuple[Any, ...], base: str) -> bool:
    if event not in CHANGES | {"open"} or not str(arguments[0]).startswith(base):
        return False
    if event != "open":
        return True
    # Inputs are opened to read them; what was written is opened again by a bare number of flags, to flush it.
    _, mode, flags = arguments
    return mode is None or bool(flags & WRITES)


def needs_room(event: str, arguments: tuple[Any, ...]) -> bool:
    return event not in NEEDS_NO_ROOM and (event != "open" or bool(arguments[2] & WRITES))


def disturb(how: str, at: int, base: str) -> None:
    """Install what disturbs this process; it can't be taken away again."""
    count = 0

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        nonlocal count
        if not is_step(event, arguments, base):
            return
        count += 1
        if how == "kill" and count == at:
            os.kill(os.getpid(), signal.SIGKILL)
        if (how == "once" and count == at) or (how == "full" and count >= at and needs_room(event, arguments)):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    if how == "limit":
        resource.setrlimit(resource.RLIMIT_FSIZE, (LIMITS[at - 1], LIMITS[at - 1]))
    else:
        sys.addaudithook(hook)


def in_a_fork(how: str, at: int, folder: Path) -> tuple[int, str]:
    """Return how the build ended (an exit code, or minus a signal), and its standard error."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(writer, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        disturb(how, at, str(folder))
        code = main(["build", str(folder / "plan.toml"), "--force", "--no-pictures"])
        sys.stderr.flush()
        os._exit(code)
    os.close(writer)
    with os.fdopen(reader) as pipe:
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), said


def run(how: str, base: Path) -> list[tuple[int, str]]:
    start = base / "start"
    warm = shutil.copytree(start, base / "warm")
    # All modules are loaded after this.
    assert main(["build", str(warm / "plan.toml"), "--force", "--json", "--no-pictures"]) == 0
    ends: list[tuple[int, str]] = []
    for at in range(1, (len(LIMITS) if how == "limit" else MOST) + 1):
        folder = shutil.copytree(start, base / str(at))
        ends.append(in_a_fork(how, at, folder))
        if how == "kill" and ends[-1] == (0, ""):
            break
        if how in {"full", "once"} and at == STEPS:
            break
    return ends


if __name__ == "__main__":
    sys.stdout.flush()
    found = run(sys.argv[1], Path(sys.argv[2]))
    print("\n" + json.dumps(found))
