"""``vrx build``: from a plan to files that a machine loads."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands
    from vrx.model.build import Build
    from vrx.model.copied import Copied


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "build",
        help="build a prescription from a plan",
        description="Build a prescription from a plan: zones cut to the field, rates kept within the product's limits "
        "and steps, acres and amounts accounted for, and map files written and read back.",
    )
    command.add_argument("plan", metavar="PLAN", help="the plan, a .toml file")
    command.add_argument("--out", metavar="DIR", help="folder to write (default: NAME-bundle beside NAME.toml)")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.add_argument(
        "--no-pictures", action="store_true", help="no report, maps and cab card: files and ledger alone"
    )
    command.add_argument("--svg", action="store_true", help="the maps as SVG too")
    command.add_argument(
        "--set",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        dest="sets",
        help='a value of the plan for this build alone, such as field.crop=barley or "product[UAN 32].max=24 gal/ac"; '
        "may be repeated",
    )
    command.add_argument(
        "--swap",
        metavar="OLD=NEW",
        action="append",
        default=[],
        dest="swaps",
        help="another product of the plan or its shared file in place of one, for this build alone; may be repeated",
    )
    command.add_argument(
        "--copy-to", metavar="STICK", help="put the maps on a stick too, or into another folder that is there"
    )
    command.add_argument("--force", action="store_true", help="replace a bundle that is there")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    options = {
        "out": found.out,
        "force": found.force,
        "pictures": not found.no_pictures,
        "svg": found.svg,
        "sets": found.sets,
        "swaps": found.swaps,
    }
    if found.copy_to is None:
        from vrx.runs.build import build

        return show(build(found.plan, **options), as_json=found.json)
    from vrx.runs.copy import build_and_copy

    built, copied = build_and_copy(found.plan, found.copy_to, **options)
    return show(built, copied, as_json=found.json)


def show(built: Build, copied: Copied | None = None, *, as_json: bool) -> int:
    from vrx.reports.copied import copied_json, copied_text

    if as_json:
        from vrx.reports.as_json import build_json

        say_json(build_json(built) | ({"copied": copied_json(copied)} if copied else {}))
    else:
        from vrx.reports.terminal import build_text

        say(build_text(built).rstrip("\n") + (f"\n\n{copied_text(copied)}" if copied else ""))
    return 1 if built.stopped else 0
