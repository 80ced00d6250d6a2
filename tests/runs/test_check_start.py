"""A check of a map alone starts fast: what only a plan needs, and slow libraries, stay unloaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import support_cases as cases

# The models of whole plans, with what reads them, and libraries that only other formats, pictures and papers need.
NEEDS_A_PLAN = {"vrx.model.plan", "vrx.model.plan_schema", "vrx.inputs.plan_file", "vrx.inputs.library", "vrx.runs.job"}
SLOW = {"pydantic", "pandas", "geopandas", "pyogrio", "fiona", "rasterio", "matplotlib", "PIL", "fpdf", "pyarrow"}


def loaded_by(*words: str) -> set[str]:
    """Return the modules that a command has loaded at its end, in a process of its own."""
    code = (
        "import sys\nfrom vrx.cli.main import main\ncode = main(sys.argv[1:])\n"
        "print('LOADED', *sorted(sys.modules), file=sys.stderr)\nsys.exit(code)"
    )
    ran = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)
    assert ran.returncode in {0, 1}, ran.stderr
    assert "bench.shp" in ran.stdout
    return set(ran.stderr.splitlines()[-1].split()[1:])


def test_a_check_without_a_plan_loads_no_plan(tmp_path: Path) -> None:
    """A shapefile within its boundary is checked without the plan's models and without slow libraries."""
    path, boundary = cases.write_plain(tmp_path), cases.write_boundary(tmp_path)
    loaded = loaded_by("check", str(path), "--boundary", str(boundary), "--unit", "kg/ha")
    assert {"vrx.runs.check", "shapely"} <= loaded
    assert not loaded & (NEEDS_A_PLAN | SLOW)


def test_the_names_are_those_of_modules(tmp_path: Path) -> None:
    """With a plan they are loaded: the test above looks for names that are there."""
    path = cases.write_plain(tmp_path)
    cases.write_boundary(tmp_path)
    from support_plans import plan_text

    plan = tmp_path / "plan.toml"
    plan.write_text(plan_text(zones="bench.shp", boundary="boundary.geojson", name="ZONE", column="RATE"))
    assert loaded_by("check", str(path), "--plan", str(plan)) >= NEEDS_A_PLAN - {"vrx.inputs.library"}
