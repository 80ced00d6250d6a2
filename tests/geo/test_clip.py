"""Clipping to ground: what is inside and outside adds up, also where the geometry library answers wrong."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.errors import GEOSException
from support_messy_zones import boxes, copies, grounds, repair_one, rings, spikes

from vrx.errors import GeometryError
from vrx.geo.clip import clip

FIELD = shapely.box(0, 0, 100, 100)


@pytest.mark.parametrize(
    ("shape", "area_m2", "kind"),
    [
        pytest.param(shapely.box(90, 40, 120, 60), 200, "MultiPolygon", id="half outside"),
        pytest.param(shapely.box(-10, -10, 110, 110), 10_000, "MultiPolygon", id="all around"),
        pytest.param(shapely.box(100, 0, 120, 100), 0, "Polygon", id="along the edge, outside"),
        pytest.param(shapely.box(200, 0, 220, 100), 0, "Polygon", id="away"),
        pytest.param(
            shapely.union_all([shapely.box(-5, 0, 5, 10), shapely.box(95, 0, 105, 10)]), 100, "MultiPolygon", id="twice"
        ),
        pytest.param(
            shapely.Polygon([(-10, 0), (-10, 50), (10, 60), (0, 40), (0, 20)]),
            # The triangle of (0, 55), (10, 60) and (0, 40); what runs along x = 0 below it is a line.
            75, "MultiPolygon", id="a line is left over",
        ),
    ],
)  # fmt: skip
def test_the_part_on_the_ground(shape: shapely.Geometry, area_m2: float, kind: str) -> None:
    """Areas that can be had in the head; lines and points that are left over do not count."""
    found = clip(shape, FIELD)
    assert found.geom_type == kind
    assert found.area == pytest.approx(area_m2, rel=1e-12)


def test_a_shape_within_comes_out_as_it_is() -> None:
    """Vertex for vertex, begun where it was."""
    shape = shapely.Polygon([(10, 10), (20, 10), (20, 20), (15, 20), (10, 20)])
    assert clip(shape, FIELD).wkb == shape.wkb


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_shape_adds_up(data: st.DataObject) -> None:
    """Inside and outside, measured on a grid of a nanometre, are the whole."""
    ground = data.draw(grounds())
    shape = repair_one(data.draw(st.one_of(boxes(), rings(), spikes(), copies(ground, []))))
    if shape is not None:
        found = clip(shape, ground)
        outside = shapely.difference(shape, ground, grid_size=1e-9).area
        assert found.area + outside == pytest.approx(shape.area, rel=1e-8, abs=1e-8 * shape.length)
        assert found.is_valid


@pytest.mark.parametrize("amiss", ["nothing", "everything", "a contradiction"])
def test_a_wrong_answer_is_noticed(amiss: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the library loses the common ground, takes too much, or gives up, the next grid is taken."""
    right = shapely.intersection

    def wrong(one: Any, other: Any, grid_size: float | None = None) -> Any:
        if grid_size is None:
            if amiss == "a contradiction":
                raise GEOSException("TopologyException: side location conflict")
            return shapely.Polygon() if amiss == "nothing" else one
        return right(one, other, grid_size=grid_size)

    monkeypatch.setattr(shapely, "intersection", wrong)
    assert clip(shapely.box(90, 40, 120, 60), FIELD).area == pytest.approx(200, rel=1e-9)


def test_no_right_answer_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no grid gives parts that add up, nothing is made up."""
    monkeypatch.setattr(shapely, "intersection", lambda *_, **__: shapely.Polygon())
    with pytest.raises(GeometryError, match="do not add up"):
        clip(shapely.box(90, 40, 120, 60), FIELD)
