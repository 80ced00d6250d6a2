"""From pieces to rates: tables, columns and classes of a zone layer, and what is said about names."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from support_products import granular, product
from support_zone_maps import borders_of, plan_of, zone_map

from vrx.errors import Problems
from vrx.geo.gaps import Gaps
from vrx.model.layer import Column, Layer, Table
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.runs.cut import CutGround, CutLayer
from vrx.runs.prescribe import prescribe

PLACES = "A1 B A2 C"
NAMES = {"A1": "A", "A2": "A"}


def cut(**columns: list[Any]) -> CutGround:
    """Four hectares: two polygons of A, one of B and one of C, with columns of the zone layer."""
    drawn = zone_map(PLACES, names=NAMES)
    cells = {"zone": list(drawn.zone_names), **columns}
    zones = Layer(
        source="zones.shp",
        crs="EPSG:4326",
        shapes=drawn.shapes,
        columns={
            name: Column(name=name, kind="text" if isinstance(values[0], str) else "number", cells=tuple(values))
            for name, values in cells.items()
        },
        records=np.arange(1, 5),
    )
    layer = CutLayer(zone_map=drawn, gaps=Gaps(small=(), hosts=(), large=()), zones=zones)
    return CutGround(layers={"": layer}, borders=borders_of(drawn), findings=())


def plan(*rates: dict[str, Any], **keys: Any) -> Plan:
    of = [granular(), product()][: len(rates)]
    tables = [{"product": one.name} | rate for one, rate in zip(of, rates, strict=True)]
    return plan_of(*of, units="us", rate=tables, **keys)


def given(found: Prescription, at: int = 0) -> list[float]:
    one = found.maps[at]
    return [float(one.product.rate_of(int(number))) for number in one.numbers]


TABLE = {"by": "table", "table": {"A": "60 kg/ha", "B": "90 kg/ha", "C": "0 kg/ha"}}


@pytest.mark.parametrize(
    ("rate", "expected"),
    [
        pytest.param(TABLE, [60, 90, 60, 0], id="table"),
        pytest.param({"by": "column", "column": "dose", "unit": "kg/ha"}, [60, 90, 65, 0], id="column"),
        pytest.param(
            {"by": "breaks", "of": "om", "breaks": [2, 3.5], "rates": ["90 kg/ha", "60 kg/ha", "0 kg/ha"]},
            [90, 60, 60, 0],
            id="breaks: 2.0 is in the middle class",
        ),
        pytest.param(
            {"by": "line", "of": "om", "points": [[2, "100 kg/ha"], [4, "50 kg/ha"]]}, [100, 100, 75, 50], id="line"
        ),
    ],
)
def test_each_way_to_a_rate(rate: dict[str, Any], expected: list[float]) -> None:
    """By zone name, by a field of the layer, by classes and along a line; two polygons of one zone may differ."""
    ground = cut(dose=[60.0, 90.0, 65.0, 0.0], om=[1.5, 2.0, 3.0, 4.5])
    found = prescribe(ground, plan(rate), {})
    assert given(found) == expected
    assert found.findings == ()


def test_names_without_a_counterpart_are_told_on_either_side() -> None:
    """D and E stand in the table only, C in the layer only."""
    rate = {"by": "table", "table": {"A": "60 kg/ha", "B": "90 kg/ha", "D": "60 kg/ha", "E": "60 kg/ha"}}
    found = prescribe(cut(), plan(rate), {})
    unmatched, missing = found.findings
    assert (unmatched.id, unmatched.severity) == ("rate-unmatched", "caution")
    assert "rates for 'D', 'E', and zones.shp has no such zone" in unmatched.message
    assert "zones there are A, B, C" in unmatched.remedy
    assert (missing.id, missing.severity, missing.features) == ("rate-missing", "stop", (4,))


def test_many_strange_names_are_counted() -> None:
    """Twelve by name, the others by number."""
    table = dict.fromkeys(["A", "B", "C", *(f"X{at}" for at in range(30))], "60 kg/ha")
    (finding,) = prescribe(cut(), plan({"by": "table", "table": table}), {}).findings
    assert "'X11' and 18 more" in finding.message


def test_a_table_from_a_file() -> None:
    """Rates by zone name from a CSV, in the unit of the plan; the table of that name is taken."""
    columns = {
        "zone": Column(name="zone", kind="text", cells=("A", "B", "C")),
        "kg": Column(name="kg", kind="text", cells=("60", "90", "0")),
    }
    rate = {"by": "table", "table": "rates.csv", "column": "kg", "unit": "kg/ha"}
    found = prescribe(cut(), plan(rate), {"rates.csv": Table(source="rates.csv", columns=columns)})
    assert given(found) == [60, 90, 60, 0]


def test_a_gap_in_a_column_follows_the_rate_s_own_no_data() -> None:
    """Two products read the same column, and say something else about cells without a number."""
    ground = cut(dose=[60.0, None, 60.0, 0.0])
    off = {"by": "column", "column": "dose", "unit": "kg/ha", "no_data": "off"}
    refuse = {"by": "breaks", "of": "dose", "breaks": [10], "rates": ["10 gal/ac", "12 gal/ac"]}
    found = prescribe(ground, plan(off, refuse), {})
    assert given(found, 0) == [60, 0, 60, 0]
    assert [(one.product, one.severity) for one in found.findings] == [("Granular B", "caution"), ("Liquid A", "stop")]


def test_all_that_is_wrong_is_told_at_once() -> None:
    """A field that is not there and a unit that can't be turned: both, each with its place in the plan."""
    wrong = [
        {"by": "column", "column": "doze", "unit": "kg/ha"},
        {"by": "column", "column": "dose", "unit": "lb/ac"},
    ]
    with pytest.raises(Problems) as caught:
        prescribe(cut(dose=[60.0, 90.0, 65.0, 0.0]), plan(*wrong), {})
    first, second = caught.value.each
    assert (first.where, second.where) == ("rate[0].column", "rate[1].unit")
    assert (first.key, second.key) == (("rate", 0, "column"), ("rate", 1, "unit"))
    assert 'Did you mean "dose"?' in first.remedy
    assert "no field 'doze'" in first.problem
    assert "zone, dose" in first.remedy
    assert "no density" in second.problem


def test_products_are_rated_in_the_order_of_the_plan() -> None:
    """Each with its own table, limits and findings."""
    second = {"by": "table", "table": {"A": "30 gal/ac", "B": "12 gal/ac", "C": "8 gal/ac"}}
    found = prescribe(cut(), plan(TABLE, second), {})
    assert [one.product.name for one in found.maps] == ["Granular B", "Liquid A"]
    assert given(found, 1) == [26, 12, 26, 8]
    assert {one.product for one in found.findings} == {"Liquid A"}
