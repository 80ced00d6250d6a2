"""Contents for cab cards, made by hand: invented fields, ordinary and hard ones."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

from vrx.model.content import AreaLine, Content, Fact, FindingContent, KeepOutContent, MapFile, ProductContent
from vrx.model.finding import Severity

# 80 characters with accents, other alphabets and markup.
HARD_NAME = ("<b>\"Łąka & 'x'</b> Ελιά, Поле ßäöü " + "ñandú_dehesa-éçãõőřžšđ/" * 3)[:80]


def product_content(number: int = 0, **changed: Any) -> ProductContent:
    """Return a product that ordinary plans have; each number has values of its own."""
    name = f"Solution {28 + number}"
    code = f"k{number:02d}q"
    stem = f"birch-rise_2027_solution-{28 + number}_{code}"
    low = 8 + number
    plain = ProductContent(
        name=name,
        kind="liquid fertiliser",
        allowed=f"0, or {low} to 26 gal/ac in steps of 1",
        unit="gal/ac",
        amount_unit="gal",
        settings=(
            Fact(label="Unit", value="gal/ac"),
            Fact(label="Minimum", value=f"{low} gal/ac"),
            Fact(label="Maximum", value=f"{26 + number} gal/ac"),
            Fact(label="Step", value="1 gal/ac"),
            Fact(label="Default rate, where the map says nothing", value=f"{14 + number} gal/ac"),
            Fact(label="Outside the boundary", value="0 gal/ac"),
            Fact(label="No position, signal lost", value=f"{15 + number} gal/ac"),
            Fact(label="Rates to pick by hand", value=f"{12 + number}, 18 gal/ac"),
        ),
        total=f"2,{100 + number}.4 gal",
        other_units=("23,214 lb", "11.61 short ton"),
        true_area=f"118.{600 + number} ac",
        sheet_area=f"118.{500 + number} ac",
        sums="",
        rows=(),
        classes=(),
        patches=(),
        keep_outs=(),
        method=(),
        example=(),
        files=(
            MapFile(
                name=f"{stem}.shp",
                format="shapefile",
                code=code,
                sha256=hashlib.sha256(f"{stem}.shp".encode()).hexdigest(),
                beside=tuple(f"{stem}{one}" for one in (".shx", ".dbf", ".prj", ".cpg")),
            ),
            MapFile(
                name=f"{stem}.geojson",
                format="geojson",
                code=code,
                sha256=hashlib.sha256(f"{stem}.geojson".encode()).hexdigest(),
            ),
        ),
        column=f"RATE{number}",
        written_unit="gal/ac",
        written_rates=(),
        drives=("left (group all)", "right (group all)"),
    )
    return replace(plain, **changed)


def keep_out_content(number: int = 0, **changed: Any) -> KeepOutContent:
    """Return a keep-out with a name of its own."""
    plain = KeepOutContent(
        name=f"Waterway {number + 1}", binds="every product", set_back=f"{35 + number} ft", area="1.203 ac", shape=""
    )
    return replace(plain, **changed)


def finding_content(number: int, severity: Severity, title: str) -> FindingContent:
    """Return a finding without a place."""
    return FindingContent(
        number=number,
        severity=severity,
        title=title,
        message="",
        remedy="",
        id="gap",
        product="",
        zone="",
        place=None,
        shape="",
    )


def card_content(count: int = 2, **changed: Any) -> Content:
    """Return an ordinary field's content with ``count`` products; ``changed`` replaces what it says."""
    plain = Content(
        written_by="vrx 0.1.0",
        stopped=False,
        title="Birch Rise",
        facts=(
            Fact(label="Client", value="Larkspur Growers"),
            Fact(label="Farm", value="Alder Bend"),
            Fact(label="Field", value="Birch Rise"),
            Fact(label="Season", value="2027"),
            Fact(label="Crop", value="grain sorghum"),
            Fact(label="Date", value="2027-04-12"),
            Fact(label="Revision", value="2"),
            Fact(label="Prepared by", value="agronomy office"),
            Fact(label="Approved by", value="A. Reviewer"),
        ),
        notes="Stay off the terrace after rain.",
        replaces="Replaces revision 1 (k7aa).",
        paper="letter",
        area_unit="ac",
        areas=(
            AreaLine(label="Within the boundary", true="121.004 ac", sheet=""),
            AreaLine(label="Keep-outs for every product", true="2.404 ac", sheet=""),
            AreaLine(label="Ground to treat", true="118.600 ac", sheet="118.500 ac"),
        ),
        area_notes=(),
        place="",
        crs=(),
        boundary="",
        keep_outs=(keep_out_content(0), keep_out_content(1, name="house well", binds="Solution 28")),
        machine=(
            Fact(label="Machine", value="toolbar 40, 40 ft wide"),
            Fact(
                label="Group all",
                value="left: Solution 28, from 20 ft left to the centre line; "
                "right: Solution 28, from the centre line to 20 ft right",
            ),
        ),
        products=tuple(product_content(number) for number in range(count)),
        findings=(
            finding_content(1, "caution", "Wanted rates lie below the minimum"),
            finding_content(2, "note", "How wanted rates were converted"),
        ),
        cautions=(
            "Before the pass: a qualified person reviews this map; the machine's manual limits what it can do.",
            "Local nutrient rules and set-backs from water and wells hold over this map.",
        ),
        limits=(),
        inputs=(),
        outputs=(),
        reproduce=(),
    )
    return replace(plain, **changed)


def hard_content() -> Content:
    """Return everything at once: 12 products with long names, 60 keep-outs, 60 findings, 2,000 characters of notes."""
    rates = tuple(Fact(label=f"{at}.1234 gal/ac", value=f"{at * 9}.3539 L/ha") for at in range(1, 41))
    products = tuple(
        product_content(
            number,
            name=f"{number:02d} {HARD_NAME}"[:80],
            column="RATE_OF_THE_PRODUCT",
            written_unit="L/ha",
            written_rates=rates,
        )
        for number in range(12)
    )
    plain = card_content()
    severities: tuple[Severity, ...] = ("stop", "caution", "caution", "note")
    words = "Leave the ford by the old oak; the bank is soft, and the pump's hose is short. "
    return replace(
        plain,
        title=HARD_NAME,
        facts=tuple(
            replace(one, value=HARD_NAME) if one.label not in ("Date", "Revision", "Season") else one
            for one in plain.facts
        ),
        notes=(words * 30)[:1990] + "\nthe end.",
        keep_outs=tuple(
            keep_out_content(number, name=HARD_NAME if number % 7 == 0 else f"Keep-out {number}")
            for number in range(60)
        ),
        machine=(
            Fact(label="Machine", value=HARD_NAME),
            *(
                Fact(
                    label=f"Group {number}",
                    value="; ".join(f"row {row}: {HARD_NAME}, from 1 ft left to 1 ft right" for row in range(6)),
                )
                for number in range(3)
            ),
        ),
        products=products,
        findings=tuple(
            finding_content(number + 1, severities[number % 4], f"Something of kind {number % 9} is to be looked at")
            for number in range(60)
        ),
    )
