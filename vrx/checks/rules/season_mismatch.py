"""The map is for another season than the plan.

Why it matters: last year's map of this field fits its boundary and looks right in every way; its
rates were for another crop and other soil tests.

How to put it right: take the map of this season; compare the code in its name with the card.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import visible


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    season = on.the_plan.field.season
    if season is None:
        yield Unseen("The plan does not say the season: give it as season in [field].")
        return
    built = "" if on.built_as is None else on.built_as.season
    says = built or on.file_says.get("season", "")
    years = _years(says)
    if years:
        if season not in years:
            who = f"The bundle {on.built_as.bundle}" if built and on.built_as is not None else "The map"
            yield Seen(
                severity="stop",
                message=f"{who} says that the map is for season {visible(says)}, and the plan is for {season}.",
                remedy="Take the map of this season; compare the code in its name with the card.",
            )
        return
    named = [int(one) for one in re.split(r"[^0-9A-Za-z]+", on.source.stem) if re.fullmatch(r"20[0-9]{2}", one)]
    if not named:
        yield Unseen("The file does not say its season: ask whoever made it.")
    elif season not in named:
        yield Seen(
            severity="caution",
            message=f"The file's name, {visible(on.source.stem)}, has the year {named[0]}; the plan is for {season}.",
            remedy="Make sure that it is the map of this season: compare the code in its name with the card.",
        )


def _years(text: str) -> list[int]:
    return [int(one) for one in re.findall(r"(?<![0-9])(?:19|20|21)[0-9]{2}(?![0-9])", text)]


RULE = Rule(id="season-mismatch", looks_at="belonging", needs=("layer", "plan"), look=look)
