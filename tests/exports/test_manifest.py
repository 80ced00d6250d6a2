"""Manifest and checksums."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from vrx.errors import InputError
from vrx.exports.manifest import manifest_json, sha256_of


def test_the_manifest_is_sorted_and_indented() -> None:
    """Keys are sorted whatever their order, two spaces, LF at the end, letters as they are."""
    assert manifest_json({"b": [1, 0.1], "a": "Wüste"}) == (
        '{\n  "a": "Wüste",\n  "b": [\n    1,\n    0.1\n  ]\n}\n'.encode()
    )


def test_a_name_that_is_no_utf_8_comes_back() -> None:
    """A file name with a stray byte, which Python holds as a lone surrogate, survives as JSON."""
    content = {"path": "f\udce9ld.shp"}
    assert json.loads(manifest_json(content).decode("utf-8")) == content


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_numbers_that_json_lacks_are_refused(value: float) -> None:
    """NaN and infinity are not JSON (RFC 8259, section 6)."""
    with pytest.raises(ValueError, match="JSON"):
        manifest_json({"x": value})


def test_a_path_is_refused() -> None:
    """A path is not written by accident."""
    with pytest.raises(TypeError):
        manifest_json({"x": Path("a")})


# Source: FIPS 180-2 (2002), appendix B.1 (message "abc") and the digest of the empty message; values from memory.
@pytest.mark.parametrize(
    ("content", "digest"),
    [
        pytest.param(b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", id="abc"),
        pytest.param(b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", id="empty"),
    ],
)
def test_the_checksum_is_sha_256(tmp_path: Path, content: bytes, digest: str) -> None:
    """The checksum of a file is SHA-256 of its bytes."""
    path = tmp_path / "x"
    path.write_bytes(content)
    assert sha256_of(path) == digest


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """A file that can't be read is an error with its path."""
    with pytest.raises(InputError, match="can't be read") as caught:
        sha256_of(tmp_path / "none.shp")
    assert caught.value.where.endswith("none.shp")
