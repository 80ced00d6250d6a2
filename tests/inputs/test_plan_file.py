"""Reading plans: what a good one gives, and what is said about each kind of mistake."""

from __future__ import annotations

import os
import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support_good_plan import GOOD, line_of, problems_of, write_plan

from vrx.errors import PlanError, Problems
from vrx.inputs.plan_file import read_plan
from vrx.units import Dialect, parse_unit


def test_a_good_plan_reads_with_its_folder_and_sources(tmp_path):
    """A plan without shared files comes from one source, and its gal is the US one."""
    path = write_plan(tmp_path)
    found = read_plan(path)
    assert (found.path, found.folder, found.sources) == (path, tmp_path, (path,))
    assert [product.name for product in found.plan.rated] == ["gypsum", "zinc"]
    assert found.plan.product[1].step.unit == parse_unit("gal/ac", Dialect("us"))
    assert found.plan.product[0].analysis == {"S": Fraction(16, 100), "Ca": Fraction(20, 100)}
    assert found.plan.keep_out[0].set_back == pytest.approx(15.24)  # 50 ft; the foot is 0.3048 m


# Each row: what stands in the good plan, what stands there instead (its line marked with #<, unless the
# complaint has no line), the key that is named, and words that must be in the message.
BROKEN = [
    pytest.param('units = "us"', 'units = "US" #<', "units", ["US", '"us"', '"metric"'], id="units in capitals"),
    pytest.param('units = "us"', 'unit = "us" #<', "unit", ["not a key", '"units"'], id="a misspelt key at the top"),
    pytest.param('grid_crs = "auto"', "grid_crs = 32614 #<", "grid_crs", ["32614", "text"], id="a number for text"),
    pytest.param("date = 2027-05-04", "date = 20270504 #<", "date", ["20270504", "2027-04-12"], id="a date as number"),
    pytest.param("date = 2027-05-04", 'date = "4.5.2027" #<', "date", ["4.5.2027", "year"], id="a date the other way"),
    pytest.param("date = 2027-05-04", "date = 2027-05-04T07:00:00 #<", "date", ["T07:00"], id="a time of day"),
    pytest.param("revision = 1", "revision = true #<", "revision", ["true", "whole number"], id="true for a number"),
    pytest.param("revision = 1", "revision = 0 #<", "revision", ["0", "at least 1"], id="a number too small"),
    pytest.param("revision = 1", "revision = 1.5 #<", "revision", ["1.5", "whole number"], id="half a revision"),
    pytest.param('"mend"', '"fix" #<', "repairs", ["fix", '"mend" or "refuse"'], id="a choice that there is not"),
    pytest.param('"0.1 ac"', "0.1 #<", "smallest_area", ["0.1", "no unit", "ac"], id="a bare area"),
    pytest.param('"0.1 ac"', '"0.1 ft" #<', "smallest_area", ["length", "area"], id="a length for an area"),
    pytest.param('"0.1 ac"', '"-1 ac" #<', "smallest_area", ["-1 ac", "0 or more"], id="an area under 0"),
    pytest.param('"0.1 ac"', '"1e999 ac" #<', "smallest_area", ["1e999"], id="an area beyond numbers"),
    pytest.param('"0.1 ac"', '"0,1 ac" #<', "smallest_area", ["0,1 ac", "comma"], id="a decimal comma"),
    pytest.param("[field]\n", "[feild] #<\n", "feild", ["feild", '"field"'], id="a misspelt table"),
    pytest.param("[field]\n", "[[field]] #<\n", "field", ["[field]", "one bracket"], id="two brackets for one table"),
    pytest.param('[field]\nname = "Ridge Strip"', "[field] #<", "field.name", ["missing", "name"], id="no name"),
    pytest.param('"Ridge Strip"', '"  " #<', "field.name", ["empty"], id="a name of spaces"),
    pytest.param('"Ridge Strip"', f'"{"x" * 81}" #<', "field.name", ["81", "80"], id="a name too long"),
    pytest.param(
        "season = 2027", 'season = "2027" #<', "field.season", ['"2027"', "whole number"], id="a season as text"
    ),
    pytest.param("season = 2027", "season = 27 #<", "field.season", ["27", "1900"], id="a season of two digits"),
    pytest.param('"61.5 ac"', "61.5 #<", "field.stated_area", ["61.5", "no unit"], id="a stated area without unit"),
    pytest.param(
        '"boundary.geojson"',
        '"bondary.geojson" #<',
        "field.boundary",
        ["bondary.geojson", '"boundary.geojson"'],
        id="a boundary that is not there",
    ),
    pytest.param('"boundary.geojson"', '"" #<', "field.boundary", ["empty"], id="an empty file name"),
    pytest.param('"boundary.geojson"', "[] #<", "field.boundary", ["empty"], id="no file at all"),
    pytest.param('"boundary.geojson"', '"no/boundary.geojson" #<', "field.boundary", ["folder"], id="a folder missing"),
    pytest.param('"boundary.geojson"', r'"a\u0000b" #<', "field.boundary", ["no file"], id="a name no file can have"),
    pytest.param(
        '"pond.geojson"', '"ponds.geojson" #<', "keep_out[0].where", ['"pond.geojson"'], id="a keep-out not there"
    ),
    pytest.param("[[keep_out]]", "[keep_out] #<", "keep_out", ["[[keep_out]]"], id="one bracket for several tables"),
    pytest.param('"50 ft"', '"50 lb" #<', "keep_out[0].set_back", ["50 lb", "length"], id="a set-back in pounds"),
    pytest.param('["gypsum"]', '"gypsum" #<', "keep_out[0].products", ['"gypsum"', "list"], id="text for a list"),
    pytest.param(
        '["gypsum"]',
        '["gypsum", "gipsum"] #<',
        "keep_out[0].products[1]",
        ["gipsum", '"gypsum"'],
        id="a keep-out for a product not there",
    ),
    pytest.param(
        '"0 lb/ac"\nreason',
        '"5 lb/ac" #<\nreason',
        "keep_out[0].rate",
        ["5 lb/ac", "not there yet"],
        id="a rate in a keep-out",
    ),
    pytest.param('"granular"', '"grain" #<', "product[0].form", ["grain", '"granular"'], id="a form that there is not"),
    pytest.param(
        'min = "500 lb/ac"', 'mini = "500 lb/ac" #<', "product[0].mini", ["mini", '"min"'], id="a misspelt limit"
    ),
    pytest.param('min = "500 lb/ac"', "min = 500 #<", "product[0].min", ["500", "no unit"], id="a bare rate"),
    pytest.param(
        'min = "500 lb/ac"',
        'min = "500 gal/ac" #<',
        "product[0].min",
        ["500 gal/ac", "lb/ac"],
        id="a limit of another kind than the step",
    ),
    pytest.param(
        '"2000 lb/ac"',
        '"1 ton/ac" #<',
        "product[0].max",
        ["ton", "short_ton", "long_ton", "tonne"],
        id="a ton that is three things",
    ),
    pytest.param('"2000 lb/ac"', '"2000 lb P/ac" #<', "product[0].max", ["P2O5", "P_element"], id="element or oxide"),
    pytest.param('"2000 lb/ac"', '"20 bag/ac" #<', "product[0].max", ["bag(50 lb)"], id="a bag without a size"),
    pytest.param('"2000 lb/ac"', '"400 lb/ac" #<', "product[0].max", ["500 lb/ac", "400 lb/ac"], id="max under min"),
    pytest.param('"100 lb/ac"', '"0 lb/ac" #<', "product[0].step", ["0 lb/ac", "above 0"], id="a step of nothing"),
    pytest.param('"100 lb/ac"', '"3000 lb/ac" #<', "product[0].step", ["No allowed rate"], id="a step with no rate"),
    pytest.param(
        "off_allowed = true",
        'off_allowed = "yes" #<',
        "product[0].off_allowed",
        ['"yes"', "true or false"],
        id="yes for true",
    ),
    pytest.param(
        "off_allowed = true", "off_allowed = 1 #<", "product[0].off_allowed", ["1", "true or false"], id="one for true"
    ),
    pytest.param(
        'default = "600 lb/ac"',
        'default = "650 lb/ac" #<',
        "product[0].default",
        ["650", "in steps of 100"],
        id="a default between steps",
    ),
    pytest.param(
        '  "1000 lb/ac",',
        '  "1050 lb/ac", #<',
        "product[0].hand_rates[1]",
        ["1050", "in steps of 100"],
        id="a hand rate between steps",
    ),
    pytest.param('S = "16 %"', 'S = "160 %"', "product[0].analysis.S", ["160 %"], id="more than the whole"),
    pytest.param('Ca = "20 %"', 'K = "20 %"', "product[0].analysis.K", ["K2O", "K_element"], id="potassium or potash"),
    pytest.param('Ca = "20 %"', 'Kx = "20 %"', "product[0].analysis.Kx", ["Kx", "K2O"], id="no such nutrient"),
    pytest.param('Ca = "20 %"', 'Ca = "20"', "product[0].analysis.Ca", ["20", "%"], id="a share without per cent"),
    pytest.param('"10.9 lb/gal"', '"0 lb/gal" #<', "product[1].density", ["above 0"], id="no density"),
    pytest.param(
        'name = "zinc"', 'name = "gypsum" #<', "product[1].name", ["Two products", "gypsum"], id="a name twice"
    ),
    pytest.param(
        'product = "zinc"', 'product = "zink" #<', "rate[1].product", ["zink", '"zinc"'], id="a product misspelt"
    ),
    pytest.param(
        'product = "zinc"', 'product = "gypsum" #<', "rate[1].product", ["Two [[rate]]"], id="two rates for one"
    ),
    pytest.param('by = "table"', 'by = "tabel" #<', "rate[0].by", ["tabel", '"table"'], id="a way that there is not"),
    pytest.param(
        '[[rate]]\nproduct = "gypsum"\nby = "table"',
        '[[rate]] #<\nproduct = "gypsum"',
        "rate[0].by",
        ["missing", '"table"', '"line"'],
        id="no way at all",
    ),
    pytest.param(
        '[[rate]]\nproduct = "gypsum"\nby = "table"',
        '[[rate]] #<\nproduct = "gypsum"\nby = "column"',
        "rate[0].column",
        ["missing", "zone layer"],
        id="a column without its name",
    ),
    pytest.param(
        'B = "900 lb/ac"', '"B 2" = 900', 'rate[0].table."B 2"', ["900", "no unit"], id="a bare rate of a zone"
    ),
    pytest.param('B = "900 lb/ac"', '"A " = "900 lb/ac"', "rate[0].table", ["'A'", "two rates"], id="a zone twice"),
    pytest.param(
        'table = { A = "500 lb/ac", B = "900 lb/ac" }',
        "table = {} #<",
        "rate[0].table",
        ["empty"],
        id="a table of no zones",
    ),
    pytest.param(
        'table = { A = "500 lb/ac", B = "900 lb/ac" }',
        'table = "rates.csv" #<',
        "rate[0].table",
        ["rates.csv", "no file"],
        id="a table file that is not there",
    ),
    pytest.param(
        'table = { A = "500 lb/ac", B = "900 lb/ac" }',
        "table = 5 #<",
        "rate[0].table",
        ["5", "table or text"],
        id="a table that is a number",
    ),
    pytest.param(
        'no_data = "off"', 'no_data = "skip" #<', "rate[0].no_data", ["skip", '"refuse"'], id="no such no_data"
    ),
    pytest.param(
        'no_data = "off"', 'column = "r" #<', "rate[0].column", ["CSV"], id="a column for a table in the plan"
    ),
    pytest.param(
        "breaks = [0.5, 1.0]", 'breaks = [0.5, "1"] #<', "rate[1].breaks[1]", ['"1"', "number"], id="a break as text"
    ),
    pytest.param(
        "breaks = [0.5, 1.0]",
        "breaks = [0.5, nan] #<",
        "rate[1].breaks[1]",
        ["NaN", "number"],
        id="a break that is none",
    ),
    pytest.param("breaks = [0.5, 1.0]", "breaks = [1.0, 0.5] #<", "rate[1].breaks", ["rise"], id="falling breaks"),
    pytest.param(
        '"0 gal/ac"]', '"0 gal/ac", "1 gal/ac"] #<', "rate[1].rates", ["3 classes", "4 rates"], id="a rate too many"
    ),
    pytest.param(
        '"2 gal/ac", "0 gal/ac"]',
        '"2 gal", "0 gal/ac"] #<',
        "rate[1].rates[1]",
        ["2 gal", "volume/area"],
        id="an amount for a rate",
    ),
    pytest.param(
        '["west.geojson", "east.geojson"]',
        '["west.geojson",\n "easst.geojson"] #<',
        "zones.from[1]",
        ['"east.geojson"'],
        id="the second of several files",
    ),
    pytest.param("from = [", "form = [", "zones.form", ["form", '"from"'], id="form for from"),
    pytest.param('decimal = "."', 'decimal = ";" #<', "zones.decimal", [";", '"."'], id="no such decimal mark"),
    pytest.param('"60 ft"', '"0 ft" #<', "machine.width", ["above 0"], id="a machine without width"),
    pytest.param('"60 ft"', '"60 \'" #<', "machine.width", ["60 '"], id="a tick for feet"),
    pytest.param(
        '["-30 ft", "0 ft"]',
        '["0 ft", "0 ft"] #<',
        "machine.drive[0].span",
        ["left", "no width"],
        id="a drive without width",
    ),
    pytest.param(
        '["-30 ft", "0 ft"]', '["-30 ft"] #<', "machine.drive[0].span[1]", ["span", "one more"], id="half a span"
    ),
    pytest.param(
        '["-30 ft", "0 ft"]', '["-30 ft", 0] #<', "machine.drive[0].span[1]", ["0", "no unit"], id="a bare end"
    ),
    pytest.param(
        '["-30 ft", "0 ft"]',
        '["-90 ft", "0 ft"] #<',
        "machine.drive[0].span",
        ["left", "beyond"],
        id="a drive too far out",
    ),
    pytest.param(
        'name = "right"', 'name = "left" #<', "machine.drive[1].name", ["Two drives", "left"], id="two drives of a name"
    ),
    pytest.param('["shapefile"]', '["shp"] #<', "receiver.formats[0]", ["shp", '"shapefile"'], id="no such format"),
    pytest.param('["shapefile"]', '["shapefile", "shapefile"] #<', "receiver.formats", ["twice"], id="a format twice"),
    pytest.param(
        "rate_decimals = 1",
        "rate_decimals = 8 #<",
        "receiver.rate_decimals",
        ["8 decimals", "8 digits"],
        id="all decimals",
    ),
    pytest.param(
        "rate_decimals = 1", "rate_decimals = 12 #<", "receiver.rate_decimals", ["12", "0 to 9"], id="too many decimals"
    ),
    pytest.param(
        "rate_decimals = 1",
        'keep_outs = "hole" #<',
        "receiver.keep_outs",
        ["gypsum", '"zero"'],
        id="holes that get filled",
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), BROKEN)
def test_a_mistake_is_named_with_key_line_and_what_would_do(tmp_path, old, new, key, words):
    """One mistake gives a PlanError at its key and line, with the value and what would be accepted."""
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    line = line_of(text) if "#<" in text else line_of(text, _last_key(new))
    found = problems_of(write_plan(tmp_path, text))
    here = [one for one in found if one.where == f"plan.toml: {key}, line {line}"]
    assert len(here) == 1, [one.where for one in found]
    assert isinstance(here[0], PlanError)
    for word in words:
        assert word in str(here[0])


