"""What was put on a stick, as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap

from vrx.model.copied import Copied
from vrx.reports.as_json import finding_json

_WIDTH = 100


def copied_text(copied: Copied) -> str:
    """Return what was put on a stick as people read it: a field at a time, then what else lies there."""
    return "\n".join(_lines(copied))


def copied_json(copied: Copied) -> dict[str, object]:
    """Return what was put on a stick."""
    folder = copied.folder.resolve()
    return {
        "folder": str(folder),
        "files": [
            {"path": str(folder / one.name), "sha256": one.sha256, "field": one.field, "new": one.is_new}
            for one in copied.files
        ],
        "removed": [str(folder / name) for name in copied.removed],
        "findings": [finding_json(one) for one in copied.findings],
    }


def _lines(copied: Copied) -> Iterator[str]:
    yield f"Copied and read back: {copied.folder}"
    for field in dict.fromkeys(one.field for one in copied.files):
        yield f"  {field}"
        for stem, endings in _by_map(one.name for one in copied.files if one.field == field):
            new = any(one.is_new for one in copied.files if one.name.startswith(f"{stem}."))
            yield f"    {stem} {endings}" + ("" if new else "  (was there already)")
    for stem, endings in _by_map(copied.removed):
        yield f"Taken off the stick: {stem} {endings}"
    for finding in copied.findings:
        word = {"caution": "CAUTION", "stop": "STOP"}.get(finding.severity, finding.severity)
        yield from _wrapped(f"{finding.message} [{finding.id}]", f"  {word:<8} ", " " * 11)
        yield from _wrapped(finding.remedy, " " * 11 + "> ", " " * 13)


def _by_map(names: Iterable[str]) -> Iterable[tuple[str, str]]:
    """Give maps by their names, each with the endings of its files."""
    endings: dict[str, list[str]] = {}
    for name in names:
        stem, _, ending = name.partition(".")
        endings.setdefault(stem, []).append(f".{ending}")
    return [(stem, " ".join(each)) for stem, each in endings.items()]


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return wrap(
        text, _WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False, break_long_words=False
    )
