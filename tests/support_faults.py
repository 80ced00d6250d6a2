"""A file system that fails at a chosen step, or from there on."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

# Every call by which the system is asked to change something, or to open a file for it.
STEPS = ("mkdir", "open", "write", "fsync", "rename", "unlink", "rmdir")


class Fault:
    """Fails the n-th change of the file system, and all that follow where ``forever``."""

    def __init__(self, at: int, *, forever: bool, code: int = errno.EIO) -> None:
        self.at, self.forever, self.code, self.count, self.hit = at, forever, code, 0, False

    def wrap(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def step(*args: Any, **options: Any) -> Any:
            self.count += 1
            if self.count == self.at or (self.forever and self.count > self.at):
                self.hit = True
                raise OSError(self.code, os.strerror(self.code))
            return real(*args, **options)

        return step


@contextmanager
def disturbed(fault: Fault) -> Iterator[None]:
    real = {name: getattr(os, name) for name in STEPS}
    try:
        for name, function in real.items():
            setattr(os, name, fault.wrap(function))
        yield
    finally:
        for name, function in real.items():
            setattr(os, name, function)
