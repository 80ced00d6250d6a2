"""``vrx copy``: the maps of bundles on a stick."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands
    from vrx.model.copied import Copied


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "copy",
        help="put the maps of bundles on a stick",
        description="Put the machine files of one bundle or several side by side on a stick, and read them back. "
        "Another file is never written over; either all of them are there in the end, or the stick is as it was.",
    )
    command.add_argument("bundles", metavar="BUNDLE", nargs="+", help="folders that vrx build wrote")
    command.add_argument("stick", metavar="STICK", help="the stick, or another folder that is there")
    command.add_argument("--folder", metavar="NAME", default="", help="a folder of the stick to use, made if missing")
    command.add_argument(
        "--remove-older",
        action="store_true",
        help="take other builds of the same field, season and product off the stick",
    )
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from vrx.runs.copy import copy

    show(copy(found.bundles, found.stick, folder=found.folder, remove_older=found.remove_older), as_json=found.json)
    return 0


def show(copied: Copied, *, as_json: bool) -> None:
    from vrx.reports.copied import copied_json, copied_text

    if as_json:
        say_json(copied_json(copied))
    else:
        say(copied_text(copied))
