"""Opening a GeoTIFF: from memory, so that nothing beside it is read or written, and with its errors in words."""

from __future__ import annotations

import os
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from vrx.errors import InputError
from vrx.words import visible

if TYPE_CHECKING:
    from rasterio.io import DatasetReader

_LONGEST: Final = 150
_HEADS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0, either byte order, and its form for large files
_NAME: Final = "within-memory.tif"
_STDERR: Final = 2


@contextmanager
def opened_geotiff(data: bytes, *, source: str, remedy: str) -> Iterator[DatasetReader]:
    """Open a GeoTIFF; what fails while it is open is told as an error of ours.

    Parameters
    ----------
    data : bytes
        The whole file.
    source : str
        Its name, as people are told it.
    remedy : str
        What to do where it can't be read.

    Raises
    ------
    InputError
        Empty, no GeoTIFF, or damaged.
    """
    import rasterio  # noqa: PLC0415 - slow to load, and few fields come with a raster
    from rasterio._err import CPLE_BaseError  # noqa: PLC0415 - some of GDAL's errors come as they are
    from rasterio.errors import RasterioError  # noqa: PLC0415

    if not data:
        raise InputError("The file is empty.", remedy=remedy, where=source)
    if not data.startswith(_HEADS):
        raise InputError("This is no GeoTIFF.", remedy=remedy, where=source)
    memory = rasterio.MemoryFile(data, filename=_NAME)
    try:
        with _silence(), rasterio.Env(GDAL_PAM_ENABLED="NO"), memory, memory.open(driver="GTiff") as raster:
            yield raster
    except (RasterioError, CPLE_BaseError, OSError, MemoryError, ValueError, OverflowError) as err:
        problem = f"The GeoTIFF can't be read: {_first_cause(err)}."
        raise InputError(problem, remedy=remedy, where=source) from None


@contextmanager
def _silence() -> Iterator[None]:
    """Keep warnings of libraries from people: what is wrong is said in our own words.

    PROJ writes what it does not know of a damaged header straight to the standard error stream.
    """
    with warnings.catch_warnings(), open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - no file, and no path
        warnings.simplefilter("ignore")
        try:
            kept = os.dup(_STDERR)
        except OSError:  # there is none
            yield
            return
        try:
            os.dup2(nowhere.fileno(), _STDERR)
            yield
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)


def _first_cause(err: BaseException) -> str:
    while err.__cause__ is not None:
        err = err.__cause__
    said = re.sub(rf"(?:/vsimem/)?\S*{re.escape(_NAME)}[:,]?", "", str(err))  # a name of the library's making
    return visible(" ".join(said.split()))[:_LONGEST].rstrip(".") or type(err).__name__
