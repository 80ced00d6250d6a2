"""Shared products and machines: what they give to a plan, and where their mistakes are told."""

from __future__ import annotations

import pytest
from support_good_plan import GOOD, problems_of, write_plan

from vrx.inputs.plan_file import read_plan
from vrx.units import parse_unit

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
