"""``vrx report``: the papers of a bundle, made again."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "report",
        help="make the report, maps and cab card of a bundle again",
        description="Make the report, the maps and the cab card again from what a bundle holds. Its maps for the "
        "machine stay as they are; where one of them was changed since it was built, nothing is made.",
    )
    command.add_argument("bundle", metavar="BUNDLE", help="a folder that vrx build wrote")
    command.add_argument("--svg", action="store_true", help="the maps as SVG too")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from pathlib import Path

    from vrx.runs.report import report

    folder = Path(found.bundle)
    made = report(folder, svg=found.svg)
    if found.json:
        from vrx.reports.as_json import files_json

        say_json({"bundle": str(folder.resolve()), "files": files_json(made, folder.resolve())})
    else:
        say("\n".join([f"Made again: {folder}", *(f"  {one.path}" for one in made)]))
    return 0
