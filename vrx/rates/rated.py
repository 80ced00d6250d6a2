"""One product on the pieces of a zone map: settled, limited, joined, and everything that changed said."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vrx.dosing.amounts import amount_per_m2
from vrx.dosing.limits import REFUSED, Dosed, Limit, apply_limits, reason_text
from vrx.geo.borders import Borders
from vrx.model.finding import Finding, Severity
from vrx.model.plan import NoData, Plan
from vrx.model.prescription import ProductMap
from vrx.model.product import Product
from vrx.model.zone_map import ZoneMap
from vrx.rates.join import Joined, join_parts
from vrx.rates.missing import missing_findings
from vrx.rates.overlays import lay_over
from vrx.rates.places import ground_text, place_of
from vrx.rates.settle import Settled, settle
from vrx.rates.wanted import Wanted
from vrx.units import amount_text, area_text, number_text, rate_number_text
from vrx.words import some

# A change of the total, or ground raised to the minimum, beyond this share is a caution.
_NOTABLE_SHARE = 0.01
# Seed rates apart by about this factor are written in seeds in one place and in thousands of seeds in another.
_THOUSAND = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rated:
    """A product's map, and what there is to say about it."""

    map: ProductMap
    findings: tuple[Finding, ...]


def rate_product(
    zone_map: ZoneMap, borders: Borders, wanted: Wanted, product: Product, plan: Plan, *, no_data: NoData
) -> Rated:
    """Bring a product from wanted rates to the rates that are given.

    Parameters
    ----------
    borders : Borders
        Of the zone map's pieces.
    wanted : Wanted
        On the polygons of the zone layer.
    """
    drawn = settle(zone_map, wanted.rates, product, rule=plan.overlaps, no_data=no_data)
    share = plan.share_of_width(product.name)
    over = lay_over(zone_map, drawn, product, plan.overlay, no_data=no_data, share=share)
    settled = replace(drawn, wanted=over.wanted, zones=over.zones, gap=over.gap)
    treated = zone_map.treated(product.name)
    dosed = apply_limits(settled.wanted, product, no_data=no_data)
    limited = np.where(settled.gap, product.number_where("default"), dosed.numbers)
    joined = join_parts(
        zone_map,
        borders,
        limited,
        product,
        pinned=over.pinned,
        zones=over.zones,
        smallest_m2=plan.smallest_area,
        narrowest_m=plan.machine.narrowest_m(product.name),
        join=plan.thin_parts == "join",
        share=share,
    )
    # Where the map has no say, the default is what is wanted.
    known = np.where(settled.gap, float(product.rate_of(product.number_where("default"))), settled.wanted)
    found = ProductMap(
        product=product,
        treated=treated,
        zones=settled.zones,
        inputs=tuple(map((*wanted.inputs, "").__getitem__, settled.source.tolist())),
        values=np.append(wanted.values, np.nan)[settled.source],
        overlay_steps=over.steps,
        pinned=over.pinned,
        wanted=known,
        limited=limited,
        numbers=np.where(treated, joined.numbers, 0),
        why=_reasons(settled, dosed, limited, joined, product),
        sums=wanted.sums,
        worked=tuple(map((*wanted.worked, "").__getitem__, settled.source.tolist())) if wanted.worked else (),
        overlays=over.effects,
        share=share,
    )
    findings = (
        *_sum_findings(wanted, product),
        *settled.findings,
        *missing_findings(
            zone_map,
            wanted,
            ~np.isfinite(settled.wanted) & ~settled.gap,
            product,
            no_data,
            replaced=over.own,
        ),
        *_gap_findings(zone_map, settled, treated, product),
        *_limit_findings(found, dosed, zone_map),
        *_unit_findings(found, zone_map),
        *joined.findings,
        *_keep_out_findings(zone_map, treated, product),
    )
    return Rated(map=found, findings=findings)


