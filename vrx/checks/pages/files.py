"""Pages about files as they are read: what was odd in them, and how it was taken."""

from __future__ import annotations

from typing import Final

PAGES: Final[dict[str, str]] = {
    "column-names": """\
Columns of a file have no name, or share one, and are read under other names.

Why it matters: where two columns bear the same name, the first one keeps it and the next one gets
a number behind it. A rate may then be taken from a column that nobody meant.

How to put it right: look in the message which place of the file got which name, and compare a few
values with the file. Name the right one in the plan (column or of in [[rate]], name in [zones]),
or have the columns named apart where the file was made.

Source: common practice, no source.
""",
    "crs-member": """\
A GeoJSON file names its map coordinates (CRS) in a way that today's standard no longer has.

Why it matters: the file is read in the CRS that it names, so the field lies where it should here.
Other programs take the same numbers for degrees, and put the field elsewhere or nowhere.

How to put it right: have it saved in WGS 84 longitude and latitude, without a crs member. Until
then, look on the map in the report whether the ground lies where it should, and pass the file on
to no other program.

Source: RFC7946, section 4.
""",
    "crs-mixed": """\
Files that make one layer together are in different map coordinates (CRS), and all were brought to
that of the first.

Why it matters: that is right as long as each file says its own CRS truly. Where one does not, its
ground is shifted against its neighbours: gaps and overlaps run along the line where the files
meet, or a part of the field lies elsewhere.

How to put it right: look on the map in the report along the lines where the files meet. Where
they do not fit, find out in which CRS each file was made, and have the wrong one saved again; crs
in the plan helps only with a file that says none.

Source: common practice, no source.
""",
    "decimal-comma": """\
A table writes its numbers with a decimal comma, and 12,5 was read as 12.5.

Why it matters: the mark is told from the numbers themselves. A comma that was no decimal mark
would put every rate of that column wrong, and they may still look like rates.

How to put it right: hold a few rates in the report against the table. Where the commas were meant
for something else, write the numbers without them. A zone layer is not guessed at: for numbers
that it holds as text with a comma, write decimal = "," in [zones].

Source: common practice, no source.
""",
    "deleted-record": """\
A shapefile still holds records that somebody deleted, and they were left out together with their
shapes.

Why it matters: a program marks a deleted record and keeps it until the file is packed. If it was
deleted by mistake its zone is missing here, and its ground gets the product's default rate or
joins a neighbour.

How to put it right: look at the record numbers in the message, and ask whoever edited the file.
If they are to stay out, have the file saved anew without them; if not, take the deletion back.
Then run vrx build again.

Source: docs/decisions/own-shapefile-reader.md.
""",
    "gpkg-log": """\
Beside a GeoPackage lies a log of changes that were not yet written into it, and they were not
read.

Why it matters: what was drawn or typed last is in that log alone. The map is made from the state
before it: a keep-out or a rate of this morning may be missing.

How to put it right: save and close the file in the program that has it open, so that the file
ending in -wal goes away or is empty. Then run vrx build or vrx check again.

Source: common practice, no source.
""",
    "hole-winding": """\
Rings of a shapefile run in the direction that means hole where they are ground, or the other way
round.

Why it matters: here a ring is a hole where it lies inside another one, whichever way it runs. A
program that goes by the direction sees ground for a hole, or a hole for ground: a pond gets
product, or a zone gets none.

How to put it right: look on the map in the report whether holes are holes. If so, nothing is to
be done here; have the file saved anew by a program that winds rings as the standard says before
it goes to another one.

Source: J-7855, the order of rings in a polygon; docs/decisions/own-shapefile-reader.md.
""",
    "index-mismatch": """\
The index of a shapefile, its .shx, does not say the same as its .shp.

Why it matters: another program that trusts the index may see other shapes than those that were
read here. Either the index is wrong and was not used, or the .shp keeps shapes that were replaced
and the index knows which ones hold; the message says which.

How to put it right: compare the zones in the report with what was drawn. Then have the shapefile
saved anew as a whole, and send all its parts from the same folder.

Source: J-7855, the index file; docs/decisions/own-shapefile-reader.md.
""",
    "kml-link": """\
A KML file links to something that does not lie in it, and that was not fetched.

Why it matters: zones or keep-outs that are behind the link are missing here, though another
program shows them as if they were in the file. Only the first such link is named.

How to put it right: open the file where it shows everything, and save what is behind the link as
a file of its own, or all of it as one file without links. Name that file in the plan, and run vrx
build again.

Source: KML2.3, network links.
""",
    "length-mismatch": """\
A shapefile goes on after the end that it states, and what lies there was not read.

Why it matters: a file that was copied over a longer one, or whose saving broke off, may hold
zones behind its stated end, and their ground would have no zone. A file that is shorter than it
states is refused instead.

How to put it right: compare the number of records with the program that made the file. Have it
saved anew and sent again, with all its parts from the same folder.

Source: J-7855, the length in the header of the main file.
""",
    "raster-no-data": """\
A raster holds numbers that are used by custom for missing data, and does not say that they are.

Why it matters: such a number taken for a rate would be far off; left out, as it is here, its
cells have no zone and get the product's default rate or join a neighbour. If it was a true value
after all, that ground lacks its rate.

How to put it right: ask where the raster was made what the number in the message stands for. Have
it declared as nodata there, or have the true values written; then run vrx build again.

Source: common practice, no source.
""",
    "raster-rotated": """\
The rows of a raster do not run along the grid of its map coordinates, and its cells were placed
turned as the file says.

Why it matters: rows that follow the crop are fine. A program that leaves the turn out puts the
same raster beside the field or across it, so two people may see different maps.

How to put it right: look on the map in the report whether the zones lie on the ground that they
are meant for. If not, have the raster saved anew, with rows along the grid.

Source: common practice, no source.
""",
    "record-count": """\
The header of a shapefile's table says another number of records than the table holds, and those
that are there were read.

Why it matters: the program that saved it did not finish its work or miscounted. Shapes and
records still match in number here, but a record that was added or removed last may not be what
its author believes.

How to put it right: compare the number of zones and their values with the program that made the
file, and have the shapefile saved anew.

Source: docs/decisions/own-shapefile-reader.md.
""",
    "separator": """\
The cells of a table are separated by another sign than a comma, and it was found by trying.

Why it matters: a wrong sign would put texts and rates into the wrong columns. The one was taken
by which most lines have as many cells as the first.

How to put it right: hold a few rates in the report against the table. If they are in wrong
columns, save the table with commas, with text that holds a comma in quotes.

Source: RFC4180, section 2; common practice, no source, for other signs than a comma.
""",
    "short-row": """\
Rows of a table have fewer cells than its header, and the missing ones count as empty.

Why it matters: where the rate is among the missing cells, the zone has none. Where a cell is
missing in the middle of a row, all cells behind it stand under the wrong header.

How to put it right: look at the lines in the message. Fill in the missing cells, or leave them
empty with their separators in place, and run vrx build again.

Source: RFC4180, section 2.
""",
    "units-row": """\
The first row below the header of a table holds units, and was taken for that and not for a
record.

Why it matters: a table of rates is read in the unit of that row where the plan says none; where
the plan says another one, the table is refused. If the row was a zone of its own after all, that
zone has no rate.

How to put it right: compare the units in the message with what was meant. Where they are wrong,
correct the row in the table; where there is doubt, say unit in the [[rate]] of the plan too, so
that the two have to agree.

Source: common practice, no source.
""",
}