def _last_key(new: str) -> str:
    # Where a comment can't stand, the new text itself is the mark.
    return new


NOT_YET = [
    pytest.param('crop = "field pea"', 'part = "east.geojson" #<', "field.part", id="part of a field"),
    pytest.param("off_allowed = true", 'price = "9 USD/short_ton" #<', "product[0].price", id="a price"),
    pytest.param("off_allowed = true", 'overlap = "4 %" #<', "product[0].overlap", id="an overlap"),
    pytest.param('no_data = "off"', 'zones = "soil" #<', "rate[0].zones", id="a named zone layer for a rate"),
    pytest.param('by = "table"', 'by = "formula" #<', "rate[0].by", id="a formula"),
    pytest.param('by = "table"', 'by = "method" #<', "rate[0].by", id="a method"),
    pytest.param("[machine]", '[[overlay]] #<\nwhere = "edge 60 ft"\n[machine]', "overlay", id="an overlay"),
    pytest.param("[machine]", '[[accept]] #<\nfinding = "gap"\n[machine]', "accept", id="an accepted finding"),
    pytest.param('name = "spreader"', 'speed = "4 to 6 mph" #<', "machine.speed", id="a speed"),
    pytest.param('name = "spreader"', 'tank = { size = "900 gal" } #<', "machine.tank", id="a tank"),
    pytest.param('name = "right"', 'name = "right"\nflow = "2 gal/min" #<', "machine.drive[1].flow", id="a flow"),
    pytest.param("[zones]", '[zones.soil] #<\nfrom = "east.geojson"\n[zones]', "zones.soil", id="a named zone layer"),
]


