"""Colours of rates: low is light, high is dark, so that more product is more ink and a grey printer keeps the order."""

from __future__ import annotations

from typing import Final

import numpy as np

# Anchors of the colour map cividis: place from 0 to 255 and sRGB. Straight lines between them stay within 1.5 of 255.
# Source: [Nunez2018]_.
_ANCHORS: Final = (
    (0, 0x00224E), (19, 0x00306F), (21, 0x003170), (23, 0x013271), (28, 0x123570), (34, 0x1E3A6F), (52, 0x36466C),
    (84, 0x565C6D), (126, 0x7B7A78), (147, 0x8F8A78), (179, 0xAEA371), (205, 0xC9B965), (219, 0xD9C55C),
    (232, 0xE7D150), (243, 0xF3DB42), (251, 0xFDE334), (255, 0xFEE838),
)  # fmt: skip
_PLACES: Final = tuple(place for place, _ in _ANCHORS)
_CHANNELS: Final = tuple(tuple(colour >> shift & 0xFF for _, colour in _ANCHORS) for shift in (16, 8, 0))

WHITE: Final = "#ffffff"
BLACK: Final = "#000000"


def cividis(value: float) -> str:
    """Return the colour map at a value from 0 (dark blue) to 1 (yellow); beyond, its ends."""
    return _hex(*(float(np.interp(value * 255, _PLACES, channel)) for channel in _CHANNELS))


def fill_colour(shade: float) -> str:
    """Return the fill of a rate class: light for the lowest (0), dark for the highest (1), white for off (-1)."""
    return cividis(1 - shade) if shade >= 0 else WHITE


def laid_over(colour: str, ground: str, opacity: float) -> str:
    """Return what a colour of that opacity looks like over another."""
    over, under = _channels(colour), _channels(ground)
    return _hex(*(opacity * a + (1 - opacity) * b for a, b in zip(over, under, strict=True)))


def luminance(colour: str) -> float:
    """Return the relative luminance: what a grey printer makes of a colour, from 0 (black) to 1.

    Notes
    -----
    Source: [WCAG2]_, "relative luminance".
    """
    red, green, blue = (_linear(channel / 255) for channel in _channels(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, from 1 to 21.

    Notes
    -----
    Source: [WCAG2]_, "contrast ratio".
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def ink_on(ground: str) -> str:
    """Return black or white, whichever reads better."""
    return BLACK if contrast(BLACK, ground) >= contrast(WHITE, ground) else WHITE


def lightness(colour: str) -> float:
    """Return the CIE lightness L*, from 0 to 100, in which equal steps look equal.

    Notes
    -----
    Source: [CIE15]_, L* of a relative luminance.
    """
    share = luminance(colour)
    return 116 * share ** (1 / 3) - 16 if share > (6 / 29) ** 3 else share * (29 / 3) ** 3


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _hex(red: float, green: float, blue: float) -> str:
    return f"#{round(red):02x}{round(green):02x}{round(blue):02x}"
