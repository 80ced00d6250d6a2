"""What is said about each kind of mistake in a plan: its key, its line, its value and what would do."""

from __future__ import annotations

import pytest
from support_good_plan import GOOD, line_of, problems_of, write_plan

from vrx.errors import PlanError

# Each row: what stands in the good plan, what stands there instead (its line marked with #<, unless the
# new text is part of a line), the key that is named, and words that must be in the message.
BROKEN = [
    pytest.param('units = "us"', 'units = "US" #<', "units", ["US", '"us"', '"metric"'], id="units in capitals"),
    pytest.param('units = "us"', 'unit = "us" #<', "unit", ["not a key", '"units"'], id="a misspelt key at the top"),
    pytest.param('grid_crs = "auto"', "grid_crs = 32614 #<", "grid_crs", ["32614", "text"], id="a number for text"),
    pytest.param("date = 2027-05-04", "date = 20270504 #<", "date", ["20270504", "2027-04-12"], id="a date as number"),
    pytest.param("date = 2027-05-04", 'date = "4.5.2027" #<', "date", ["4.5.2027", "year"], id="a date the other way"),
    pytest.param("date = 2027-05-04", 'date = "20270504" #<', "date", ["20270504", "year"], id="a date run together"),
    pytest.param("date = 2027-05-04", 'date = "2027-W18-2" #<', "date", ["W18", "year"], id="a day of a week"),
    pytest.param("date = 2027-05-04", 'date = "2027-02-30" #<', "date", ["02-30", "year"], id="no such day"),
    pytest.param("date = 2027-05-04", "date = 1827-05-04 #<", "date", ["1827", "from 1900"], id="a date too early"),
    pytest.param("date = 2027-05-04", "date = 2207-05-04 #<", "date", ["2207", "to 2155"], id="a date too late"),
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
    pytest.param('"61.5 ac"', '"0 ac" #<', "field.stated_area", ["0 ac", "above 0"], id="a stated area of nothing"),
    pytest.param('"61.5 ac"', '"-5 ac" #<', "field.stated_area", ["-5 ac", "above 0"], id="a stated area under 0"),
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
        'formats = ["shapefile"]',
        'unit = "ft" #<\nformats = ["shapefile"]',
        "receiver.unit",
        ["'ft' is a length", "gal/ac"],
        id="a receiver's unit that is no rate",
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
    line = line_of(text, "#<" if "#<" in text else new)  # inside a line no comment can stand
    found = problems_of(write_plan(tmp_path, text))
    here = [one for one in found if one.where == f"plan.toml: {key}, line {line}"]
    assert len(here) == 1, [one.where for one in found]
    assert isinstance(here[0], PlanError)
    for word in words:
        assert word in str(here[0])


ORDER_AND_BOXES = [
    pytest.param("off_allowed = true", "price = 412 #<", "product[0].price", ["412", "currency"], id="a bare price"),
    pytest.param(
        "off_allowed = true", 'price = "412 USD" #<', "product[0].price", ["412 USD", "how much"], id="for what"
    ),
    pytest.param("off_allowed = true", 'price = "412/lb" #<', "product[0].price", ["no currency"], id="no currency"),
    pytest.param(
        "off_allowed = true", 'price = "412 usd/lb" #<', "product[0].price", ["USD in capitals"], id="small letters"
    ),
    pytest.param("off_allowed = true", 'price = "$412/lb" #<', "product[0].price", ["number"], id="a sign in front"),
    pytest.param(
        "off_allowed = true", 'price = "412 USD/ton" #<', "product[0].price", ["short_ton", "tonne"], id="which ton"
    ),
    pytest.param("off_allowed = true", 'price = "9 USD/ac" #<', "product[0].price", ["area", "mass"], id="by the acre"),
    pytest.param("off_allowed = true", 'price = "-1 USD/lb" #<', "product[0].price", ["below 0"], id="a price under 0"),
    pytest.param("off_allowed = true", 'price = "4,12 USD/lb" #<', "product[0].price", ["comma"], id="a decimal comma"),
    pytest.param("off_allowed = true", 'package = "bag" #<', "product[0].package", ["bag(50 lb)"], id="a bag of what"),
    pytest.param("off_allowed = true", 'package = "0 lb" #<', "product[0].package", ["above 0"], id="an empty package"),
    pytest.param("off_allowed = true", 'package = "50 lb N" #<', "product[0].package", ["counts N"], id="nutrient"),
    pytest.param("off_allowed = true", 'overlap = "104 %" #<', "product[0].overlap", ["104 %", "100 %"], id="overlap"),
    pytest.param("off_allowed = true", "overlap = 0.04 #<", "product[0].overlap", ["no unit", "%"], id="a bare share"),
    pytest.param('name = "spreader"', 'tank = "900 gal" #<', "machine.tank", ["no box", "size"], id="a tank as text"),
    pytest.param('name = "spreader"', 'speed = "4-6 mph" #<', "machine.speed", ["4-6 mph", "4 to 6 mph"], id="4-6 mph"),
    pytest.param('name = "spreader"', "speed = 5 #<", "machine.speed", ["no unit", "5 mph"], id="a bare speed"),
    pytest.param(
        'name = "right"',
        'name = "right"\nflow = "2 gal/min" #<',
        "machine.drive[1].flow",
        ["0 to 2 gal/min"],
        id="a flow",
    ),
    pytest.param(
        'name = "right"',
        'name = "right"\none_of = ["zinc"] #<',
        "machine.drive[1].one_of",
        ["product", "one_of"],
        id="a product and several",
    ),
    pytest.param(
        'crop = "field pea"', 'heading = "360 deg" #<', "field.heading", ["360 deg", "true north"], id="a whole turn"
    ),
    pytest.param('crop = "field pea"', "heading = 85 #<", "field.heading", ["no unit", "85 deg"], id="a bare heading"),
    pytest.param("revision = 1", 'caps = { N = "180 lb/ac" } #<', "caps.N", ["lb N/ac"], id="a cap of product"),
    pytest.param("revision = 1", 'caps = { P = "80 lb P2O5/ac" } #<', "caps.P", ["P2O5", "P_element"], id="a cap of P"),
    pytest.param(
        'name = "spreader"', 'tank = { size = "900 gal" } #<', "machine.tank.product", ["missing"], id="of what product"
    ),
    pytest.param(
        'name = "spreader"',
        'tank = { product = "zinc", size = "0 gal" } #<',
        "machine.tank.size",
        ["holds nothing"],
        id="a tank of nothing",
    ),
    pytest.param(
        'name = "spreader"',
        'tank = { product = "zinc", size = "900 gal", keep_back = "3600 qt" } #<',
        "machine.tank.keep_back",
        ["3600 qt", "900 gal"],
        id="all is kept back",
    ),
    pytest.param(
        'name = "spreader"',
        'tank = [\n{ product = "zinc", size = "900 gal" },\n{ product = "zinc", size = "9 gal/ac" }, #<\n]',
        "machine.tank[1].size",
        ["9 gal/ac", "volume"],
        id="a size that is a rate, in a list",
    ),
    pytest.param(
        'name = "spreader"',
        'tank = { product = "zink", size = "900 gal" } #<',
        "machine.tank.product",
        ["zink", '"zinc"'],
        id="a tank of a product that is not there",
    ),
    pytest.param(
        'name = "spreader"',
        'tank = { product = "zinc", size = "900 gal", drives = ["right"] } #<',
        "machine.tank.drives[0]",
        ["'right'", "gypsum"],
        id="a drive of another product",
    ),
    pytest.param(
        'name = "spreader"', 'tank = { product = "zinc", sise = "1 gal" } #<', "machine.tank.sise", ["size"], id="sise"
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "words"), ORDER_AND_BOXES)
def test_what_is_said_about_orders_and_boxes(tmp_path, old, new, key, words):
    """Key, line, value and remedy, as for every other key; a box in one table has no number."""
    text = GOOD.replace(old, new, 1)
    found = problems_of(write_plan(tmp_path, text))
    here = [one for one in found if one.where == f"plan.toml: {key}, line {line_of(text)}"]
    assert len(here) == 1, [str(one) for one in found]
    for word in words:
        assert word in str(here[0])


def test_two_currencies_are_refused_at_the_second(tmp_path):
    """None is exchanged: the price in another currency than the first is named with its line."""
    text = GOOD.replace("off_allowed = true", 'price = "412 USD/short_ton"', 1)
    text = text.replace('density = "10.9 lb/gal"', 'density = "10.9 lb/gal"\nprice = "3 CAD/gal" #<', 1)
    (found,) = problems_of(write_plan(tmp_path, text))
    assert found.where == f"plan.toml: product[1].price, line {line_of(text)}"
    assert "another currency than USD" in found.problem
    assert "none is exchanged" in found.remedy


NOT_YET = [
    pytest.param('by = "table"', 'by = "method" #<', "rate[0].by", id="a method"),
]


@pytest.mark.parametrize(("old", "new", "key"), NOT_YET)
def test_a_key_of_a_later_version_is_refused(tmp_path, old, new, key):
    """A key that is not there yet is refused by its name, never silently ignored."""
    text = GOOD.replace(old, new, 1)
    found = problems_of(write_plan(tmp_path, text))
    assert [one.where for one in found] == [f"plan.toml: {key}, line {line_of(text)}"]
    assert "not there yet" in found[0].problem


def test_empty_keys_count_as_left_out(tmp_path):
    """Empty text for a file or a layer that is not named reads."""
    text = GOOD.replace('crop = "field pea"', 'part = ""').replace('no_data = "off"', 'zones = ""')
    assert problems_of(write_plan(tmp_path, text)) == ()