@pytest.mark.parametrize(("old", "new", "key"), NOT_YET)
def test_a_key_of_a_later_version_is_refused(tmp_path, old, new, key):
    """A key that is not there yet is refused by its name, never silently ignored."""
    text = GOOD.replace(old, new, 1)
    found = problems_of(write_plan(tmp_path, text))
    assert [one.where for one in found] == [f"plan.toml: {key}, line {line_of(text)}"]
    assert "not there yet" in found[0].problem


def test_empty_keys_of_a_later_version_count_as_left_out(tmp_path):
    """Empty text for a key that is not there yet reads."""
    text = GOOD.replace('crop = "field pea"', 'part = ""').replace('no_data = "off"', 'zones = ""')
    text = text.replace('name = "spreader"', 'speed = ""\ntank = ""').replace(
        "off_allowed = true", 'price = ""\noverlap = ""'
    )
    assert problems_of(write_plan(tmp_path, text)) == ()


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines(tmp_path):
    """A plan with mistakes of every sort gives all of them: keys, values, names and files."""
    text = (
        GOOD.replace("revision = 1", "revison = 1")
        .replace('"61.5 ac"', "61.5")
        .replace('"pond.geojson"', '"lake.geojson"')
        .replace('["gypsum"]', '["lime"]')
        .replace('"2000 lb/ac"', '"1 ton/ac"')
        .replace('product = "zinc"', 'product = "zink"')
    )
    found = problems_of(write_plan(tmp_path, text))
    assert [one.where.split(": ")[1].split(",")[0] for one in found] == [
        "revison", "field.stated_area", "keep_out[0].where", "keep_out[0].products[0]", "product[0].max",
        "product[1].name", "rate[1].product",
    ]  # fmt: skip
    lines = [int(one.where.rpartition(" ")[2]) for one in found]
    assert lines == sorted(lines)


