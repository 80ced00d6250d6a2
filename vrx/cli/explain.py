"""``vrx explain``: what a finding means."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "explain",
        help="tell what a finding means, why it matters and how to put it right",
        description="Tell what a finding means, why it matters in the field, how to put it right, and how grave it is. "
        "The id of a finding stands in brackets behind its message. Without an id, list all of them.",
    )
    command.add_argument("id", metavar="ID", nargs="?", help="id of a finding, such as overlap (default: list all)")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from vrx.reports.manual_text import list_text, manual_json, page_text
    from vrx.runs.manual import manual, page_of

    pages = manual()
    if found.id is None:
        if found.json:
            say_json({"findings": [manual_json(one) for one in pages]})
        else:
            say(list_text(pages).rstrip("\n"))
        return 0
    page = page_of(found.id, pages)
    if found.json:
        say_json(manual_json(page))
    else:
        say(page_text(page).rstrip("\n"))
    return 0
