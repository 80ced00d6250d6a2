"""A child process for tests that checks maps, one after the other, and answers how each check ended."""

from __future__ import annotations

import multiprocessing
import os
import time
import traceback
import warnings
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, NamedTuple

SPAWN = multiprocessing.get_context("spawn")
START_SECONDS = 120  # what a busy computer may take to load the program


class Answer(NamedTuple):
    """How a check ended: ``read``, ``unread``, ``refused``, or what must not be: ``traceback``, ``died``, ``hung``."""

    end: str
    said: str
    seconds: float

    @property
    def fault(self) -> str:
        """What is wrong with it; empty where it is right."""
        if self.end in {"traceback", "died", "hung"}:
            return f"{self.end}: {self.said}"
        if not self.said.strip() and self.end != "read":
            return "an error without words"
        return f"more than one line: {self.said!r}" if "\n" in self.said.strip() else ""


class Child:
    """A child process that lives until it dies or hangs; then another one takes its place."""

    def __init__(self, limit: float) -> None:
        self._limit = limit
        self._start()

    def ask(self, maps: list[str], **options: Any) -> Answer:
        """Have maps checked; options as of :func:`vrx.runs.check.check`."""
        start = time.perf_counter()
        answer = None
        try:
            self._pipe.send((maps, options))
            if self._pipe.poll(self._limit):
                answer = Answer(*self._pipe.recv(), time.perf_counter() - start)
        except (EOFError, OSError):
            self._process.join(5)
            answer = Answer("died", f"exit code {self._process.exitcode}", time.perf_counter() - start)
            self._again()
        if answer is None:
            answer = Answer("hung", f"no answer within {self._limit:g} s", time.perf_counter() - start)
            self._again()
        return answer

    def end(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.join()
        self._pipe.close()

    def _again(self) -> None:
        self.end()
        self._start()

    def _start(self) -> None:
        self._pipe, theirs = SPAWN.Pipe()
        self._process = SPAWN.Process(target=serve, args=(theirs,), daemon=True)
        self._process.start()
        theirs.close()
        if not self._pipe.poll(START_SECONDS) or self._pipe.recv() != "ready":
            raise RuntimeError("the child process did not start")


def serve(pipe: Connection) -> None:
    """Answer what is asked until the other side is closed."""
    from vrx.errors import VrxError
    from vrx.reports.check_json import check_json
    from vrx.reports.check_text import check_text
    from vrx.runs.check import check

    def answer(maps: list[str], options: dict[str, Any]) -> tuple[str, str]:
        try:
            found = check(maps, **options)
            check_json(found)
            if not check_text(found, every=True).strip():
                return "traceback", "nothing is told"
        except VrxError as err:
            return "refused", _longest(err.each)
        return ("unread", _longest(found.on.failures)) if found.on.failures else ("read", "")

    def _longest(errors: Any) -> str:
        # An error with two lines in it shows wherever it stands.
        return max(map(str, errors), key=lambda text: (text.count("\n"), len(text)), default="")

    warnings.simplefilter("error")
    with suppress(EOFError, OSError):
        pipe.send("ready")
        while True:
            maps, options = pipe.recv()
            if maps == ["die"]:
                os._exit(int(options["code"]))
            if maps == ["sleep"]:
                time.sleep(options.pop("seconds"))
            try:
                pipe.send(answer(maps, options))
            except Exception:
                pipe.send(("traceback", traceback.format_exc()))