def test_every_problem_of_a_product_is_told(tmp_path):
    """Two limits of another kind and a weight of nothing are three problems, not one."""
    text = GOOD.replace('min = "1 gal/ac"', 'min = "1 lb/ac"').replace('max = "4 gal/ac"', 'max = "4 lb/ac"')
    found = problems_of(write_plan(tmp_path, text.replace('"10.9 lb/gal"', '"0 lb/gal"')))
    assert [one.where.split(",")[0] for one in found] == [
        f"plan.toml: product[1].{key}" for key in ("min", "max", "density")
    ]


def test_a_missing_table_has_no_line(tmp_path):
    """A table that is nowhere is named without a line, and so is a list of tables."""
    text = GOOD[: GOOD.index("[zones]")] + GOOD[GOOD.index("[machine]") :]
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == "plan.toml: zones"
    assert "zones is missing" in found.problem
    assert "[zones] table" in found.remedy


def test_a_product_without_a_rate_is_refused(tmp_path):
    """A [[product]] of the plan that no [[rate]] gives is a mistake at its name."""
    text = re.sub(r'\[\[rate\]\]\nproduct = "zinc"(\n.+)+\n', "", GOOD).replace('"zinc"', '"zinc" #<')
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == f"plan.toml: product[1].name, line {line_of(text)}"
    assert "No [[rate]] says how much of 'zinc' goes where" in found.problem


