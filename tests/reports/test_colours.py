"""Colours of rates: the colour map as published, ink that reads on it, and an order that a grey printer keeps."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.reports.colours import (
    cividis,
    contrast,
    fill_colour,
    ink_on,
    laid_over,
    lightness,
    luminance,
)
from vrx.reports.maps.ground import OVER_BACKDROP, fill_of

COLOURS = st.integers(0, 0xFFFFFF).map("#{:06x}".format)

# Measured here: the least difference of L* between neighbours of so many rates, alone and over a backdrop. One of 2.3
# is just seen side by side (Mahy et al. 1994, from memory).
LEAST_STEP = {
    2: (77.4, 51.7), 3: (37.8, 25.1), 4: (24.6, 16.3), 5: (18.2, 12.1), 6: (14.7, 9.6), 7: (12.0, 7.9),
    8: (9.9, 6.6), 9: (9.0, 5.8), 10: (8.1, 5.2), 11: (7.1, 4.7), 12: (6.4, 4.2),
}  # fmt: skip


def test_the_colour_map_is_cividis() -> None:
    """Source: matplotlib's table of cividis, after Nuñez et al. 2018; each channel within 2 of 255."""
    from matplotlib import colormaps

    table = colormaps["cividis"]
    for at in range(256):
        ours = [int(cividis(at / 255)[start : start + 2], 16) for start in (1, 3, 5)]
        assert ours == pytest.approx([channel * 255 for channel in table(at)[:3]], abs=2)


@pytest.mark.parametrize("count", LEAST_STEP)
def test_neighbouring_rates_differ_on_a_grey_printer(count: int) -> None:
    """More product is darker, by no less than was measured."""
    for opacity, least in zip((1.0, OVER_BACKDROP), LEAST_STEP[count], strict=True):
        levels = [lightness(fill_of(at / (count - 1), opacity)) for at in range(count)]
        assert min(before - after for before, after in pairwise(levels)) >= least


def test_off_is_paper() -> None:
    """White is no rate: no rate is as light, and its hatch says so too."""
    assert fill_colour(-1) == "#ffffff"
    assert lightness(fill_colour(0)) < 93


@given(COLOURS)
def test_ink_reads_on_any_ground(ground: str) -> None:
    """At least 4.5 to 1, which WCAG 2 asks of text (success criterion 1.4.3): black or white always reaches it."""
    assert contrast(ink_on(ground), ground) >= 4.5


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        pytest.param("#000000", "#ffffff", 21.0, id="black on white: the definition's greatest"),
        pytest.param("#ffffff", "#ffffff", 1.0, id="nothing"),
        pytest.param("#767676", "#ffffff", 4.54, id="the lightest grey that passes on white, from memory"),
        pytest.param("#ff0000", "#ffffff", 4.00, id="red on white, from memory"),
        pytest.param("#0000ff", "#ffffff", 8.59, id="blue on white, from memory"),
    ],
)
def test_contrast_as_known(one: str, other: str, ratio: float) -> None:
    """Source: WCAG 2, contrast ratio; both ways round."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize(
    ("colour", "level"),
    [
        pytest.param("#000000", 0, id="black"),
        pytest.param("#ffffff", 100, id="white"),
        pytest.param("#777777", 50.03, id="middle grey, from memory"),
        pytest.param("#ff0000", 53.24, id="red, from memory"),
    ],
)
def test_lightness_as_known(colour: str, level: float) -> None:
    """CIE L* of sRGB colours."""
    assert lightness(colour) == pytest.approx(level, abs=0.01)


def test_a_colour_laid_over_another() -> None:
    """All of it, none of it, and half way."""
    assert [laid_over("#204060", "#ffffff", share) for share in (1, 0, 0.5)] == ["#204060", "#ffffff", "#90a0b0"]


def test_luminance_goes_with_the_square_and_more() -> None:
    """A channel half-way up gives about a fifth of the light."""
    assert luminance("#808080") == pytest.approx(0.2159, abs=1e-4)
