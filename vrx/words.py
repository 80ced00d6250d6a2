"""Small things that sentences for people share: lists cut short, names made safe to show, and what was meant."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

# Control characters, line and paragraph separators, and marks that turn the direction of what follows.
_UNSEEN: Final = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


def some(words: Iterable[object], most: int = 12, between: str = ", ") -> str:
    """List words, not more of them than a person reads: ``A, B and 7 more``."""
    listed = [str(word) for word in words]
    more = f" and {len(listed) - most} more" if len(listed) > most else ""
    return between.join(listed[:most]) + more


def visible(text: str, keep: str = "") -> str:
    r"""Return text with control characters spelled out: a name in a file may hold what turns a terminal red.

    Parameters
    ----------
    keep : str
        Control characters that stay.

    Examples
    --------
    >>> print(visible("A\x1b[31m\nB"))
    A\x1b[31m\nB
    """
    return _UNSEEN.sub(lambda found: found[0] if found[0] in keep else ascii(found[0])[1:-1], text)


def nearest(name: str, known: Iterable[str]) -> str:
    """Say which known name was probably meant, or nothing: ``Did you mean "UAN 32"? ``."""
    lower = {one.casefold(): one for one in known}
    near = get_close_matches(name.casefold(), lower, n=1, cutoff=0.6)
    return f'Did you mean "{lower[near[0]]}"? ' if near else ""
