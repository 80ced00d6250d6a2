"""Names that a strict receiver loads: columns of ten plain characters, short file names, and a code of the contents."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from itertools import count
from typing import Final

from vrx.model.finding import Finding
from vrx.model.loadable import COLUMN_LENGTH, RESERVED_STEMS

CODE_LETTERS: Final = "23456789abcdefghjkmnpqrstuvwxyz"  # no 0, 1, i, l, o: they are misread from paper
CODE_LENGTH: Final = 4

# Letters that do not fall apart into a plain letter and an accent.
_PLAIN: Final = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d",
     "Đ": "D", "ð": "d", "Ð": "D", "þ": "th", "Þ": "TH", "ı": "i"}
)  # fmt: skip
_LEAST_PART = 3


def column_name(wanted: str, taken: Collection[str] = ()) -> str:
    """Return a column name of at most ten letters, digits and ``_`` that keeps what it can of the wanted one.

    Parameters
    ----------
    wanted : str
        Any text; accents are dropped, other characters become ``_``.
    taken : collection of str
        Names that it must differ from by more than case.

    Examples
    --------
    >>> column_name("RATE")
    'RATE'
    >>> column_name("RATE_KG_HA_NITROGEN")
    'RATE_NITRO'
    >>> column_name("2,4-D", taken=["c_2_4_d"])
    'C_2_4_D_2'
    """
    return _unique(_fitted(_words(wanted), COLUMN_LENGTH), taken)


def column_names(wanted: Sequence[str]) -> tuple[str, ...]:
    """Return column names for all columns of one file, in the same order.

    A name that fits stays as it is. In the others the words that all names share are shortened first, since
    the words that differ are those that tell the columns apart.

    Examples
    --------
    >>> column_names(["RATE_KG_HA_NITROGEN", "RATE_KG_HA_PHOSPHATE"])
    ('R_NITROGEN', 'R_PHOSPHAT')
    """
    words = [_words(text) for text in wanted]
    head, tail = _shared(words)
    own = [each[head : len(each) - tail] for each in words]
    too_long = [at for at, each in enumerate(words) if len("_".join(each)) > COLUMN_LENGTH]
    most = max((len("_".join(own[at])) for at in too_long), default=0)
    room = COLUMN_LENGTH - 1 - min(most, COLUMN_LENGTH - 2)
    names: dict[int, str] = {}
    # Names that fit go first: they are not to lose their name to a shortened one.
    for at in sorted(range(len(words)), key=lambda at: at in too_long):
        name = "_".join(words[at])
        if at in too_long and (head or tail):
            ends = [_first_words(words[at][:head], room)] if head else []
            starts = [_first_words(words[at][len(words[at]) - tail :], room)] if tail and not head else []
            left = COLUMN_LENGTH - sum(len(part) + 1 for part in ends + starts)
            name = "_".join([*ends, _fitted(own[at], left), *starts])
        elif at in too_long:
            name = _fitted(words[at], COLUMN_LENGTH)
        names[at] = _unique(name, names.values())
    return tuple(names[at] for at in range(len(words)))


def renamed_finding(pairs: Iterable[tuple[str, str]]) -> Finding | None:
    """Say which columns are written under another name than wanted; None where all kept theirs.

    Parameters
    ----------
    pairs : iterable of (str, str)
        Wanted and written name.
    """
    changed = [f"{wanted} -> {written}" for wanted, written in pairs if wanted != written]
    if not changed:
        return None
    return Finding(
        id="name-shortened",
        severity="note",
        message=f"A column name holds at most {COLUMN_LENGTH} plain characters; written as: {', '.join(changed)}.",
        remedy="Choose these names on the display, or give shorter ones in the plan.",
    )


def file_stem(
    field: str,
    season: int | None,
    product: str,
    code: str,
    *,
    longest: int,
    taken: Collection[str] = (),
    beside: Collection[str] = (),
) -> str:
    """Return a file name without its ending: ``north-40_2027_urea_k7mq``.

    Parameters
    ----------
    field, product : str
        Any text; a text without a plain letter or digit is left out.
    season : int, optional
        Left out where there is none, or where the name would not hold three characters of field and product.
    code : str
        Always kept whole.
    longest : int
        Most characters; 12 and more leave room for field, product and code.
    taken : collection of str
        Stems of the same folder that this one must differ from.
    beside : collection of str
        The other products of the folder: the field is cut, and the season left out, as for the longest of them all,
        so that the files of one field stand together.

    Examples
    --------
    >>> file_stem("Große Wiese", 2027, "Triple superphosphate", "k7mq", longest=32)
    'grosse-wie_2027_triple-supe_k7mq'
    """
    products = [_file_part(one) for one in (product, *beside)]
    head, year = _head(_file_part(field), products, "" if season is None else str(season), longest - len(code))
    lower = {stem.lower() for stem in taken}
    stem = code
    for number in count(1):
        stem = _stem(head, year, products[0], f"_{code}" if number == 1 else f"-{number}_{code}", longest)
        if stem.lower() not in lower | RESERVED_STEMS or number > len(lower) + 1:
            break
    return stem


def content_code(*parts: bytes) -> str:
    """Return four characters that stand for contents: letters and digits that are not misread from paper.

    Made from SHA-256 of the parts, each with its length before it, so that moving a byte from one part to the
    next gives another code. 31 letters: dropping 0, 1, i, l and o from 36 leaves no 32.
    """
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big") + part)
    number = int.from_bytes(digest.digest(), "big")
    code = ""
    for _ in range(CODE_LENGTH):
        number, letter = divmod(number, len(CODE_LETTERS))
        code += CODE_LETTERS[letter]
    return code


def _ascii(text: str) -> str:
    parts = unicodedata.normalize("NFKD", text.translate(_PLAIN))
    # Accents vanish without leaving a gap in the word; every other strange character is one.
    return "".join(char for char in parts if not unicodedata.combining(char))


def _words(text: str) -> list[str]:
    words = re.findall(r"[A-Za-z0-9]+", _ascii(text)) or ["COL"]
    return ["C", *words] if words[0][0].isdigit() else words


def _fitted(words: Sequence[str], room: int) -> str:
    """Shorten words to a name: the shortest (units, articles) go first, two are kept and cut evenly."""
    kept = list(words)
    while len("_".join(kept)) > room and len(kept) > 2:
        shortest = min(len(word) for word in kept[1:])
        del kept[max(at for at, word in enumerate(kept) if at and len(word) == shortest)]
    if room < len("a_b"):
        return kept[-1][:room]
    while len("_".join(kept)) > room:
        at = max(range(len(kept)), key=lambda at: (len(kept[at]), at))
        kept[at] = kept[at][:-1]
    return "_".join(kept)


def _first_words(words: Sequence[str], room: int) -> str:
    name = words[0][:room]
    for word in words[1:] if len(words[0]) <= room else ():
        if len(name) + 1 + len(word) > room:
            break
        name += f"_{word}"
    return name


def _shared(words: Sequence[Sequence[str]]) -> tuple[int, int]:
    """Count the words that all names begin with and end on; every name keeps one of its own."""
    if len(words) < 2:
        return 0, 0
    least = min(len(each) for each in words) - 1
    folded = [[word.lower() for word in each] for each in words]
    head = 0
    while head < least and len({each[head] for each in folded}) == 1:
        head += 1
    tail = 0
    while tail < least - head and len({each[-1 - tail] for each in folded}) == 1:
        tail += 1
    return head, tail


def _unique(name: str, taken: Collection[str]) -> str:
    lower = {each.lower() for each in taken}
    candidate = name
    for number in count(2):
        if candidate.lower() not in lower:
            break
        suffix = f"_{number}"
        candidate = name[: COLUMN_LENGTH - len(suffix)].rstrip("_") + suffix
    return candidate


def _file_part(text: str) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", _ascii(text).lower()))


def _head(field: str, products: list[str], season: str, room: int) -> tuple[str, str]:
    """Return as much of field and season as fits beside each product, the season whole or not at all."""
    for kept in dict.fromkeys((season, "")):
        heads = [_beside(field, product, room - (len(kept) + 1 if kept else 0)) for product in products]
        if all(head is not None for head in heads):
            return min((head or "" for head in heads), key=len), kept
    return "", ""


def _beside(field: str, product: str, room: int) -> str | None:
    """Cut field and product evenly and return the field; None where three characters of each do not fit."""
    texts = [part for part in (field, product) if part]
    room -= len(texts)
    if room < sum(min(len(part), _LEAST_PART) for part in texts):
        return None
    while sum(map(len, texts)) > room:
        at = max(range(len(texts)), key=lambda at: (len(texts[at]), -at))
        texts[at] = texts[at][:-1].rstrip("-")
    return texts[0] if field else ""


def _stem(field: str, season: str, product: str, end: str, longest: int) -> str:
    """Join the parts, the last text cut to what is left; where nothing is, field and season go.

    ``end`` is what the last text ends on, and the code behind it: ``-2_k7mq``.
    """
    head, last = (field, product) if product else ("", field or "map")
    suffix, _, code = end.partition("_")
    room = longest - len(end) - sum(len(part) + 1 for part in (head, season) if part)
    if room < 1:
        return _stem("", "", last, end, longest)
    last = last[:room].rstrip("-") + suffix
    return "_".join(part for part in ((head, season, last, code) if head else (last, season, code)) if part)
