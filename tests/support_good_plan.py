"""A good plan for tests: an invented field with everything in it, and ways to write it and read it."""

from __future__ import annotations

from pathlib import Path

from vrx.errors import VrxError
from vrx.inputs.plan_file import read_plan

GOOD = """\
units = "us"
acre = "international"
grid_crs = "auto"
date = 2027-05-04
revision = 1
repairs = "mend"
overlaps = "lowest"
smallest_area = "0.1 ac"

[field]
name = "Ridge Strip"
season = 2027
crop = "field pea"
boundary = "boundary.geojson"
stated_area = "61.5 ac"

[[keep_out]]
where = "pond.geojson"
set_back = "50 ft"
products = ["gypsum"]
rate = "0 lb/ac"
reason = "pond"

[[product]]
name = "gypsum"
form = "granular"
use = "other"
min = "500 lb/ac"
max = "2000 lb/ac"
step = "100 lb/ac"
off_allowed = true
default = "600 lb/ac"
hand_rates = [
  "500 lb/ac",
  "1000 lb/ac",
]
analysis = { S = "16 %", Ca = "20 %" }

[[rate]]
product = "gypsum"
by = "table"
table = { A = "500 lb/ac", B = "900 lb/ac" }
no_data = "off"

[[product]]
name = "zinc"
form = "liquid"
use = "fertiliser"
min = "1 gal/ac"
max = "4 gal/ac"
step = "0.5 gal/ac"
density = "10.9 lb/gal"

[[rate]]
product = "zinc"
by = "breaks"
of = "zn_ppm"
breaks = [0.5, 1.0]
rates = ["3 gal/ac", "2 gal/ac", "0 gal/ac"]

[zones]
from = ["west.geojson", "east.geojson"]
name = "unit"
decimal = "."

[machine]
name = "spreader"
width = "60 ft"
[[machine.drive]]
name = "left"
span = ["-30 ft", "0 ft"]
product = "gypsum"
[[machine.drive]]
name = "right"
span = ["0 ft", "30 ft"]
product = "gypsum"

[receiver]
formats = ["shapefile"]
files = "one a product"
rate_width = 8
rate_decimals = 1
"""

FILES = ("boundary.geojson", "pond.geojson", "west.geojson", "east.geojson")


def write_plan(folder: Path, text: str = GOOD, **shared: str) -> Path:
    """Write a plan, the files that it names (empty), and shared files such as ``products="..."`` beside it."""
    for name in FILES:
        (folder / name).touch()
    for name, words in shared.items():
        (folder / f"{name}.toml").write_text(words, encoding="utf-8")
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems_of(path: Path) -> tuple[VrxError, ...]:
    """Return what is wrong with a plan; nothing where it reads."""
    try:
        read_plan(path)
    except VrxError as err:
        return err.each
    return ()


def line_of(text: str, mark: str = "#<") -> int:
    """Return the number of the one line that a mark starts on."""
    assert text.count(mark) == 1, f"{mark!r} stands {text.count(mark)} times"
    return text.count("\n", 0, text.index(mark)) + 1
