"""Damaged maps of every format go through the whole check: it answers in words, in time, and without a crash."""

from __future__ import annotations

import os
import random
import runpy
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

import pytest
import support_cases as cases
import support_formats as formats
from support_check_child import Answer, Child

pytestmark = pytest.mark.slow


def write_plain_parquet(folder: Path) -> Path:
    """Shapes and their metadata without the copy of the schema that most bytes of a small file are."""
    import pyarrow.parquet as pq

    table = pq.read_table(formats.write_parquet(folder))
    path = folder / "plain.parquet"
    with pq.ParquetWriter(path, table.schema, compression="none", store_schema=False) as writer:
        writer.write_table(table)
        writer.add_key_value_metadata({"geo": table.schema.metadata[b"geo"].decode()})
    return path


# Formats, each with a writer of a sound file and the part of it that is damaged.
WRITERS: dict[str, tuple[Callable[[Path], Path], str]] = {
    **runpy.run_path(str(Path(__file__).parents[1] / "inputs" / "test_damaged_files.py"))["WRITERS"],
    "parquet without a second schema": (write_plain_parquet, ".parquet"),
    "geojson of zones": (lambda folder: cases.write_field(folder)[0], ".geojson"),
    "geojson with crs": (cases.write_legacy_crs, ".geojson"),
    "dbf of odd cells": (cases.write_bad_cells, ".dbf"),
    "shp in feet": (cases.write_state_plane_feet, ".shp"),
}

# FUZZ_EXAMPLES=2000 tries more of each format; a failure names its seed, which gives the same damage everywhere.
EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "0")) or 90
LIMIT_SECONDS = 10.0
CHILDREN = 2

WILD_BYTES = (
    b"\0" * 8, b"\xff" * 8, b"\xff" * 4, b"\x7f\xff\xff\xff", b"\xff\xff\xff\x7f", b"\0\0\0\x80",
    b"\0\0\0\0\0\0\xf0\x7f", b"\0\0\0\0\0\0\xf8\x7f", b"\xa0\xc8\xeb\x85\xf3\xcc\xe1\x7f", b"\0\0\0\1",
)  # fmt: skip
WILD_TEXT = (b"NaN", b"1e999", b"-1e308", b"1e160", b'""', b"null", b"[]", b"{}", b"\\u0000", b"\xff", b"\n\n", b"<!--")


class Case(NamedTuple):
    """A damaged file with what it was made of."""

    form: str
    seed: int
    path: Path


def damaged(whole: bytes, rng: random.Random) -> bytes:
    """Damage bytes in one to three places, each in a way of its own."""
    ways = (cut_short, flipped, doubled, dropped, swapped, other_digits, wild)
    data = whole
    for _ in range(rng.choice((1, 1, 2, 3))):
        data = rng.choice(ways)(data, rng) if data else data
    return data


def piece(data: bytes, rng: random.Random) -> tuple[int, int]:
    """A piece of some bytes, one in three near the start, where headers are."""
    at = rng.randrange(len(data) if rng.random() < 0.67 else min(200, len(data)))
    return at, min(len(data), at + rng.choice((1, 2, 4, 8, 16, 40, 100, 400, rng.randrange(1, len(data) + 1))))


def cut_short(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data))]


