"""The cab card: what the operator sets and ticks at the field's edge, on one page where that can be."""

from __future__ import annotations

from vrx.model.content import Content
from vrx.reports.card.layout import fitted
from vrx.reports.card.pdf import pdf_bytes
from vrx.reports.card.steps import card_of
from vrx.reports.card.text import shown


def cab_card(content: Content) -> bytes:
    """Return the cab card of a build as a PDF, the same bytes for the same content.

    Type shrinks as far as 8 points to keep the card on one page; then it goes on on further ones.
    """
    card = card_of(content)
    return pdf_bytes(fitted(card), title=shown(f"Cab card, {card.title}"), stamp=card.stamp)
