"""Setting lines of text into a given width: smaller first, then on more lines, never cut off."""

from __future__ import annotations

from dataclasses import dataclass

from vrx.reports.fonts import printable, text_width


@dataclass(frozen=True, slots=True, kw_only=True)
class SetText:
    """Lines of one size."""

    lines: tuple[str, ...]
    size: float


def fitted(text: str, *, width: float, size: float, least: float, bold: bool = False) -> SetText:
    """Return a text on one line, at ``size`` or as much smaller as it has to be; on more lines below ``least``."""
    one_line = printable(text)
    natural = text_width(one_line, size=size, bold=bold)
    if natural <= width:
        return SetText(lines=(one_line,), size=size)
    if natural * least <= width * size:
        return SetText(lines=(one_line,), size=size * width / natural)
    return SetText(lines=wrapped(one_line, width=width, size=least, bold=bold), size=least)


def wrapped(text: str, *, width: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """Return a text in lines no wider than ``width``, broken at spaces; a longer word is broken where it has to be."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split(" "):
        longer = f"{line} {word}" if line else word
        if text_width(longer, size=size, bold=bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *whole, line = _pieces(word, width, size, bold)
        lines += whole
    return (*lines, line) if line else tuple(lines)


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size=size, bold=bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces
