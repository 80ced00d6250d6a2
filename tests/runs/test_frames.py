"""The prescription as a GeoDataFrame."""

from __future__ import annotations

from pathlib import Path

import pytest

import vrx
from vrx.errors import InputError


def test_the_frame_holds_the_ledgers_areas_and_amounts(sample_fields: Path, tmp_path: Path) -> None:
    """Area times rate, summed over the frame in its own projection-free areas, is the ledger's total."""
    built = vrx.build(sample_fields / "bergwind" / "plan.toml", out=tmp_path / "out")
    for account in built.ledger.products:
        frame = vrx.to_geodataframe(built.prescription, account.product)
        assert frame.crs.to_epsg() == 4326
        amount = (frame["given"] * frame["geodesic_area_m2"]).sum() / 1e4  # both products are in kg/ha
        assert amount == pytest.approx(account.total_given, rel=1e-12)
        equal_area = frame.to_crs("ESRI:102022").area  # Africa Albers equal area
        assert equal_area.sum() == pytest.approx(built.ledger.boundary_area_m2, rel=1e-6)


def test_an_unknown_product_is_named_with_those_that_are_there(sample_fields: Path, tmp_path: Path) -> None:
    """Asking for a product that the prescription lacks lists the ones it has."""
    built = vrx.build(sample_fields / "bergwind" / "plan.toml", out=tmp_path / "out")
    with pytest.raises(InputError, match="no product 'Urea'") as caught:
        vrx.to_geodataframe(built.prescription, "Urea")
    assert "LAN 28" in caught.value.remedy
