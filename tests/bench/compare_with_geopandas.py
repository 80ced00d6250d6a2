"""Compare vrx with plain geopandas, each in a process of its own, in turn.

    python tests/bench/compare_with_geopandas.py [--pairs 9] [--polygons 2000] [--peer SCRIPT]

Makes the field of ``make_field.py``, then runs the peer (``plain_geopandas.py`` unless said; called as
``SCRIPT BOUNDARY SOILS OUT``) and ``vrx build``, A B A B ..., and prints the median and the smallest of each,
the median of the pairs' ratios, and the ratio of the smallest. Then the same for ``vrx --help`` against
``import geopandas``. Two runs of one thing, minutes apart, can differ by half: only the ratios count.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]


class Cost(NamedTuple):
    """What one process took."""

    seconds: float
    peak_mib: float


def cost_of(command: Sequence[str]) -> Cost:
    """Run a command to its end; wall time and the largest memory that it held.

    This script imports nothing heavy: a child's peak starts at what its parent holds when it forks.

    Raises
    ------
    SystemExit
        The command failed: a time would say nothing.
    """
    with tempfile.TemporaryFile() as said:
        start = time.perf_counter()
        child = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT, cwd=ROOT)
        _, status, usage = os.wait4(child.pid, 0)
        seconds = time.perf_counter() - start
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode:
            said.seek(0)
            sys.exit(
                f"{' '.join(command)} ended with {child.returncode}:\n{said.read().decode(errors='replace')[-2000:]}"
            )
    per_mib = 2**20 if sys.platform == "darwin" else 2**10  # ru_maxrss counts bytes there, KiB elsewhere
    return Cost(seconds, usage.ru_maxrss / per_mib)


def compare(what: str, peer: Sequence[str], ours: Sequence[str], pairs: int) -> None:
    """Run two commands in turn and print what they took."""
    cost_of(peer), cost_of(ours)  # both once, so that files and byte code are warm
    costs = [(cost_of(peer), cost_of(ours)) for _ in range(pairs)]
    theirs, own = ([pair[at] for pair in costs] for at in (0, 1))
    print(f"\n{what}, {pairs} pairs")
    for name, runs in (("peer", theirs), ("vrx", own)):
        seconds, peak_mib = [run.seconds for run in runs], max(run.peak_mib for run in runs)
        print(f"  {name:<5} {median(seconds):7.3f} s median, {min(seconds):7.3f} s smallest, {peak_mib:6.1f} MiB peak")
    ratios = [mine.seconds / other.seconds for other, mine in costs]
    smallest = min(run.seconds for run in own) / min(run.seconds for run in theirs)
    memory = max(run.peak_mib for run in own) / max(run.peak_mib for run in theirs)
    print(
        f"  ratio {median(ratios):.3f} median of pairs ({min(ratios):.3f} to {max(ratios):.3f}), "
        f"{smallest:.3f} of the smallest, memory {memory:.2f}"
    )


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--pairs", type=int, default=9)
    options.add_argument("--polygons", type=int, default=2000)
    options.add_argument("--peer", type=Path, default=HERE / "plain_geopandas.py")
    asked = options.parse_args()
    python, vrx = sys.executable, [sys.executable, "-m", "vrx"]
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        cost_of([python, str(HERE / "make_field.py"), str(folder), "--polygons", str(asked.polygons)])
        peer = [python, str(asked.peer), str(folder / "boundary.shp"), str(folder / "soils.shp"), str(folder / "peer")]
        for plan in ("plan.toml", "plan_polygons.toml"):
            ours = [*vrx, "build", str(folder / plan), "--out", str(folder / "bundle"), "--force", "--no-pictures"]
            compare(f"build of {plan}, {asked.polygons} polygons, against {asked.peer.name}", peer, ours, asked.pairs)
    compare("vrx --help against import geopandas", [python, "-c", "import geopandas"], [*vrx, "--help"], asked.pairs)


if __name__ == "__main__":
    main()
