"""A child process on another day: the system's clock, which libraries in C read as well, shifted by a small library."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

_SOURCE = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>
static long shift(void) { const char *text = getenv("SHIFT_S"); return text ? atol(text) : 0; }
time_t time(time_t *at) {
    static time_t (*real)(time_t *);
    if (!real) real = (time_t (*)(time_t *))dlsym(RTLD_NEXT, "time");
    time_t now = real(0) + shift();
    if (at) *at = now;
    return now;
}
int gettimeofday(struct timeval *at, void *zone) {
    static int (*real)(struct timeval *, void *);
    if (!real) real = (int (*)(struct timeval *, void *))dlsym(RTLD_NEXT, "gettimeofday");
    int done = real(at, zone);
    if (at) at->tv_sec += shift();
    return done;
}
int clock_gettime(clockid_t clock, struct timespec *at) {
    static int (*real)(clockid_t, struct timespec *);
    if (!real) real = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int done = real(clock, at);
    if (clock == CLOCK_REALTIME) at->tv_sec += shift();
    return done;
}
"""


def clock_library(folder: Path) -> Path:
    """Compile the library that shifts the clock; skips where that can't be done."""
    compiler = shutil.which("cc")
    if not sys.platform.startswith("linux") or compiler is None:
        pytest.skip("shifting the clock of C libraries needs Linux and a C compiler")
    source, library = folder / "clock.c", folder / "clock.so"
    source.write_text(_SOURCE)
    subprocess.run([compiler, "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True, timeout=60)
    return library


def run_shifted(library: Path, days: int, code: str, *arguments: str) -> str:
    """Run Python code so many days from now and return what it prints; every C library sees that day too."""
    paths = os.pathsep.join(str(each) for each in (Path(__file__).parent, Path(__file__).parents[1]))
    environment = os.environ | {"LD_PRELOAD": str(library), "SHIFT_S": str(days * 86400), "PYTHONPATH": paths}
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=environment,
        check=True,
        timeout=120,
        capture_output=True,
        text=True,
    )
    return done.stdout
