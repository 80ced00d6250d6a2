"""Wanted rates as people read them."""

from __future__ import annotations

import pytest
from support_products import granular

from vrx.reports.words import wanted_number


@pytest.mark.parametrize(
    ("wanted", "text"),
    [
        pytest.param(151.25, "151.25", id="two decimals more than the step"),
        pytest.param(0.001, "0.001", id="too little for those, and not 0"),
        pytest.param(-0.0004, "-0.0004", id="below 0"),
        pytest.param(0.0, "0", id="0 itself"),
        pytest.param(float("nan"), "none", id="not known"),
    ],
)
def test_a_wanted_rate_that_is_not_0_does_not_look_like_0(wanted: float, text: str) -> None:
    """Beside "raised to 30" it would look as if 0 had been raised."""
    assert wanted_number(wanted, granular()) == text
