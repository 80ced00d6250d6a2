"""A drawing as a PNG: the same marks as in the SVG, painted by matplotlib's Agg without its figures and text."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.model.drawing import Area, Drawing, Line, Mark, Picture, Words
from vrx.reports.as_svg import HALO_OF_SIZE, HATCH_COLOUR, HATCH_WIDTH_MM
from vrx.reports.fonts import font_file, printable, text_width
from vrx.reports.hatching import hatch_lines

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font
    from matplotlib.path import Path

Floats: TypeAlias = NDArray[np.float64]

_MM_PER_INCH: Final = 25.4
_POINTS_PER_INCH: Final = 72
_MISSING: Final = "\ufffd"
_GLYPH_POINTS: Final = 100
# What a path does at a point, as matplotlib numbers it.
_MOVE, _LINE, _CLOSE = np.uint8(1), np.uint8(2), np.uint8(79)
_START: Final = {"start": 0.0, "middle": 0.5, "end": 1.0}


def png_bytes(drawing: Drawing, *, dpi: int = 200) -> bytes:
    """Return a drawing as a PNG of that many pixels an inch, on white; no text or date is in the file."""
    with _quiet():
        painter = _Painter(drawing, dpi)
        for mark in drawing.marks:
            painter.paint(mark)
        return painter.png()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep matplotlib from telling that it had no home to keep its list of fonts in: nothing here uses the list."""
    logger = logging.getLogger("matplotlib")
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)