# --- files that are no plan -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        pytest.param("a = 1\na = 2\n", "line 2", ["twice"], id="a key twice"),
        pytest.param("[field]\n[field]\n", "line 2", ["twice"], id="a table twice"),
        pytest.param('x = "abc\ny = 1\n', "line 1", ["quote"], id="an open quote"),
        pytest.param("x = 18 gal/ac\n", "line 1", ["18 gal/ac", "quotes"], id="text without quotes"),
        pytest.param("x = yes\n", "line 1", ["yes", "quotes"], id="a word without quotes"),
        pytest.param("x = [1,\n", "line 2", ["TOML"], id="an open bracket"),
        pytest.param('x = "C:\\data"\n', "line 1", ["/"], id="backslashes"),
        pytest.param("x = 2027-02-30\n", "line 1", ["2027-04-12"], id="a day that there is not"),
        pytest.param("just words\n", "line 1", ["key = value"], id="prose"),
        pytest.param(f"x = {'9' * 5000}\n", "plan.toml", ["digits"], id="a number of 5000 digits"),
        pytest.param(f"x = {'[' * 5000}\n", "plan.toml", ["nested"], id="5000 brackets"),
    ],
)
def test_broken_toml_is_one_line_with_its_place(tmp_path, text, where, words):
    """Text that is not TOML gives one error with line and column, and how to write it."""
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    (found,) = problems_of(path)
    assert isinstance(found, PlanError)
    assert found.where.startswith("plan.toml")
    assert where in found.where
    for word in words:
        assert word in str(found)
    assert "\n" not in str(found)


def test_a_file_that_is_not_there_is_said_with_the_one_that_is(tmp_path):
    """A misspelt plan is named together with the plan beside it."""
    write_plan(tmp_path)
    (found,) = problems_of(tmp_path / "plans.toml")
    assert "plans.toml" in found.problem
    assert '"plan.toml"' in found.remedy


def test_a_folder_is_no_plan_but_holds_one(tmp_path):
    """A folder is refused with the name of the plan in it."""
    write_plan(tmp_path)
    (found,) = problems_of(tmp_path)
    assert "is a folder" in found.problem
    assert f"{tmp_path.name}/plan.toml" in found.remedy


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    """A file of 50 MB is refused by its size."""
    path = tmp_path / "plan.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    (found,) = problems_of(path)
    assert "47.7 MiB" in found.problem


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_before_it_is_opened(tmp_path):
    """A named pipe, which would never end, is refused."""
    os.mkfifo(tmp_path / "plan.toml")
    (found,) = problems_of(tmp_path / "plan.toml")
    assert "not a regular file" in found.problem


def test_bytes_that_are_not_utf8_are_placed(tmp_path):
    """A byte of another encoding gives its line; UTF-16 is named."""
    path = write_plan(tmp_path)
    path.write_bytes(GOOD.replace("Ridge", "R\u00efdge").encode("cp1252"))
    (found,) = problems_of(path)
    assert found.where == "plan.toml, line 11"
    assert "UTF-8" in found.remedy
    path.write_bytes(GOOD.encode("utf-16"))
    (found,) = problems_of(path)
    assert "UTF-16" in found.problem


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(b"\xef\xbb\xbf" + GOOD.encode(), id="a byte order mark"),
        pytest.param(GOOD.replace("\n", "\r\n").encode(), id="line ends of Windows"),
        pytest.param(GOOD.rstrip("\n").encode(), id="no line end at the end"),
    ],
)
def test_how_an_editor_saves_does_not_matter(tmp_path, raw):
    """The plan is the same with a UTF-8 mark, other line ends, or none at the end."""
    path = write_plan(tmp_path)
    expected = read_plan(path).plan
    path.write_bytes(raw)
    assert read_plan(path).plan == expected


# --- shared files -----------------------------------------------------------------------------------

