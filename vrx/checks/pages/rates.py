"""Pages about rates: where they come from, what changed them, and in which unit they are written."""

from __future__ import annotations

from typing import Final

PAGES: Final[dict[str, str]] = {
    "default-not-said": """\
Ground in the field has no zone, and the product that goes there has no default rate of its own.

Why it matters: the product is shut off there; one that can't be shut off gets its lowest rate.
Nobody chose either.

How to put it right: look on the map where that ground lies. Draw a zone there, or say default in
the [[product]]: a rate, or 0 where nothing is to go on. Then run vrx build again.

Source: common practice, no source.
""",
    "limits-move-total": """\
Limits and steps together change a product's total by more than 1 % of what was wanted.

Why it matters: whoever worked out the rates reckoned with another amount. If more goes on, the
product may run out before the field is done; if less, the crop gets less than was wanted for it.

How to put it right: look in the report at the rates that were raised, lowered and rounded. Ask
whoever asked for them whether that is all right. If min, max, step or rounding of the [[product]]
are not those of the label and the machine, correct them and run vrx build again; a maximum on the
label is not to be raised.

Source: docs/decisions/step-numbers.md; common practice, no source, for the share.
""",
    "parts-joined": """\
Parts of the map that are too small or too narrow for the machine took the rate of a neighbour.

Why it matters: a machine can't change its rate in time on such parts, so the map now says what it
can do; the message tells how much ground and product this moved. Ground at rate 0, keep-outs and
overlays are never joined, and take nothing in.

How to put it right: nothing is to be done where the parts are of no use of their own. Where one
is (a check strip, a wet spot), draw it as an [[overlay]], which stays as drawn; or set
smallest_area and thin_parts = "report" in the plan. Narrow is measured by the spans of the drives
in [machine], else by its width: check that they are right.

Source: common practice, no source.
""",
    "rate-formula-failed": """\
The formula of a product gives no rate in some zones: it divides by zero there, or takes a root of
a number below 0, say, or comes out beyond any rate.

Why it matters: without a rate nobody knows what should go there. It is a stop where no_data of
the [[rate]] is "refuse", or is "off" for a product that can't be shut off; otherwise it is a
caution, and the zones get the default rate or nothing, as the plan says.

How to put it right: look at the numbers of the zones in the message. Correct them in the zone
layer if they are wrong, or change the formula so that it fits them, as with "A if CONDITION else
B". Or say with no_data what such zones get. A stop of this kind can't be accepted.

Source: docs/decisions/formulas.md.
""",
    "rate-unit-written": """\
The map writes a product's rates in another unit than the one in which the machine steps.

Why it matters: the number on the display is not the number of the label or of the plan. A display
that is set to another unit than the map puts on a multiple of what was meant, or a fraction.

How to put it right: set the display to the unit that the message names, and compare one of the
pairs of rates in it with what the display shows before the first pass. To have rates in the
machine's own unit, take unit out of [receiver] and run vrx build again.

Source: SP811, conversion factors; docs/decisions/step-numbers.md.
""",
    "rate-unmatched": """\
A table gives rates for zones that the zone layer does not have.

Why it matters: the names do not fit together. The rate of a misspelt zone goes nowhere, and the
zone that was meant has none; or the table was made for another field.

How to put it right: compare the names in the message, letter by letter. Correct them in the
table, take out those that belong to another field, or say with name in [zones] which field of the
layer holds the names that the table uses. Then run vrx build again.

Source: common practice, no source.
""",
    "swap-nutrients": """\
A product that was put in another one's place brings other amounts of nutrients at the same wanted
rates.

Why it matters: a rate of product stays as it is when the product is swapped, so the crop gets
more or less of a nutrient than was planned. It is told before steps and limits, with both
amounts, or why they can't be worked out.

How to put it right: ask whoever planned the nutrients. To keep the nutrient, let the plan want
it, in a unit such as lb N/ac: its rate is then worked out anew for each product. Or give new
rates with --set at vrx build. If an analysis is missing or wrong, correct it in the [[product]]
by the label; vrx product add asks for it when a new product goes into the shared file.

Source: docs/decisions/last-minute-changes.md.
""",
}
