"""It is not known which product the map is for, or the map says another one than was asked for.

Why it matters: limits, steps and totals are those of a product. With another one's the check says
nothing.

How to put it right: name the product with --product as the plan or the file of products spells it.
Where the map says another one, take the map that was made for this product.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.words import nearest, some, visible


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    known = on.products_known
    if on.product is not None or not known:
        yield from _of_another(on)
        return
    asked, where = visible(on.product_asked), on.plan_name or "the file of products"
    listed = some(f'"{name}"' for name in known)
    if asked:
        yield Seen(
            message=f'The map is for "{asked}", and {where} has no product of that name: it has {listed}.',
            remedy=f"{nearest(on.product_asked, known)}Say it with --product, or take the map of this pass.",
            product=asked,
        )
    else:
        yield Seen(
            message=f"{where} has {len(known)} products, {listed}, and nothing says which one the map is for.",
            remedy="Say it with --product NAME.",
        )


def _of_another(on: CheckedMap) -> Iterator[Seen]:
    """Tell where bundle or map say another product than the one that was asked for."""
    built = "" if on.built_as is None or on.rates is None else on.built_as.products.get(on.rates.column, "")
    says, asked = built or on.file_says.get("product", ""), on.product_asked
    theirs, ours = _letters(says), _letters(asked)
    if not theirs or not ours or theirs == ours:
        return
    certain = bool(built) or theirs in {_letters(one) for one in on.products_known}
    # A map may well call a product by a part of its name.
    if not certain and (theirs in ours or ours in theirs):
        return
    who = f"The bundle {on.built_as.bundle}" if built and on.built_as is not None else "The map"
    yield Seen(
        severity="stop" if certain else "caution",
        message=f'{who} says that the map is for "{visible(says)}", and it was asked for "{visible(asked)}".',
        remedy=f"Take the map that was made for {visible(asked)}; or name the right product with --product.",
        product=asked,
    )


def _letters(name: str) -> str:
    return "".join(one for one in name.casefold() if one.isalnum())


RULE = Rule(id="product-unknown", looks_at="belonging", needs=("layer",), look=look)
