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
        description="Write a commented plan to start from, or copy one for the next field; or print the JSON Schema of "
        "a plan for an editor.",
    )
    command.add_argument("folder", metavar="DIR", nargs="?", help="folder for plan.toml")
    command.add_argument("--units", choices=("us", "metric"), help="default: us")
    command.add_argument(
        "--from",
        metavar="PLAN",
        dest="source",
        help="copy this plan for another field: all but name, boundary, stated area, zones, keep-outs, overlays and "
        "acceptances",
    )
    command.add_argument("--boundary", metavar="FILE", help="the boundary of that field, with --from")
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
    if found.source is not None:
        return _copied(found)
    if found.boundary is not None:
        raise InputError("--boundary goes with --from.", remedy="Name the plan to copy, with --from PLAN.")
    from vrx.runs.new import start_plan

    path = start_plan(Path(found.folder), units=found.units or "us", force=found.force)
    if found.json:
        say_json({"plan": str(path.resolve())})
    else:
        say(f"Started {path}. Fill in boundary, zones and rates, then run  {typed('build', str(path))}")
    return 0


def _copied(found: argparse.Namespace) -> int:
    if found.boundary is None:
        raise InputError("The boundary of the next field is missing.", remedy="Add --boundary FILE.")
    if found.units is not None:
        raise InputError(
            "--units does not go with --from: the plan that is copied says its own.", remedy="Leave it out."
        )
    from vrx.runs.new import start_from

    made = start_from(Path(found.source), Path(found.folder), boundary=Path(found.boundary), force=found.force)
    told = {"Fill in": made.fill_in, "Left out, as it is of the other field": made.left_out, "Look at": made.look_at}
    if found.json:
        say_json(
            {
                "plan": str(made.path.resolve()),
                "fill_in": list(made.fill_in),
                "left_out": list(made.left_out),
                "look_at": list(made.look_at),
            }
        )
        return 0
    lines = [f"Started {made.path} from {found.source}."]
    for head, items in told.items():
        lines += [f"{head}:", *(f"  {one}" for one in items)] if items else []
    say("\n".join([*lines, f"Then run  {typed('build', str(made.path))}"]))
    return 0
