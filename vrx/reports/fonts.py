"""Fonts: DejaVu Sans, whose letters carry accents, and how wide a text is in it."""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from PIL import ImageFont

FAMILY: Final = "DejaVu Sans"
CAP_HEIGHT: Final = 0.729
"""Height of capitals and digits, in ems; what hangs below the line is DESCENT."""
DESCENT: Final = 0.236
_UNITS_PER_EM: Final = 2048

# Control characters, halves of surrogate pairs and non-characters have no place in XML and no glyph; marks that turn
# the direction of writing would turn the text around them.
_UNFIT: Final = re.compile(
    "[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff"
    + "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0x10000, 0x110000, 0x10000))
    + "]"
)


def printable(text: str) -> str:
    r"""Return a text on one line in which every character can be drawn or at least stands for itself.

    Examples
    --------
    >>> printable("pond\nnorth \x00"), printable("Łąka")
    ('pond north �', 'Łąka')
    """
    return _UNFIT.sub("\ufffd", " ".join(text.split()))


def font_file(bold: bool = False) -> Path:
    """Return the file of a font that matplotlib ships.

    Raises
    ------
    ModuleNotFoundError
        matplotlib is not installed.
    """
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("matplotlib", name="matplotlib")
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / f"DejaVuSans{'-Bold' if bold else ''}.ttf"


def text_width(text: str, *, size: float, bold: bool = False) -> float:
    """Return how far a text reaches, without kerning, in the unit of its size."""
    return sum(_advance(letter, bold) for letter in text) * size / _UNITS_PER_EM


@lru_cache(maxsize=4096)
def _advance(letter: str, bold: bool) -> float:
    return _font(bold).getlength(letter)


@lru_cache(maxsize=2)
def _font(bold: bool) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont  # noqa: PLC0415 - slow to load

    # At as many pixels as an em has units an advance is a whole number, and nothing is lost to rounding.
    return ImageFont.truetype(str(font_file(bold)), _UNITS_PER_EM, layout_engine=ImageFont.Layout.BASIC)