SHARED_PRODUCTS = """\
units = "us"

[[product]]
name = "compost"
form = "granular"
use = "fertiliser"
min = "1 short_ton/ac"
max = "9 short_ton/ac"
step = "1 short_ton/ac"

[[product]]
name = "wash water"
form = "liquid"
use = "other"
min = "100 gal/ac"
max = "900 gal/ac"
step = "50 gal/ac"
"""

SHARING = """\
units = "metric"
products = "products.toml"
machines = "machines.toml"

[field]
name = "Ridge Strip"
boundary = "boundary.geojson"

[[keep_out]]
where = "pond.geojson"
products = ["compost"]

[[product]]
name = "wash water"
max = "7000 L/ha"

[zones]
from = "west.geojson"

[[rate]]
product = "wash water"
by = "column"
column = "w"
unit = "L/ha"

[machine]
name = "tanker"
width = "12 m"
"""

SHARED_MACHINES = """\
[[machine]]
name = "spreader"

[[machine]]
name = "tanker"
width = "9 m"
[[machine.drive]]
name = "boom"
span = ["-4 m", "4 m"]
product = "wash water"
"""


def test_shared_products_and_machines_are_merged_key_by_key(tmp_path):
    """The plan's keys win, the shared file's gal is the one it says, and only products with a rate are used."""
    path = write_plan(tmp_path, SHARING, products=SHARED_PRODUCTS, machines=SHARED_MACHINES)
    found = read_plan(path)
    (product,) = found.plan.product
    assert (str(product.max), str(product.min)) == ("7000 L/ha", "100 gal/ac")
    assert product.min.unit == parse_unit("us_gal/ac")._replace(name="gal/ac")
    assert found.plan.machine.width == 12
    assert [drive.name for drive in found.plan.machine.drive] == ["boom"]
    assert [source.name for source in found.sources] == ["plan.toml", "products.toml", "machines.toml"]


def test_a_shared_product_with_a_rate_needs_no_table_in_the_plan(tmp_path):
    """A [[rate]] is enough to bring in a shared product."""
    text = SHARING.replace('product = "wash water"\nby', 'product = "compost"\nby').replace(
        'unit = "L/ha"', 'unit = "short_ton/ac"'
    )
    text = text.replace('[[product]]\nname = "wash water"\nmax = "7000 L/ha"\n', "")
    found = read_plan(write_plan(tmp_path, text, products=SHARED_PRODUCTS, machines=SHARED_MACHINES))
    assert [product.name for product in found.plan.product] == ["compost"]


def test_a_shared_file_without_units_speaks_as_the_plan_does(tmp_path):
    """Without units of its own, gal in a shared file is refused in a metric plan, and that file's line is named."""
    shared = SHARED_PRODUCTS.replace('units = "us"\n', "\n")
    found = problems_of(write_plan(tmp_path, SHARING, products=shared, machines=SHARED_MACHINES))
    assert [one.where for one in found] == [
        f"products.toml: product[1].{key}, line {line}" for key, line in (("min", 15), ("step", 17))
    ]
    assert all("us_gal" in one.remedy for one in found)


SHARED_BROKEN = [
    pytest.param(
        "products", '"1 short_ton/ac"\nmax', '"1 short_ton/ac"\nmax', [], id="an unused product is left alone"
    ),
    pytest.param(
        "products",
        '"100 gal/ac"',
        '"100 gal"',
        ["products.toml: product[1].min, line 15"],
        id="a value of a shared product",
    ),
    pytest.param(
        "products", 'use = "other"\n', "", ["plan.toml: product[0].use, line 13"], id="a key that neither file has"
    ),
    pytest.param(
        "products",
        '"50 gal/ac"',
        '"5000 gal/ac"',
        ["products.toml: product[1].step, line 17"],
        id="shared keys that disagree",
    ),
    pytest.param(
        "products", '"compost"', '"wash water"', ["products.toml: product[1].name, line 12"], id="a shared name twice"
    ),
    pytest.param(
        "products",
        'name = "compost"\n',
        "",
        ["products.toml: product[0].name, line 3"],
        id="a shared product without a name",
    ),
    pytest.param(
        "products", 'units = "us"', 'unit = "us"', ["products.toml: unit, line 1"], id="a misspelt key of a shared file"
    ),
    pytest.param(
        "products", 'units = "us"', 'units = "US"', ["products.toml: units, line 1"], id="units of a shared file"
    ),
    pytest.param(
        "products",
        "[[product]]",
        "[product]",
        ["products.toml, line 11, column 9"],
        id="a shared file that is not TOML",
    ),
    pytest.param("machines", '"9 m"', '"9 kg"', [], id="a shared key that the plan overrides"),
    pytest.param(
        "machines",
        '"4 m"]',
        '"4 kg"]',
        ["machines.toml: machine[1].drive[0].span[1], line 9"],
        id="a drive of a shared machine",
    ),
    pytest.param(
        "machines",
        '"wash water"',
        '"wash"',
        ["machines.toml: machine[1].drive[0].product, line 10"],
        id="a product of a shared drive",
    ),
    pytest.param(
        "machines", '"tanker"', '"tankr"', ["plan.toml: machine.name, line 27"], id="a machine that is not there"
    ),
]