def _reasons(
    settled: Settled, dosed: Dosed, limited: NDArray[np.int64], joined: Joined, product: Product
) -> tuple[str, ...]:
    """Say for every piece what changed its rate."""
    known: dict[tuple[int, int, float, int], str] = {}
    reasons = []
    for piece, key in enumerate(
        zip(dosed.limit.tolist(), dosed.snap.tolist(), settled.wanted.tolist(), limited.tolist(), strict=True)
    ):
        if settled.gap[piece]:
            said = ["no zone here: the default rate"]
        else:
            if key not in known:
                known[key] = reason_text(*key, product)
            said = [settled.notes.get(piece, ""), known[key]]
        if joined.joined[piece]:
            rate = product.rate_text(int(joined.numbers[piece]))
            said.append(f"too small or narrow a part: joined to its neighbour at {rate}")
        reasons.append("; ".join(one for one in said if one))
    return tuple(reasons)


def _sum_findings(wanted: Wanted, product: Product) -> list[Finding]:
    """Show how wanted rates became rates of product, so that a person can do one by hand."""
    if not wanted.sums:
        return []
    message = f"{product.name}: {'; '.join(wanted.sums)}"
    return [Finding(id="rates-converted", severity="note", message=message, product=product.name)]


def _gap_findings(zone_map: ZoneMap, settled: Settled, treated: NDArray[np.bool_], product: Product) -> list[Finding]:
    bare = np.flatnonzero(settled.gap & treated)
    if not len(bare) or product.default is not None:
        return []
    area = float(zone_map.area_m2[bare].sum())
    rate = product.rate_text(product.number_where("default"))
    size = area_text(area, zone_map.ground.dialect)
    return [
        Finding(
            id="default-not-said",
            severity="caution",
            message=f"{product.name} gets {rate} on {size} that no zone covers: it has no default rate.",
            remedy="Give the product a default, or draw a zone there.",
            area_m2=area,
            where=place_of(zone_map, bare.tolist()),
            product=product.name,
        )
    ]


_CHANGES: dict[Limit, tuple[str, str]] = {
    Limit.RAISED: ("rate-below-min", "below the minimum, raised"),
    Limit.HALF_OFF: ("rate-below-min", "below half of the minimum, shut off"),
    Limit.BELOW_OFF: ("rate-below-min", "below the minimum, shut off"),
    Limit.BELOW_REFUSED: ("rate-below-min", "below the minimum, which the plan refuses"),
    Limit.LOWERED: ("rate-above-max", "above the maximum, lowered"),
    Limit.ABOVE_REFUSED: ("rate-above-max", "above the maximum, which the plan refuses"),
    Limit.NEGATIVE_TO_OFF: ("rate-negative", "below 0, no need, shut off"),
    Limit.ZERO_REFUSED: ("rate-zero", "wanted at 0 or less, and it can't be shut off"),
}


def _limit_findings(found: ProductMap, dosed: Dosed, zone_map: ZoneMap) -> list[Finding]:
    """Say what limits and steps changed, one finding a kind of change, and whether it moves the total."""
    product, treated = found.product, found.treated
    ground = float(zone_map.area_m2[treated].sum())
    step = float(product.step.value)
    per_m2 = float(amount_per_m2(product.unit) * found.share)
    numbers, at = np.unique(found.limited, return_inverse=True)
    given = np.array([float(product.rate_of(number)) for number in numbers.tolist()])[at]
    # What is refused has no rate yet, and a missing one is neither a saving nor a cost.
    settled_rate = np.isfinite(found.wanted) & ~dosed.refused
    # Below 0 is no need, and takes nothing off what other zones need.
    needed = np.maximum(found.wanted, 0.0)
    change = np.where(settled_rate, (given - needed) * zone_map.area_m2 * per_m2, 0.0)
    findings = []
    for limit, (name, words) in _CHANGES.items():
        pieces = np.flatnonzero((dosed.limit == limit) & treated)
        if not len(pieces):
            continue
        area = float(zone_map.area_m2[pieces].sum())
        size = ground_text(area, found.share, zone_map.ground.dialect)
        moved = float(change[pieces].sum())
        severity: Severity = "note"
        if limit in REFUSED:
            severity = "stop"
        elif limit == Limit.RAISED and area > _NOTABLE_SHARE * ground:
            severity = "caution"
        findings.append(
            Finding(
                id=name,
                severity=severity,
                message=(
                    f"{product.name} {words}, on {size}: {_zones_wanting(pieces, found)}."
                    if limit in REFUSED
                    else f"{product.name} {words}, on {size}: {_zones_and_rates(pieces, found)}"
                    f"{_total_changes(moved, product)}."
                ),
                remedy=f"The product allows {product.allowed_text}. Change the wanted rates, or the product's limits.",
                area_m2=area,
                where=place_of(zone_map, pieces.tolist()),
                product=product.name,
            )
        )
    total = float(np.where(treated & settled_rate, needed * zone_map.area_m2 * per_m2, 0.0).sum())
    moved = float(change[treated].sum())
    if abs(moved) > _NOTABLE_SHARE * abs(total) and abs(moved) > 1e-9 * step:
        findings.append(
            Finding(
                id="limits-move-total",
                severity="caution",
                message=(
                    f"Limits and steps change the total of {product.name} by {amount_text(moved, sign=True)} "
                    f"{product.unit.amount}: from {amount_text(total)} wanted to {amount_text(total + moved)} "
                    f"{product.unit.amount} on {ground_text(ground, found.share, zone_map.ground.dialect)}."
                ),
                remedy="Look at the rates that were raised, lowered and rounded, and ask whoever asked for them.",
                area_m2=ground,
                product=product.name,
            )
        )
    return findings