class _Painter:
    """A sheet of pixels, painted mark by mark."""

    def __init__(self, drawing: Drawing, dpi: int) -> None:
        from matplotlib.backends.backend_agg import RendererAgg  # noqa: PLC0415 - slow to load
        from matplotlib.transforms import Affine2D  # noqa: PLC0415

        self.dpi = dpi
        self.scale = dpi / _MM_PER_INCH
        self.height = round(drawing.height * self.scale)
        make: Any = RendererAgg  # it has no types
        self.renderer = make(round(drawing.width * self.scale), self.height, dpi)
        self.to_pixels = Affine2D().scale(self.scale, -self.scale).translate(0, self.height)
        self.fonts: dict[bool, FT2Font] = {}

    def png(self) -> bytes:
        """Return what was painted."""
        from PIL import Image  # noqa: PLC0415

        painted = Image.fromarray(np.asarray(self.renderer.buffer_rgba()))
        sheet = Image.new("RGB", painted.size, "white")
        sheet.paste(painted, mask=painted.getchannel("A"))
        file = io.BytesIO()
        sheet.save(file, format="PNG", dpi=(self.dpi, self.dpi))
        return file.getvalue()

    def paint(self, mark: Mark) -> None:
        """Paint one mark over the others."""
        if isinstance(mark, Area):
            self._area(mark)
        elif isinstance(mark, Line):
            self._lines([mark.points], stroke=mark.stroke, width=mark.width, dashes=mark.dashes)
        elif isinstance(mark, Words):
            self._words(mark)
        else:
            self._picture(mark)

    def _area(self, mark: Area) -> None:
        if mark.fill:
            self._rings(_turned(mark.rings), fill=mark.fill, opacity=mark.opacity)
        if mark.stroke:
            self._rings(mark.rings, stroke=mark.stroke, width=mark.width, dashes=mark.dashes)
        self._lines(list(hatch_lines(mark)), stroke=HATCH_COLOUR, width=HATCH_WIDTH_MM)

    def _words(self, mark: Words) -> None:
        text = self._drawable(printable(mark.text), mark.bold)
        x = mark.x - _START[mark.anchor] * text_width(text, size=mark.size, bold=mark.bold)
        outlines = []
        for letter in text:
            points, codes = self._glyph(letter, mark.bold)
            if len(points):
                # Glyphs are drawn upwards, the page goes down.
                outlines.append((points * (mark.size, -mark.size) + (x, mark.y), codes))
            x += text_width(letter, size=mark.size, bold=mark.bold)
        if not outlines:
            return
        path = _path(
            np.concatenate([points for points, _ in outlines]), np.concatenate([codes for _, codes in outlines])
        )
        if mark.halo:
            self._draw(path, stroke=mark.halo, width=HALO_OF_SIZE * mark.size)
        self._draw(path, fill=mark.colour)

    def _drawable(self, text: str, bold: bool) -> str:
        known = self._font(bold).get_charmap()
        return "".join(letter if ord(letter) in known else _MISSING for letter in text)

    def _glyph(self, letter: str, bold: bool) -> tuple[Floats, NDArray[Any]]:
        """Return the outline of a letter, an em of size 1."""
        from matplotlib.ft2font import LoadFlags  # noqa: PLC0415

        font = self._font(bold)
        font.load_char(ord(letter), flags=LoadFlags.NO_HINTING)
        points, codes = font.get_path()
        return points / _GLYPH_POINTS, codes

    def _font(self, bold: bool) -> FT2Font:
        from matplotlib.ft2font import FT2Font  # noqa: PLC0415

        if bold not in self.fonts:
            self.fonts[bold] = FT2Font(str(font_file(bold)))
            self.fonts[bold].set_size(_GLYPH_POINTS, _POINTS_PER_INCH)
        return self.fonts[bold]

    def _picture(self, mark: Picture) -> None:
        from PIL import Image  # noqa: PLC0415

        left, right = round(mark.x * self.scale), round((mark.x + mark.width) * self.scale)
        top, bottom = round(mark.y * self.scale), round((mark.y + mark.height) * self.scale)
        if right <= left or bottom <= top:
            return
        with Image.open(io.BytesIO(mark.png)) as picture:
            fitted = picture.convert("RGBA").resize((right - left, bottom - top), Image.Resampling.BILINEAR)
        fitted.putalpha(fitted.getchannel("A").point([round(value * mark.opacity) for value in range(256)]))
        upwards = np.ascontiguousarray(np.asarray(fitted)[::-1])
        self.renderer.draw_image(self.renderer.new_gc(), left, self.height - bottom, upwards)

    def _rings(self, rings: Sequence[Floats], **style: Any) -> None:
        if rings:
            codes = [np.r_[_MOVE, np.full(len(ring) - 2, _LINE), _CLOSE] for ring in rings]
            self._draw(_path(np.concatenate(rings), np.concatenate(codes)), **style)

    def _lines(self, lines: Sequence[Floats], **style: Any) -> None:
        if len(lines):
            codes = [np.r_[_MOVE, np.full(len(line) - 1, _LINE)] for line in lines]
            self._draw(_path(np.concatenate(lines), np.concatenate(codes)), **style)

    def _draw(
        self,
        path: Path,
        *,
        fill: str = "",
        opacity: float = 1.0,
        stroke: str = "",
        width: float = 0.0,
        dashes: tuple[float, ...] = (),
    ) -> None:
        """Paint a path in millimetres: filled, or stroked."""
        gc = self.renderer.new_gc()
        gc.set_linewidth(width * _POINTS_PER_INCH / _MM_PER_INCH if stroke else 0.0)
        gc.set_foreground(stroke or fill)
        gc.set_joinstyle("round")
        gc.set_snap(False)
        if opacity < 1:
            gc.set_alpha(opacity)
        if dashes:
            gc.set_dashes(0.0, [dash * _POINTS_PER_INCH / _MM_PER_INCH for dash in dashes])
        colour = (*(int(fill[at : at + 2], 16) / 255 for at in (1, 3, 5)), 1.0) if fill else None
        self.renderer.draw_path(gc, path, self.to_pixels, colour)
        gc.restore()


def _path(points: Floats, codes: NDArray[Any]) -> Path:
    from matplotlib.path import Path  # noqa: PLC0415

    path = Path(points, codes)
    # A reader's own settings of matplotlib must not change the picture.
    path.should_simplify = False
    return path


def _turned(rings: tuple[Floats, ...]) -> list[Floats]:
    """Turn rings so that filling by winding, as Agg does, gives what the even-odd rule gives."""
    if len(rings) == 1:
        return list(rings)
    areas = shapely.polygons([shapely.linearrings(ring) for ring in rings])
    middles = np.array([(ring[0] + ring[1]) / 2 for ring in rings])
    shapely.prepare(areas)
    around = shapely.contains_xy(areas[:, None], middles[None, :, 0], middles[None, :, 1])
    np.fill_diagonal(around, val=False)
    is_hole = around.sum(axis=0) % 2 == 1
    backwards = shapely.is_ccw(shapely.get_exterior_ring(areas)) == is_hole
    return [ring[::-1] if turn else ring for ring, turn in zip(rings, backwards.tolist(), strict=True)]
