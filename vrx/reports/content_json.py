"""Content as JSON and back: what a bundle keeps, so that its papers can be made again."""

from __future__ import annotations

import json
from dataclasses import asdict

from vrx.errors import InputError
from vrx.model.content import Content


def content_json(content: Content) -> bytes:
    """Return a content as UTF-8 JSON, the same bytes for the same content."""
    # A lone surrogate, as a damaged name may hold, has no UTF-8: it is kept as its escape.
    text = json.dumps(asdict(content), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return (text + "\n").encode("utf-8", errors="backslashreplace")


def read_content(data: bytes, *, source: str) -> Content:
    """Return the content that :func:`content_json` wrote.

    Raises
    ------
    InputError
        It is damaged, or another version wrote it.
    """
    from pydantic import TypeAdapter, ValidationError  # noqa: PLC0415 - only where a bundle is read again

    try:
        return TypeAdapter(Content).validate_json(data)
    except ValidationError as err:
        first = err.errors(include_url=False, include_input=False)[0]
        at = ".".join(map(str, first["loc"])) or "the start"
        raise InputError(
            f"The content of the report can't be read: {first['msg']}, at {at}.",
            remedy="It is damaged, or another version wrote it: build the plan again.",
            where=source,
        ) from None