def _total_changes(amount: float, product: Product) -> str:
    return f"; the total changes by {amount_text(amount, sign=True)} {product.unit.amount}" if amount else ""


def _zones_and_rates(pieces: NDArray[np.int64], found: ProductMap) -> str:
    """Return ``B wanted 18, gets 30 kg/ha; D wanted 240, gets 200 kg/ha``, at most eight of them."""
    product = found.product
    said = dict.fromkeys(
        f"{found.zones[piece]} wanted {rate_number_text(float(found.wanted[piece]))}, gets "
        f"{number_text(product.rate_of(int(found.limited[piece])))} {product.unit.name}"
        for piece in pieces.tolist()
    )
    return some(said, 8, "; ")


def _zones_wanting(pieces: NDArray[np.int64], found: ProductMap) -> str:
    """Return ``B wants 18 kg/ha; D wants 240 kg/ha``, at most eight of them."""
    said = dict.fromkeys(
        f"{found.zones[piece]} wants {rate_number_text(float(found.wanted[piece]))} {found.product.unit.name}"
        for piece in pieces.tolist()
    )
    return some(said, 8, "; ")


def _unit_findings(found: ProductMap, zone_map: ZoneMap) -> list[Finding]:
    """Notice 32 beside 32000 seeds: rates that fit only when they count thousands, or single seeds."""
    product = found.product
    if product.unit.kind != "count/area":
        return []
    lowest, highest = float(product.lowest), float(product.highest)
    with np.errstate(invalid="ignore"):
        few = found.treated & (found.wanted > 0) & (found.wanted < lowest)
        few &= (found.wanted * _THOUSAND >= lowest) & (found.wanted * _THOUSAND <= highest)
        many = found.treated & (found.wanted > highest)
        many &= (found.wanted / _THOUSAND >= lowest) & (found.wanted / _THOUSAND <= highest)
    findings = []
    for suspect, words, remedy in (
        (few, "1000 times as much would fit: these look like thousands of seeds",
         "If so, write their unit with thousand_seeds."),
        (many, "A thousandth would fit: these look like single seeds", "If so, write their unit with seeds."),
    ):  # fmt: skip
        pieces = np.flatnonzero(suspect)
        if len(pieces):
            findings.append(
                Finding(
                    id="rate-unit-suspect",
                    severity="caution",
                    message=f"{product.name}: {_zones_and_rates(pieces, found)}. {words}.",
                    remedy=remedy,
                    area_m2=float(zone_map.area_m2[pieces].sum()),
                    where=place_of(zone_map, pieces.tolist()),
                    product=product.name,
                )
            )
    return findings


def _keep_out_findings(zone_map: ZoneMap, treated: NDArray[np.bool_], product: Product) -> list[Finding]:
    if treated.all() or product.off_allowed:
        return []
    pieces = np.flatnonzero(~treated).tolist()
    area = float(zone_map.area_m2[pieces].sum())
    size = area_text(area, zone_map.ground.dialect)
    return [
        Finding(
            id="keep-out-not-off",
            severity="stop",
            message=f"{product.name} can't be shut off, and {size} of keep-outs lie in the field.",
            remedy="Lift the machine or drive around them, and take them out of the boundary.",
            area_m2=area,
            where=place_of(zone_map, pieces),
            product=product.name,
        )
    ]
