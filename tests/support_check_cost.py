"""A program for tests: runs the command line and tells what it took.

``python support_check_cost.py WORDS ...`` prints on its last line a JSON list: the exit code, the seconds without the
start of Python, and the largest memory in bytes. What the command says goes where it always goes. Memory beyond 3 GiB
is not given.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path

MOST_ADDRESSES = 3 * 2**30


def peak_bytes() -> int:
    """The most that this process held; a child of a large process starts with the peak of that one in its usage."""
    status = Path("/proc/self/status")
    if status.exists():
        return next(int(line.split()[1]) * 1024 for line in status.read_text().splitlines() if "VmHWM" in line)
    usage = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return usage if sys.platform == "darwin" else usage * 1024


if __name__ == "__main__":
    if sys.platform == "linux":
        resource.setrlimit(resource.RLIMIT_AS, (MOST_ADDRESSES, MOST_ADDRESSES))
    from vrx.cli.main import main

    start = time.perf_counter()
    code = main(sys.argv[1:])
    print("\n" + json.dumps([code, time.perf_counter() - start, peak_bytes()]))
