"""The manifest of a bundle, and checksums of files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from vrx.errors import InputError


def manifest_json(content: Mapping[str, object]) -> bytes:
    """Return a manifest as JSON: keys sorted, two spaces, LF, UTF-8 as it is.

    Raises
    ------
    TypeError
        A value that JSON does not know, such as a path: paths in a manifest are relative and written by the caller.
    ValueError
        NaN or an infinite number.
    """
    text = json.dumps(content, sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False)
    # A file name that is not valid UTF-8 reaches us with lone surrogates: escaped, they are JSON all the same.
    return (text + "\n").encode("utf-8", errors="backslashreplace")


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes in hexadecimal.

    Raises
    ------
    InputError
        It can't be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as err:
        raise InputError(
            f"The file can't be read: {err.strerror or err}.",
            remedy="Check that it is there and may be read.",
            where=str(path),
        ) from err
