"""``vrx ready``: the walk-through before the pass."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "ready",
        help="walk through what has to be set before the pass, in its order",
        description="Walk through machine, groups of drives, field, crop, products, maps and start position in the "
        "order in which they are set, since each rests on those before it. Every map of the plan is checked on the "
        "way. What only a person can see is a box to tick.",
    )
    command.add_argument("plan", metavar="PLAN", help="the plan, a .toml file")
    command.add_argument(
        "--maps", metavar="DIR", help="folder from which the maps are loaded, such as a stick (default: the bundle's)"
    )
    command.add_argument("--position", metavar="LON,LAT", default="", help="where the machine stands, in degrees")
    command.add_argument(
        "--groups", metavar="DRIVES", default="", help='drives that the cab runs at one rate, as "left+right, cart"'
    )
    command.add_argument("--strict", action="store_true", help="end with 1 where anything has to be looked at")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    from vrx.runs.ready import ready

    walked = ready(found.plan, maps=found.maps, position=found.position, groups=found.groups)
    if found.json:
        from vrx.reports.ready_json import ready_json

        say_json(ready_json(walked))
    else:
        from vrx.reports.ready_text import ready_text

        say(ready_text(walked).rstrip("\n"))
    return 1 if walked.verdict == "stop" or (found.strict and walked.verdict == "caution") else 0
