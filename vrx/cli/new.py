"""``vrx new``: start a plan."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json, typed
from vrx.errors import InputError

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "new",
        help="start a plan",
        description="Write a commented plan to start from, or the JSON Schema of a plan for an editor.",
    )
    command.add_argument("folder", metavar="DIR", nargs="?", help="folder for plan.toml")
    command.add_argument("--units", choices=("us", "metric"), default="us", help="default: us")
    command.add_argument("--schema", action="store_true", help="print the JSON Schema of a plan instead")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.add_argument("--force", action="store_true", help="write over a plan that is there")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    if found.schema:
        import json

        from vrx.model.plan_schema import plan_schema

        say(json.dumps(plan_schema(), indent=2))
        return 0
    if not found.folder:
        raise InputError("No folder is given.", remedy="Write vrx new DIR, or vrx new --schema.")
    from vrx.runs.new import start_plan

    path = start_plan(Path(found.folder), units=found.units, force=found.force)
    if found.json:
        say_json({"plan": str(path.resolve())})
    else:
        say(f"Started {path}. Fill in boundary, zones and rates, then run  {typed('build', str(path))}")
    return 0
