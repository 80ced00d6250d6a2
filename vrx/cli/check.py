"""``vrx check``: whether a map may be loaded."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from vrx.cli.say import say, say_json
from vrx.errors import InputError
from vrx.inputs.files import file_and_name

if TYPE_CHECKING:
    from vrx.cli.parsers import Commands
    from vrx.model.check import Check
    from vrx.model.fixed import Fixed


def add(commands: Commands) -> None:
    command = commands.add_parser(
        "check",
        help="look whether a map may be loaded for this field, product and machine",
        description="Look whether a map, made by anyone, may be loaded for this field, this product and this machine, "
        "and say what to do if not. It looks at all that is known: the more of plan, product and boundary is named, "
        "the more it can see. What could not be looked at is said.",
        epilog="Exit codes: 0 clear, or caution; 1 stop, or caution with --strict; 2 the call can't be used. With "
        "--fix they tell of the mended map. "
        "vrx explain ID tells what a finding means.",
    )
    command.add_argument(
        "maps", metavar="MAP", nargs="+", help="the file of the map; several files are taken together as one map"
    )
    against = command.add_argument_group("what it is checked against")
    against.add_argument("--plan", metavar="PLAN", help="the plan of the pass: its field, products and machine")
    against.add_argument(
        "--product", metavar="NAME", default="", help="a product of the plan, or FILE#NAME of a file of products"
    )
    against.add_argument("--boundary", metavar="FILE", help="the boundary of the field, where no plan names it")
    against.add_argument(
        "--groups", metavar="DRIVES", default="", help='drives that the cab runs at one rate, as "left+right, cart"'
    )
    reading = command.add_argument_group("how the map is read, where it does not say so itself")
    reading.add_argument("--column", metavar="NAME", default="", help="the column that holds the rates")
    reading.add_argument("--unit", metavar="UNIT", default="", help='unit of the rates, such as "kg/ha" or "us_gal/ac"')
    reading.add_argument("--crs", metavar="CRS", default="", help="its map coordinates, such as EPSG:32614")
    reading.add_argument("--layer", metavar="NAME", default="", help="the layer to read, where the file holds several")
    reading.add_argument(
        "--decimal", choices=(".", ","), default=".", help="the sign before decimals, where cells hold text"
    )
    mending = command.add_argument_group("mending it, into a new file")
    mending.add_argument(
        "--fix",
        metavar="OUT",
        help="write a mended map: rings, slivers, overlaps of one rate, single parts, names and map coordinates; OUT "
        "ends with .shp, .geojson or .gpkg, or is a folder. The map itself stays as it is, and so does every rate",
    )
    mending.add_argument(
        "--fix-rates", action="store_true", help="bring rates onto the product's steps and within its limits too"
    )
    command.add_argument("--report", metavar="FILE.html", help="write a page with the map and all findings too")
    command.add_argument("--force", action="store_true", help="replace a report or mended map that is there")
    command.add_argument("--all", action="store_true", dest="every", help="every finding, not a screen of them")
    command.add_argument("--strict", action="store_true", help="end with 1 where there is a caution")
    command.add_argument("--json", action="store_true", help="print one JSON object on standard output")
    command.set_defaults(run=run)


def run(found: argparse.Namespace) -> int:
    if found.fix_rates and found.fix is None:
        raise InputError("--fix-rates writes a mended map.", remedy="Say where to with --fix OUT.")
    if found.report is not None:
        from vrx.runs.check_report import may_write

        may_write(found.report, _inputs(found), force=found.force)
    checked, fixed = _checked(found)
    written = None
    if found.report is not None:
        from vrx.runs.check_report import write_report

        written = write_report(checked, found.report, _inputs(found), force=found.force, fixed=fixed)
    if found.json:
        from vrx.reports.check_json import check_json
        from vrx.reports.fixed_text import fixed_json

        report = {"report": str(written.resolve())} if written else {}
        say_json(check_json(checked) | report | ({"fixed": fixed_json(fixed)} if fixed else {}))
    else:
        from vrx.reports.check_text import check_text
        from vrx.reports.fixed_text import fixed_text

        text = check_text(checked, every=found.every).rstrip("\n")
        text += f"\n\n{fixed_text(fixed, every=found.every)}".rstrip("\n") if fixed else ""
        say(f"{text}\nWritten: {written}" if written else text)
    verdict = (fixed.check if fixed else checked).verdict
    return 1 if verdict == "stop" or (found.strict and verdict == "caution") else 0


def _checked(found: argparse.Namespace) -> tuple[Check, Fixed | None]:
    against = {"plan": found.plan, "product": found.product, "boundary": found.boundary, "groups": found.groups}
    reading = {one: getattr(found, one) for one in ("column", "unit", "crs", "layer", "decimal")}
    if found.fix is None:
        from vrx.runs.check import check

        return check(found.maps, **against, **reading), None
    from vrx.runs.fix import check_and_fix

    return check_and_fix(found.maps, found.fix, rates=found.fix_rates, force=found.force, **against, **reading)


def _inputs(found: argparse.Namespace) -> list[str]:
    """Return all files that are named to be read."""
    library = file_and_name(found.product)[0]
    return [one for one in (*found.maps, found.plan, found.boundary, library) if one]