@pytest.mark.parametrize(("file", "old", "new", "places"), SHARED_BROKEN)
def test_a_mistake_in_a_shared_file_names_that_file(tmp_path, file, old, new, places):
    """What is wrong in a shared file is told with its name and line there, if this pass uses it."""
    texts = {"products": SHARED_PRODUCTS, "machines": SHARED_MACHINES}
    assert old in texts[file]
    texts[file] = texts[file].replace(old, new) if old == "[[product]]" else texts[file].replace(old, new, 1)
    found = problems_of(write_plan(tmp_path, SHARING, **texts))
    # A name that is gone takes what hangs on it along; the first complaint is the one that matters.
    assert [one.where for one in found if one.where in places] == places
    if not places:
        assert found == ()


def test_a_shared_file_that_is_not_there_is_told_once(tmp_path):
    """A missing shared file is a mistake at the plan's key, and what would follow from it is not told."""
    path = write_plan(tmp_path, SHARING, machines=SHARED_MACHINES)
    (found,) = problems_of(path)
    assert found.where == "plan.toml: products, line 2"
    assert "products.toml" in found.problem


def test_names_are_not_looked_up_where_shared_products_can_not_be_read(tmp_path):
    """A plan that is sound but for its shared file has that one problem, though its rates name shared products."""
    text = 'products = "no.toml"\n' + GOOD.replace('product = "zinc"', 'product = "compost"')
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == "plan.toml: products, line 1"


def test_machines_without_a_choice_are_refused(tmp_path):
    """A file of machines that no [machine] chooses from would be ignored, so it is refused with the names."""
    text = SHARING[: SHARING.index("[machine]")]
    (found,) = problems_of(write_plan(tmp_path, text, products=SHARED_PRODUCTS, machines=SHARED_MACHINES))
    assert found.where == "plan.toml: machines, line 3"
    assert '"spreader", "tanker"' in found.remedy


# --- promises ---------------------------------------------------------------------------------------

_KEY_LINE = re.compile(r"^([a-z_]+) = (.+)$")
_LINES = GOOD.split("\n")
_KEYS = [at for at, words in enumerate(_LINES) if _KEY_LINE.match(words)]
_NEEDED = {
    "[field]": {"name", "boundary"},
    "[[keep_out]]": {"where"},
    "[[product]]": {"name", "form", "use", "min", "max", "step"},
    "[[rate]]": {"product", "by", "table", "of", "breaks", "rates"},
    "[zones]": {"from"},
    "[[machine.drive]]": {"name", "span", "product"},
}


def _is_needed(at: int) -> bool:
    table = next((words for words in reversed(_LINES[:at]) if words.startswith("[")), "")
    return _LINES[at].split(" ")[0] in _NEEDED.get(table, ())


def _changed(at: int, new: list[str]) -> str:
    """Put other lines in place of a key and its value."""
    end = at + 1
    if _LINES[at].endswith("["):
        end = _LINES.index("]", at) + 1
    return "\n".join([*_LINES[:at], *new, *_LINES[end:]])


def _named(key: str, where: str) -> bool:
    return re.search(rf"\b{key}\b", where) is not None


_PROMISE = settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.mark.parametrize("at", [pytest.param(at, id=f"line {at + 1}") for at in _KEYS if _is_needed(at)])
def test_a_needed_key_that_is_left_out_is_named(tmp_path, at):
    """Each key without which a plan can't be is asked for by name, with the line of its table."""
    key = _LINES[at].split(" ")[0]
    found = problems_of(write_plan(tmp_path, _changed(at, [])))
    assert any(_named(key, one.where) and "missing" in one.problem for one in found)


@_PROMISE
@given(at=st.sampled_from(_KEYS), more=st.sampled_from(["x", "_", "e", "2"]))
def test_a_misspelt_key_is_named(tmp_path, at, more):
    """A key with a letter too many is refused by its name and line, with the nearest key as a hint."""
    key, value = _KEY_LINE.match(_LINES[at]).groups()
    found = problems_of(write_plan(tmp_path, _changed(at, [f"{key}{more} = {'[]' if value == '[' else value}"])))
    if key == "by":  # which keys a [[rate]] has depends on it, so the others are not looked at
        assert any(_named("by", one.where) for one in found)
    else:
        (here,) = [one for one in found if _named(key + more, one.where)]
        assert here.where.endswith(f"line {at + 1}")
        assert f'Did you mean "{key}"?' in here.remedy


