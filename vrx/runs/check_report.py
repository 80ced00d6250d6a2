"""The page of a check, written: all or nothing, over no input, and over another file only where that is asked for."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from vrx.errors import OutputError
from vrx.exports.system import own_name, plain_words, sync
from vrx.model.check import Check
from vrx.model.fixed import Fixed
from vrx.reports.check_content import check_content
from vrx.reports.fixed_text import fixed_facts
from vrx.reports.html.check import check_html
from vrx.runs.manifest import WRITTEN_BY

_ENDINGS = (".html", ".htm")


def may_write(target: Path | str, inputs: Iterable[Path | str], *, force: bool) -> None:
    """Refuse a report that would take the place of something that has to stay.

    Raises
    ------
    OutputError
        It is no HTML file by its name, is one of the inputs, a folder, or there already.
    """
    path = Path(target)
    if path.suffix.lower() not in _ENDINGS:
        raise OutputError("A report is an HTML file.", remedy="Let its name end with .html.", where=str(path))
    with plain_words(path, "report"):
        if path.is_dir():
            raise OutputError("This is a folder.", remedy="Name a file in it.", where=str(path))
        if any(_same(path, Path(one)) for one in inputs):
            raise OutputError("This is an input of the check.", remedy="Choose another name.", where=str(path))
        if os.path.lexists(path) and not force:
            raise OutputError(
                "There is a file of that name already.",
                remedy="Choose another name, or add --force to replace it.",
                where=str(path),
            )


def write_report(
    check: Check, target: Path | str, inputs: Iterable[Path | str], *, force: bool, fixed: Fixed | None = None
) -> Path:
    """Write the page of a check, and return where it is.

    Parameters
    ----------
    fixed : Fixed, optional
        Where the map was mended: the page is of the mended map then, and tells from which one it was made and how.

    Raises
    ------
    OutputError
        As of :func:`may_write`, or the system refuses it; whatever was there is as it was then.
    """
    told = check if fixed is None else fixed.check
    content = check_content(told, written_by=WRITTEN_BY)
    if fixed is not None:
        content = replace(content, facts=(*content.facts, *fixed_facts(fixed)))
    page = check_html(told, content)
    path = Path(target)
    may_write(path, inputs, force=force)
    with plain_words(path, "report"):
        if path.is_symlink():
            path = path.resolve()
        beside = own_name(path)
        try:
            beside.write_bytes(page)
            sync(beside)
            if force:
                beside.replace(path)
            else:
                _place_new(beside, path)
        finally:
            with suppress(OSError):
                beside.unlink()
    return Path(target)


def _place_new(beside: Path, path: Path) -> None:
    """Give a file its name, unless another got it meanwhile."""
    try:
        os.link(beside, path)  # unlike a renaming, it never replaces
    except FileExistsError:
        raise
    except OSError:  # sticks know no links
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST)) from None
        beside.replace(path)


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
