"""The pages of the manual as they stand in the code: a rule's is the docstring of its module."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vrx.checks.catalog import RULES, SEVERITIES
from vrx.checks.rule import Rule
from vrx.model.manual import NEED_WORDS, ManualPage, Subject

_PARTS = {"why": "Why it matters:", "how": "How to put it right:", "source": "Source:"}
_HEADS = re.compile("|".join(f"(?:^|(?<=\\s)){re.escape(head)}" for head in _PARTS.values()))
_MARKUP = re.compile("``")


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The four parts of a page; why, how and source may be empty."""

    sentence: str
    why: str
    how: str
    source: str


def parts_of(text: str) -> Parts:
    """Part the text of a page; each part comes back in one line, without marks of code."""
    plain = " ".join(_MARKUP.sub("", text).split())
    found = {"sentence": plain[: (first.start() if (first := _HEADS.search(plain)) else len(plain))].strip()}
    heads = list(_HEADS.finditer(plain))
    for at, head in enumerate(heads):
        end = heads[at + 1].start() if at + 1 < len(heads) else len(plain)
        name = next(name for name, words in _PARTS.items() if words == head.group())
        found[name] = plain[head.end() : end].strip()
    return Parts(sentence=found["sentence"], **{name: found.get(name, "") for name in _PARTS})


def text_of(rule: Rule) -> str:
    """Return the page of a rule as its author wrote it: the docstring of the module that looks."""
    return sys.modules[rule.look.__module__].__doc__ or ""


def manual(titles: Mapping[str, str], others: Mapping[str, str]) -> tuple[ManualPage, ...]:
    """Return all pages: rules in the order of the catalog, then the others by their ids.

    Parameters
    ----------
    titles : mapping of str to str
        The title of each finding by its id.
    others : mapping of str to str
        Text of a page by id, for findings that no rule gives.
    """
    pages = [_page(rule.id, titles[rule.id], text_of(rule), subject=rule.looks_at, needs=rule.needs) for rule in RULES]
    ruled = {one.id for one in pages}
    pages += [_page(key, titles[key], others[key]) for key in sorted(others) if key not in ruled]
    return tuple(pages)


def _page(key: str, title: str, text: str, *, subject: Subject = "building", needs: Sequence[str] = ()) -> ManualPage:
    parts = parts_of(text)
    return ManualPage(
        id=key,
        title=title,
        subject=subject,
        severities=SEVERITIES.get(key, ()) if subject != "building" else (),
        needs=tuple(NEED_WORDS[one] for one in needs if one in NEED_WORDS),
        sentence=parts.sentence,
        why=parts.why,
        how=parts.how,
        source=parts.source,
    )
