"""Drawings as a PDF: text that can be selected, in fonts that are embedded, in greys alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Final

from vrx.model.drawing import Area, Drawing, Line, Mark, Words
from vrx.reports.fonts import font_file

if TYPE_CHECKING:
    from fpdf import FPDF

_FAMILY: Final = "DejaVu Sans"
_POINTS_PER_MM: Final = 72 / 25.4


def pdf_bytes(drawings: Sequence[Drawing], *, title: str, stamp: date) -> bytes:
    """Return drawings as a PDF, one a page: the same bytes for the same drawings, whatever the clock says.

    Drawn are words from their start, lines without dashes, and areas without holes or hatches; colours turn grey.

    Parameters
    ----------
    title : str
        In characters that the font has.
    stamp : date
        When it says that it was made.
    """
    from fpdf import FPDF  # noqa: PLC0415 - takes a quarter of a second to load

    pdf = FPDF(unit="mm")
    pdf.set_auto_page_break(False)
    pdf.set_margin(0)
    pdf.set_creation_date(datetime(stamp.year, stamp.month, stamp.day, tzinfo=UTC))
    pdf.set_title(title)
    pdf.set_lang("en")
    pdf.add_font(_FAMILY, "", font_file(bold=False))
    pdf.add_font(_FAMILY, "B", font_file(bold=True))
    for drawing in drawings:
        pdf.add_page(format=(drawing.width, drawing.height))
        for mark in drawing.marks:
            _draw(pdf, mark)
    return bytes(pdf.output())


def _draw(pdf: FPDF, mark: Mark) -> None:
    match mark:
        case Words():
            pdf.set_font(_FAMILY, "B" if mark.bold else "", mark.size * _POINTS_PER_MM)
            pdf.set_text_color(_grey(mark.colour))
            pdf.text(mark.x, mark.y, mark.text)
        case Line():
            pdf.set_line_width(mark.width)
            pdf.set_draw_color(_grey(mark.stroke))
            pdf.polyline([(float(x), float(y)) for x, y in mark.points])
        case Area():
            style = ("D" if mark.stroke else "") + ("F" if mark.fill else "")
            if mark.stroke:
                pdf.set_line_width(mark.width)
                pdf.set_draw_color(_grey(mark.stroke))
            if mark.fill:
                pdf.set_fill_color(_grey(mark.fill))
            for ring in mark.rings:
                pdf.polygon([(float(x), float(y)) for x, y in ring[:-1]], style=style)


def _grey(colour: str) -> int:
    """Return the grey as light as a colour ``#rrggbb``, from 0 to 255."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return round(0.299 * red + 0.587 * green + 0.114 * blue)