@_PROMISE
@given(at=st.sampled_from(_KEYS), value=st.sampled_from(["1979-05-27T07:32:00", "{ a = true }", "[[]]", "07:32:00"]))
def test_a_value_of_the_wrong_type_is_refused_by_its_key(tmp_path, at, value):
    """No key takes a time of day, a table of something else, or a list of lists."""
    key = _LINES[at].split(" ")[0]
    found = problems_of(write_plan(tmp_path, _changed(at, [f"{key} = {value}"])))
    assert all(isinstance(one, PlanError) and one.remedy for one in found)
    assert any(_named(key, one.where) and one.where.endswith(f"line {at + 1}") for one in found)


_UNITS = st.sampled_from(
    ["", "gal", "lb", "ft", "ac", "lb/ac", "gal/ac", "m", "%", "ton/ac", "bushels", "lb P/ac", "/ac", "é"]
)


@_PROMISE
@given(unit=_UNITS, at=st.sampled_from([at for at in _KEYS if re.search(r'= "[0-9.]+ ', _LINES[at])]))
def test_a_wrong_unit_is_refused_by_its_key(tmp_path, unit, at):
    """A quantity given another unit is refused at its key, unless the kind of unit is the same."""
    key, value = _KEY_LINE.match(_LINES[at]).groups()
    number, right = value.strip('"').split(" ", 1)
    kin = [{"ft", "m"}, {"lb/ac", "gal/ac"}] if key == "rate" else [{"ft", "m"}]  # 0 is nothing in any unit
    if unit == right or any({unit, right} <= family for family in kin):
        return
    text = "\n".join([*_LINES[:at], f'{key} = "{number} {unit}"', *_LINES[at + 1 :]])
    found = problems_of(write_plan(tmp_path, text))
    assert any(re.search(rf"\b{key}, line {at + 1}$", one.where) for one in found) or key == "step"
    assert found


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, len(GOOD) - 1), cut=st.integers(0, 30), put=st.text(max_size=6))
def test_any_damage_gives_a_plan_or_errors_of_ours(tmp_path, at, cut, put):
    """A plan with a stretch of text replaced reads, or is refused with problems and remedies; nothing else."""
    path = write_plan(tmp_path)
    path.write_text(GOOD[:at] + put + GOOD[at + cut :], encoding="utf-8", errors="replace", newline="")
    for one in problems_of(path):
        assert isinstance(one, PlanError)
        assert one.problem
        assert one.where.startswith("plan.toml")


def test_a_value_as_long_as_a_file_is_cut_in_the_message(tmp_path):
    """However long the wrong value, the message stays a line."""
    for value in ("[" + "1, " * 9000 + "]", '"' + "x" * 9000 + '"'):
        for key in ("date", "units", "smallest_area", "k" * 9000):
            text = f"{key} = {value}\n" + re.sub(rf"^{key} = .*\n", "", GOOD, flags=re.MULTILINE)
            (found,) = problems_of(write_plan(tmp_path, text))
            assert len(str(found)) < 1000


def test_all_problems_travel_as_one_error(tmp_path):
    """What the file says wrong comes as Problems, also where it is one thing."""
    with pytest.raises(Problems):
        read_plan(write_plan(tmp_path, GOOD.replace("revision = 1", "revision = 0")))


def test_the_example_of_every_key_reads_without_those_that_are_not_there_yet(tmp_path, shared):
    """The plan that shows every key reads once the keys of later versions are taken out, and not before."""
    text = (shared / "example-plan.toml").read_text(encoding="utf-8")
    for name in ("boundary.geojson", "waterway.gpkg", "soil_units.shp"):
        (tmp_path / name).touch()
    for name, words in (
        ("products", '[[product]]\nname = "other"\n'),
        ("machines", '[[machine]]\nname = "toolbar 40"\n'),
    ):
        text = text.replace(f'"../{name}.toml"', f'"{name}.toml"')
        (tmp_path / f"{name}.toml").write_text(words, encoding="utf-8")
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    later = problems_of(path)
    assert {one.where.split(": ")[1].split(",")[0] for one in later} == {
        "product[0].price", "product[0].overlap", "overlay", "machine.speed", "machine.tank", "machine.drive[0].flow",
        "accept",
    }  # fmt: skip
    path.write_text(without_later_keys(text), encoding="utf-8")
    plan = read_plan(path).plan
    assert plan.machine.narrowest_m("UAN 32") == pytest.approx(12.192)  # 40 ft
    assert tomllib.loads(text)["field"]["name"] == plan.field.name


def without_later_keys(text: str) -> str:
    """Take out what is not there yet."""
    text = re.sub(r"\[\[(overlay|accept)\]\]\n(?:[^\[\n].*\n)*", "", text)
    return "\n".join(line for line in text.split("\n") if not re.match(r"(price|overlap|speed|tank|flow) =", line))


def test_a_plan_may_be_named_without_a_folder(tmp_path, monkeypatch):
    """A bare file name is read from where one stands, and the folder is that place."""
    write_plan(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert read_plan(Path("plan.toml")).folder == Path()
