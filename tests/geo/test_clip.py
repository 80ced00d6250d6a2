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
from vrx.geo.clip import clip, without

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


# A boundary and a set-back of which GEOS 3.14.1 says, in floating arithmetic, that they have nothing in common, though
# the one lies within the other: found among invented fields, as well-known binary.
UNSEEN_GROUND = (
    "0103000000010000000B000000AB8F5B1F9EBD5440E97CD2227FE94F405093218025073E409D46083C68604440F8FF5287D0A32F405B"
    "F05A7BA3D94E403E16230F01E0E63F2BD7F463B1915540494785FB35E836C008412D21C92859409876C3C9C2784FC0327B2E2B2BD331"
    "40E463DB93A6154FC073C6B812BC7730407F315D8BD01657C032D4D806F9EE18C0CBD092122E3153C056353959434545C06FFEC01A2F"
    "6B29C0571D94B3D7E956C0AB8F5B1F9EBD5440E97CD2227FE94F40"
)
UNSEEN_SHAPE = (
    "0106000000010000000103000000010000004200000067E097F46DF8414073AC7D50F72E29C06FFEC01A2F6B29C0571D94B3D7E956C0"
    "BFDC8A0DDA1930C0DD74117B6C4356C044EBEA3D5F3030C024238F559A2D56C08939900ECF4930C029AFB973C10E56C03DF2896F255D"
    "30C05C5B490FA2EF55C0F4007E65566A30C0E6D6FE704FD055C0D804FEC3597130C0986A5801DDB055C0475312E4A65B35C086804AE6"
    "7DD05140B8199C61765C35C05BD5475A17F05140A7B370EA085735C0F515BD82A90F52401AD735E1614B35C0089E9AAE202F5240383C"
    "858A883935C0E1DCA53D694E5240841B6408882135C0CE14B7AC6F6D52404E8B51536F0335C043F8E4A1208C52401B11F03051DF34C0"
    "5A8D96F868AA52400E3A502844B534C093D073CD35C85240C887E373628534C027A42D8A74E55240787520F1C94F34C0FAB215F11202"
    "53401BC9E10D9C1434C0E20B7F28FF1D53406ECF8CB3FDD333C0AF5CE0C527395340C7830B30178E33C020DBB0D87B5353400C00A91C"
    "144333C04D15F9F4EA6C5340C0E2DF4223F332C06412913D6585534059A12B7F769E32C04860056EDB9C534087FAEEA1424532C01EE2"
    "1CE43EB3534032EE824EBFE731C0426FF9A881C853403AC782D8268631C03691CD7996DC5340F2DB6A1FB62031C0D7F121D070EF5340"
    "7DB6A068ACB730C01551A5E9040154405E53FC374B4B30C0C82282CF471154408D27D64DACB72FC08C41355D2F205440A6C08B7425D3"
    "2EC09972E146B22D54407A91E96D90E92DC08BC81B1FC83954403F58F6EA7EFB2CC034472D5C694454403C47106985092CC02581C65C"
    "8F4D5440E10C4FD53A142BC04140226C3455544043D3602E381C2AC0FAA494C5535B544022EE1C25182229C0FB838497E95F54407DBC"
    "07BC762628C05427CD05F362544052EC03E6F02927C0D4F6862B6E64544075D16D24242D26C0CDEA351C5A64544003DFDD24AE3025C0"
    "820C5DE4B66254409E89CF5E2C3524C057A87689855F54401AEA69B13B3B23C09B365109C85A54403B63A701784322C09560D1588154"
    "5440F65119D97B4E21C042E81962B54C5440246E8405E05C20C02B991A0269435440A4F4237376DE1EC02FC88705A2385440936AA25D"
    "430C1DC09F463C25672C5440A95A879249441BC03B0A0802C01E5440BE3F5C79A58719C09027EE1FB50F5440BAE9CC676CD717C06D16"
    "D5E04FFF5340B351ACF4AB3416C08490AC7E9AED5340F62ECE4F69A014C0ACB00C05A0DA5340F62E1E9FA01B13C0344D524A6CC65340"
    "496C5A6144A711C05AD93CE80BB15340903CD3D63C4410C0C06812348C9A5340AC591DE1CEE60DC0E4BB4E36FB825340680C548C2C6B"
    "0BC06B85E2A1676A53403C039F251F1709C0E05D08CBE050534070CB23731AEC06C0D61DB59D76365340E45BF6A278EB04C00E95A993"
    "391B534094162D73791603C05AD02BAA3AFF5240D42B726A416E01C01B576E578BE2524067E097F46DF8414073AC7D50F72E29C0"
)


@pytest.mark.parametrize(
    ("taken", "left_m2"),
    [
        pytest.param(shapely.box(90, 40, 120, 60), 9800, id="half outside"),
        pytest.param(shapely.box(-10, -10, 110, 110), 0, id="all of it"),
        pytest.param(shapely.box(200, 0, 220, 100), 10_000, id="nothing of it"),
        pytest.param(shapely.box(40, 40, 60, 60), 9600, id="from within"),
        pytest.param(shapely.Polygon(), 10_000, id="nothing"),
    ],
)
def test_what_is_left_of_the_ground(taken: shapely.Geometry, left_m2: float) -> None:
    """Areas that can be had in the head; what is left and what was taken do not meet."""
    found = without(FIELD, taken)
    assert found.area == pytest.approx(left_m2, abs=1e-6)
    assert shapely.intersection(found, taken).area == pytest.approx(0, abs=1e-6)


def test_a_shape_that_the_geometry_library_does_not_see_is_taken_away_all_the_same() -> None:
    """Two answers that agree on nothing in common add up for the one; for the other they do not."""
    ground, shape = (shapely.from_wkb(one) for one in (UNSEEN_GROUND, UNSEEN_SHAPE))
    assert without(ground, shape).area == pytest.approx(ground.area - shape.area, rel=1e-6)
    assert clip(shape, ground).area == pytest.approx(shape.area, rel=1e-6)
