"""Pages about what else lies on a stick that maps are copied to."""

from __future__ import annotations

from typing import Final

PAGES: Final[dict[str, str]] = {
    "stick-namesake": """\
On the stick lies a map of the same field name, season and product, but of other ground.

Why it matters: its name may differ in the four characters at its end alone, and picked in the cab
for this field it has no rates here. It is left where it is, since it is likely another farm's or
field's.

How to put it right: tell the two apart by the code on the cab card. To keep them apart for good,
copy each into a folder of its own with vrx copy --folder, or give the field another name in its
plan.

Source: docs/decisions/stick-holds-maps-alone.md.
""",
    "stick-older": """\
On the stick lies another build of the same field, season and product.

Why it matters: two maps of one field stand side by side in the cab, and the one that is picked
may hold rates or keep-outs that were corrected since. Which of them is newer is known only where
the message says that the new build replaces it.

How to put it right: load the one whose code stands on the cab card. Take the other off the stick,
by hand or with vrx copy --remove-older, which does so once the new maps are in place. If both are
needed, copy each into a folder of its own with --folder.

Source: docs/decisions/stick-holds-maps-alone.md.
""",
    "stick-unreadable": """\
On the stick lies a map that is named like this field's, and it can't be read.

Why it matters: it may be an older build that was damaged, or half of one, and a display may list
it and load a part of it. Since its ground can't be seen, it is not removed, whatever vrx copy is
told.

How to put it right: look what it is, and ask whose it is. If nobody needs it, delete all its
files by hand, those of the same name with other endings too.

Source: docs/decisions/stick-holds-maps-alone.md.
""",
}
