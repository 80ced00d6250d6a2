"""Pages about acceptances, papers, bundles, and names in the files of a build."""

from __future__ import annotations

from typing import Final

PAGES: Final[dict[str, str]] = {
    "accept-refused": """\
The plan accepts a finding that nobody's signature can settle, and the finding stays as it was.

Why it matters: three kinds can't be signed away. Where there is no rate, a signature gives none;
where a keep-out is concerned, or the map is not of this field or can't be read, it changes
nothing about the ground; and above the maximum of a crop protection product the label holds.

How to put it right: settle what was found, as its own page says: vrx explain with its id. Then
take the [[accept]] out of the plan and run vrx build again.

Source: docs/decisions/overlays-and-layers.md.
""",
    "accept-unmatched": """\
The plan accepts a finding that was not made.

Why it matters: either what was accepted is put right and the acceptance is no longer needed, or
it is misspelt. Left in the plan, it would sign away the next finding of that kind, which nobody
has looked at.

How to put it right: compare finding, product and zone of the [[accept]] with the list of findings
in the report. Correct them, or take the [[accept]] out. A plan that was copied by hand may still
hold those of the last field; vrx new --from leaves them out.

Source: docs/decisions/overlays-and-layers.md.
""",
    "backdrop-unreadable": """\
The picture or layer that should lie faintly behind the maps could not be used, and was left out.

Why it matters: the maps on paper have nothing behind them to find one's way by. The files for the
machine are the same with it and without.

How to put it right: the message says what is wrong with it: it is not there, damaged, says no map
coordinates (CRS), or shows nothing of this field. Give another file with backdrop in [field], or
take the key out. Then run vrx build again: vrx report draws from what the bundle holds, and reads
no backdrop anew.

Source: common practice, no source.
""",
    "earlier-bundle": """\
This build was stopped, and the bundle of an earlier one still lies in its place.

Why it matters: its maps can be loaded, and they are of the plan as it was then: perhaps without
today's keep-out, with other rates or another product. Who looks into the folder does not see that
the new build wrote nothing there.

How to put it right: take no file of it to the machine, unless that earlier build is meant. Settle
what stopped this build, and run vrx build again with --force, which replaces the old bundle. If
an earlier map is on a stick already, vrx copy with --remove-older takes it off once the new one
is there.

Source: common practice, no source.
""",
    "name-shortened": """\
A column of the map is written under a shorter or plainer name than the plan gives it.

Why it matters: the operator who picks the column on the display looks for a name that is not
there. With a column for each product, the wrong product's rates are picked easily.

How to put it right: choose on the display the name that the message gives; the papers have it
too. Or give a short name of plain letters and digits with rate_column of [receiver], shorter
names to the products, or a map for each product with files = "one a product", and run vrx build
again.

Source: common practice, no source, for the ten characters that the table of a shapefile holds.
""",
    "report-not-written": """\
The build was stopped, and the report that says why could not be written.

Why it matters: what stopped the build is said on the screen alone, and nothing is on paper for
whoever has to put it right. A report of an earlier stopped build may lie there still.

How to put it right: the message says what is in the way: files that are not of a build, no room,
no right to write. Clear it, or name another folder with --out, and run vrx build again. The other
findings matter more: once they are settled, the bundle has its report.

Source: common practice, no source.
""",
}
