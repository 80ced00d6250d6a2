"""The band across the map of a stopped build."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vrx.model.drawing import Mark, Words
from vrx.reports.colours import WHITE
from vrx.reports.fonts import CAP_HEIGHT, text_width
from vrx.reports.maps.frame import Box, MapFrame
from vrx.reports.maps.scale_bar import rectangle

STOPPED: Final = "STOPPED: not for the machine"
_MOST_MM: Final = 10.0
_HEIGHT: Final = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A band with words, and the box that it covers."""

    box: Box
    marks: tuple[Mark, ...]


def stopped_band(frame: MapFrame) -> Band:
    """Return a band across the middle of a map; above the ground where that is too low to bear it."""
    room, ground = frame.room, frame.box
    size = min(_MOST_MM, room.width * 0.94 / text_width(STOPPED, size=1.0, bold=True))
    above = ground.y - room.y
    if ground.height < 3 * _HEIGHT * size:
        size = min(size, max(above, room.height / 3) / _HEIGHT)
        y = room.y
    else:
        y = ground.y + (ground.height - _HEIGHT * size) / 2
    box = Box(x=room.x, y=y, width=room.width, height=_HEIGHT * size)
    words = Words(
        x=room.x + room.width / 2, y=y + (_HEIGHT + CAP_HEIGHT) * size / 2, text=STOPPED, size=size, anchor="middle",
        bold=True,
    )  # fmt: skip
    return Band(box=box, marks=(rectangle(box, fill=WHITE, width=0.8), words))
