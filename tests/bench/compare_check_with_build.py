"""Compare a check with the build of the same plan, each in a process of its own, in turn.

    python tests/bench/compare_check_with_build.py [--pairs 9] [--polygons 2000]

Makes the field of ``make_field.py``, builds it once, then runs ``vrx build`` and ``vrx check``, A B A B ..., and prints
the median and the smallest of each, the median of the pairs' ratios, and the ratio of the smallest, as
``compare_with_geopandas.py`` does. Two checks: of the zones within a boundary, without a plan, and of the map that was
built, against its plan; two builds: with pictures, and without. A check may end with 1, where it finds what it should.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from compare_with_geopandas import HERE, compare, cost_of

# Ends with 0 where the check did: a finding marked STOP is no failure of a benchmark, a file that is not read is.
CHECK = "import sys; from vrx.cli.main import main; code = main(sys.argv[1:]); sys.exit(0 if code in (0, 1) else code)"


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--pairs", type=int, default=9)
    options.add_argument("--polygons", type=int, default=2000)
    asked = options.parse_args()
    python = sys.executable
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        acres = str(160 * asked.polygons / 2000)
        make = [python, str(HERE / "make_field.py"), str(folder), "--polygons", str(asked.polygons), "--acres", acres]
        cost_of(make)
        plan = folder / "plan.toml"
        cost_of([python, "-m", "vrx", "build", str(plan), "--no-pictures"])
        (built,) = (folder / "plan-bundle" / "machine").rglob("*.shp")
        build = [python, "-m", "vrx", "build", str(plan), "--out", str(folder / "bundle"), "--force"]
        checks = {
            "zones within their boundary": [str(folder / "soils.shp"), "--boundary", str(folder / "boundary.shp")],
            "the map that was built, against its plan": [str(built), "--plan", str(plan)],
        }
        for what, words in checks.items():
            ours = [python, "-c", CHECK, "check", *words]
            compare(f"check of {what}, against a build (peer)", build, ours, asked.pairs)
            compare("the same against a build without pictures (peer)", [*build, "--no-pictures"], ours, asked.pairs)


if __name__ == "__main__":
    main()
