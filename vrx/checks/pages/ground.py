"""Pages about the ground of a plan: borders, keep-outs, overlays, the part to treat."""

from __future__ import annotations

from typing import Final

PAGES: Final[dict[str, str]] = {
    "borders-simplified": """\
Borders between zones were drawn with fewer corners, so that the receiver can load the map.

Why it matters: ground along these borders changed from one rate to another, while the boundary,
keep-outs, overlays and ground at rate 0 keep their shape. It is a note, and a caution where a
zone gains or loses more than 0.5 % of its area.

How to put it right: look up how many corners (vertices) of a polygon the display loads. If it
loads more, raise most_vertices of [receiver] and run vrx build again. If not, look on the map
whether the zone in the message can bear it, or have the zones drawn with fewer corners.

Source: common practice, no source.
""",
    "grid-elsewhere": """\
The map sheet that the plan measures grid areas on is made for another place than the field's.

Why it matters: areas on it are distorted and agree with nobody's. Amounts, orders and rates do
not depend on it, since they go by the true ground; whoever compares the grid acres or hectares
with an office's figure is misled.

How to put it right: set grid_crs in the plan to the sheet that your office uses for this place,
or leave it at "auto" for the field's UTM zone. Then run vrx build again.

Source: docs/decisions/geodesic-area.md.
""",
    "keep-out-empty": """\
A keep-out of the plan holds no shape, so nothing would be kept out.

Why it matters: somebody meant ground to get nothing, such as a well or a waterway, and with an
empty file the product goes there. So it stops the build, and it can't be accepted.

How to put it right: open the file that where in [[keep_out]] names. If the shape is in another
file or layer, name that with where or layer. If it was never drawn, draw it. If there is nothing
to keep out, take the [[keep_out]] out of the plan. What has to be kept free, the label and local
rules say.

Source: docs/decisions/overlays-and-layers.md.
""",
    "keep-out-not-off": """\
A product that can't be shut off meets ground of the field that it must not go onto.

Why it matters: the map would say 0 where the machine goes on putting out, so this stops the
build, and it can't be accepted. Ground beside the part to treat counts as a keep-out too.

How to put it right: first look whether the machine can shut this product off after all; then say
off_allowed = true in its [[product]]. Where it can't, lift it or drive around, and take that
ground out of the boundary file, so that the map does not cover it. A keep-out that is not meant
for this product names those that it is for with products. What may go where, the label and local
rules say.

Source: docs/decisions/overlays-and-layers.md; common practice, no source, for lifting the
machine.
""",
    "keep-out-outside": """\
A keep-out of the plan does not reach into the field, even with its set-back, and takes nothing
away.

Why it matters: beside the field that may be meant, as for a pond whose set-back ends before the
boundary: then it is a note. It is a caution where it lies farther off than its set-back and the
longer side of the field together: then it is likely the wrong file or the wrong map coordinates,
and the ground that should be kept free gets product.

How to put it right: compare the distance in the message with what you know of the place. If it is
far, check file and map coordinates (where and crs in [[keep_out]]). If it is near, check
set_back. A plan that was copied by hand may still name the last field's keep-outs; vrx new --from
leaves them out.

Source: common practice, no source.
""",
    "nothing-to-treat": """\
Keep-outs cover the whole field for a product, and its map says 0 everywhere.

Why it matters: a machine with this map drives the whole field and puts out nothing of that
product. A set-back in the wrong unit does this, or a keep-out that is drawn around the field and
not within it.

How to put it right: look at set_back and the file of each [[keep_out]] that binds the product,
and at part in [field]. Where a keep-out is meant for other products only, name those with
products. If the product is not to go onto this field, take its [[product]] and [[rate]] out of
the plan.

Source: common practice, no source.
""",
    "overlay-outside": """\
An overlay changes nothing: it does not reach into the field, or lies only where its products do
not go, or is too small to draw.

Why it matters: whoever drew it wanted another rate on that ground, and the map does not have it.

How to put it right: look at where in the [[overlay]], and whether its file and map coordinates
(crs) are right. Then look at its products, and whether keep-outs or the part to treat take all of
its ground. If it is of no use, take it out of the plan. A plan that was copied by hand may still
name the last field's overlays; vrx new --from leaves them out.

Source: docs/decisions/overlays-and-layers.md.
""",
    "overlay-swallows": """\
An overlay of laps, or of a distance from the edge, covers the whole field and leaves no ground
within.

Why it matters: its rate, or its change of the zones' rates, then holds everywhere, and not along
the edge alone. On a narrow field, or with a width or distance in the wrong unit, this happens
unseen.

How to put it right: look at where in the [[overlay]] and at width in [machine]. Take fewer laps
or a smaller distance. If the whole field is meant, give the rate to the zones and take the
overlay out.

Source: docs/decisions/overlays-and-layers.md.
""",
    "overlay-without-polygons": """\
The file of an overlay, or of the part to treat, holds no polygon and so covers no ground.

Why it matters: points and lines have no ground of their own. The overlay changes nothing; a part
without ground stops the build, and is told as part-empty too.

How to put it right: draw the ground as closed polygons, or name the file or layer that holds
them. Ground along the edge of the field needs no file: write where = "headland 2 laps" or a
distance from the edge in the [[overlay]].

Source: docs/decisions/overlays-and-layers.md.
""",
    "overlays-contradict": """\
Two overlays give one product different rates on the same ground, and the later one in the plan
holds.

Why it matters: one of two people gets another rate than they asked for, and nothing on the map
shows it.

How to put it right: decide which one should hold there, and put it last in the plan. Or draw them
so that they do not meet. Then run vrx build again.

Source: docs/decisions/overlays-and-layers.md.
""",
    "part-empty": """\
The part of the field that should be treated covers nothing of it.

Why it matters: all ground would be kept out, and the map would say 0 everywhere. So it stops the
build, and it can't be accepted.

How to put it right: look at the file that part in [field] names, and at the map coordinates (CRS)
that it says: is it this field's, and does it hold polygons? If the whole field is to be treated,
take part out of the plan. Then run vrx build again.

Source: docs/decisions/overlays-and-layers.md.
""",
}
