"""Text for the cab card: which characters can be printed, and where lines break."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import Final

from vrx.reports.fonts import font_file, printable, text_width

STAND_IN: Final = "\ufffd"
TOGETHER: Final = "\u00a0"
"""A space at which no line breaks."""
# After these a word that is too long may go on in the next line.
_BREAK_AFTER: Final = "_-/.,;:"
# What doesn't show, or has no meaning that a font could know.
_HIDDEN: Final = ("Cc", "Cf", "Cn", "Co", "Cs")


def shown(text: str) -> str:
    """Return a text as it can be printed: composed, on one line, a stand-in for what the font lacks.

    Characters that don't show are stood in for too: a name must not look like another.
    """
    composed = TOGETHER.join(printable(each) for each in unicodedata.normalize("NFC", text).split(TOGETHER))
    return "".join(one if _can_show(one) else STAND_IN for one in composed)


def words_of(text: str) -> list[str]:
    """Return the words of a text as printed: what no line break may part, unless it is too long for a line."""
    return [word for word in shown(text).split(" ") if word.strip()]


def wrapped(text: str, *, width: float, size: float, bold: bool) -> tuple[str, ...]:
    """Break a text into lines no wider than ``width``; a line holds one character at least."""
    lines: list[str] = []
    line, filled = "", 0.0
    space = text_width(" ", size=size, bold=bold)
    for word in words_of(text):
        wide = text_width(word, size=size, bold=bold)
        if line and filled + space + wide <= width:
            line, filled = f"{line} {word}", filled + space + wide
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, width=width, size=size, bold=bold)
        lines += full
        filled = text_width(line, size=size, bold=bold)
    # To be copied out as common spaces, which are as wide.
    return tuple(each.replace(TOGETHER, " ") for each in (*lines, line) if each)


def _pieces(word: str, *, width: float, size: float, bold: bool) -> list[str]:
    """Cut a word into pieces that fit, behind its own joints where they lie in the later half."""
    pieces = []
    while text_width(word, size=size, bold=bold) > width and len(word) > 1:
        fits = 1
        while text_width(word[: fits + 1], size=size, bold=bold) <= width:
            fits += 1
        joint = 1 + max(word.rfind(one, 0, fits) for one in _BREAK_AFTER)
        cut = joint if joint > fits / 2 else fits
        pieces.append(word[:cut])
        word = word[cut:]
    return [*pieces, word]


def _can_show(character: str) -> bool:
    return unicodedata.category(character) not in _HIDDEN and ord(character) in _covered()


@lru_cache(maxsize=1)
def _covered() -> frozenset[int]:
    """Return the characters that both weights of the font have."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # noqa: PLC0415 - slow to load; has no types

    both = []
    for bold in (False, True):
        with TTFont(font_file(bold), lazy=True) as font:
            both.append(frozenset(font.getBestCmap()))
    return both[0] & both[1]