def flipped(data: bytes, rng: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(rng.randrange(1, 7)):
        changed[piece(data, rng)[0]] ^= rng.randrange(1, 256)
    return bytes(changed)


def doubled(data: bytes, rng: random.Random) -> bytes:
    start, end = piece(data, rng)
    return data[:end] + data[start:end] * rng.choice((1, 1, 1, 20)) + data[end:]


def dropped(data: bytes, rng: random.Random) -> bytes:
    start, end = piece(data, rng)
    return data[:start] + data[end:]


def swapped(data: bytes, rng: random.Random) -> bytes:
    """Two pieces of one length change places."""
    start, end = piece(data, rng)
    size = end - start
    other = rng.randrange(len(data) - size + 1)
    changed = bytearray(data)
    changed[start:end], changed[other : other + size] = data[other : other + size], data[start:end]
    return bytes(changed)


def other_digits(data: bytes, rng: random.Random) -> bytes:
    """Digits become others: text stays well-formed, so that its numbers reach the measuring."""
    digits = [at for at, byte in enumerate(data) if 48 <= byte <= 57]
    changed = bytearray(data)
    for at in rng.sample(digits, min(len(digits), rng.choice((1, 2, 5, 30)))):
        changed[at] = rng.randrange(48, 58)
    return bytes(changed)


def wild(data: bytes, rng: random.Random) -> bytes:
    """Numbers that no map has, in place of bytes or of a number in text."""
    at, _ = piece(data, rng)
    if rng.random() < 0.5:
        digits = [place for place, byte in enumerate(data) if 48 <= byte <= 57]
        if digits:
            start = end = rng.choice(digits)
            while end < len(data) and data[end : end + 1] in b"0123456789.-+eE":
                end += 1
            return data[:start] + rng.choice(WILD_TEXT) + data[end:]
    value = rng.choice(WILD_BYTES)
    at -= at % 4 if rng.random() < 0.7 else 0
    return (data[:at] + value + data[at + len(value) :])[: max(len(data), at + len(value))]


@pytest.fixture(scope="module")
def children() -> Iterator[list[Child]]:
    """Processes that check, one for each thread that asks."""
    with ThreadPoolExecutor(CHILDREN) as pool:
        made = list(pool.map(lambda _: Child(LIMIT_SECONDS), range(CHILDREN)))
    yield made
    for one in made:
        one.end()


@pytest.fixture(scope="module", params=WRITERS)
def sound(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path, Path]:
    """A format, a sound file of it, and the boundary of its field."""
    folder = tmp_path_factory.mktemp("sound")
    (folder / "map").mkdir()
    return request.param, WRITERS[request.param][0](folder / "map"), cases.write_boundary(folder)


def make(form: str, whole: Path, folder: Path, seed: int) -> Case:
    """Write the file of a format anew, damaged as the seed says, with what belongs to it."""
    suffix = WRITERS[form][1]
    rng = random.Random(f"{form} {seed}")
    folder.mkdir()
    for part in whole.parent.glob(f"{whole.stem}.*"):
        data = part.read_bytes()
        (folder / part.name).write_bytes(damaged(data, rng) if part.suffix == suffix else data)
    return Case(form, seed, folder / whole.name)


def ask(child: Child, case: Case, boundary: Path) -> Answer:
    """Check a case: as it is, or in its field with a unit, in turn."""
    options = {"boundary": str(boundary), "unit": "kg/ha", "crs": cases.UTM} if case.seed % 2 else {}
    return child.ask([str(case.path)], **options)


def test_sound_files_are_read(sound: tuple[str, Path, Path], children: list[Child]) -> None:
    """Each file is a map before it is damaged: what is damaged after this does reach the check."""
    form, whole, boundary = sound
    answer = children[0].ask([str(whole)], boundary=str(boundary), unit="kg/ha")
    assert answer[:2] == ("read", ""), form


def test_damaged_maps_are_answered(sound: tuple[str, Path, Path], children: list[Child], tmp_path: Path) -> None:
    """Cut, flipped, doubled, dropped, swapped or wild: a check or an error of one line, within ten seconds."""
    form, whole, boundary = sound
    folder = tmp_path / "cases"
    folder.mkdir()

    def some_of(worker: int) -> list[tuple[Case, Answer]]:
        found = []
        for seed in range(worker, EXAMPLES, CHILDREN):
            case = make(form, whole, folder / str(seed), seed)
            found.append((case, ask(children[worker], case, boundary)))
        return found

    with ThreadPoolExecutor(CHILDREN) as pool:
        answers = [one for part in pool.map(some_of, range(CHILDREN)) for one in part]
    assert len(answers) == EXAMPLES
    wrong = [f"seed {case.seed} of {form}: {answer.fault}" for case, answer in answers if answer.fault]
    slow = [f"seed {case.seed} of {form}: {one.seconds:.1f} s" for case, one in answers if one.seconds > LIMIT_SECONDS]
    assert not wrong + slow, "\n".join(wrong + slow)
    shutil.rmtree(folder)


def test_a_child_that_dies_or_hangs_is_told(children: list[Child], tmp_path: Path) -> None:
    """A crash and a hang are failures, and a new child takes the place of the old one."""
    whole = cases.write_plain(tmp_path)
    child = Child(0.5)
    try:
        assert child.ask(["die"], code=7).fault == "died: exit code 7"
        assert child.ask(["sleep"], seconds=5).fault == "hung: no answer within 0.5 s"
        assert child.ask(["sleep"], seconds=0).end == "refused"
    finally:
        child.end()
    assert children[0].ask([str(whole)]).end == "read"


def test_there_are_many() -> None:
    """At least 2,000 damaged files in all, of every format that is read."""
    assert len(WRITERS) * EXAMPLES >= 2000
    read = {".shp", ".dbf", ".geojson", ".gpkg", ".fgb", ".kml", ".kmz", ".parquet", ".tif", ".csv", ".zip"}
    assert read <= {suffix for _, suffix in WRITERS.values()}
