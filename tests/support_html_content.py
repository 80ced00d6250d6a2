"""Contents of reports, written by hand: fields of square zones whose numbers can be done in the head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from vrx.model.content import (
    AreaLine,
    Backdrop,
    Checksum,
    Content,
    Fact,
    FindingContent,
    KeepOutContent,
    LimitMet,
    MapFile,
    OverlayLine,
    Patch,
    ProductContent,
    RateClass,
    RowContent,
)

SIDE_M = 100.0
HARD_NAME = """<b>"Łąka" & 'x'</b><script>alert(1)</script> """ + "ä" * 36


def box(x0: float, y0: float, x1: float, y1: float) -> str:
    """Return a rectangle as WKT."""
    return f"POLYGON (({x0} {y0}, {x1} {y0}, {x1} {y1}, {x0} {y1}, {x0} {y0}))"


def rates(name: str, given: Sequence[str], *, columns: int = 0, unit: str = "kg/ha", **changes: Any) -> ProductContent:
    """Return a product with a square zone of one hectare a rate: what it is given, and one more is wanted."""
    columns = columns or len(given)
    distinct = sorted({float(rate) for rate in given})
    on = [rate for rate in distinct if rate > 0]
    classes = []
    for rate in distinct:
        shade = -1.0 if rate == 0 else on.index(rate) / (len(on) - 1) if len(on) > 1 else 0.5
        count = sum(float(each) == rate for each in given)
        classes.append(
            RateClass(
                rate=f"{rate:g}",
                shade=shade,
                area=f"{count:,}.000",
                share=f"{100 * count / len(given):.1f} %",
                amount=f"{count * rate:,.1f}",
            )
        )
    rows = tuple(
        RowContent(
            zone=f"zone {at}",
            inputs=f"clay {at} %",
            wanted=f"{float(rate) + 1:g}",
            limited=f"{float(rate):g}",
            given=rate,
            why=f"rounded down from {float(rate) + 1:g} kg/ha",
            true_area="1.000",
            sheet_area="0.999",
            amount=f"{float(rate):,.1f}",
            rate_class=distinct.index(float(rate)),
        )
        for at, rate in enumerate(given)
    )
    total = sum(map(float, given))
    product = ProductContent(
        name=name,
        kind="granular fertiliser",
        allowed="0, or 10 to 200 kg/ha in steps of 5",
        unit=unit,
        amount_unit="kg",
        settings=(Fact(label="Unit", value=unit), Fact(label="Step", value=f"5 {unit}")),
        total=f"{total:,.1f} kg",
        other_units=(f"{total / 1000:.3f} tonne",),
        true_area=f"{len(given):,}.000 ha",
        sheet_area=f"{len(given) * 0.999:,.3f} ha",
        sums=f"total given {total:,.1f} kg = wanted {total + len(given):,.1f}, limits and steps {-len(given):,}.0",
        rows=rows,
        classes=tuple(classes),
        patches=tuple(
            Patch(row=at, shape=box(x, y, x + SIDE_M, y + SIDE_M))
            for at in range(len(given))
            for x, y in [(SIDE_M * (at % columns), SIDE_M * (at // columns))]
        ),
        keep_outs=(),
        method=("Wanted: the field of the zone layer.", "Limits: rounded to the nearest step."),
        example=("Zone zone 0: the layer says 1.", f"Amount: {given[0]} kg/ha x 1.000 ha = {given[0]} kg."),
        files=(MapFile(name="vlei_2027_a1b2.shp", format="shapefile", code="a1b2", sha256="ab" * 32,
                       beside=("vlei_2027_a1b2.dbf", "vlei_2027_a1b2.shx")),),
        column="RATE",
        written_unit=unit,
        written_rates=(),
        overlays=(OverlayLine(name="damp end rows", what="x 0.8", area="0.512 ha", amount="-12.7 kg"),),
    )  # fmt: skip
    return replace(product, **changes)


def finding(number: int, **changes: Any) -> FindingContent:
    """Return a caution that lies nowhere, unless said."""
    made = FindingContent(
        number=number,
        severity="caution",
        title="Wanted rates lie below the minimum",
        message=f"{number} zones want less than 10 kg/ha.",
        remedy="Change the rates or the minimum.",
        id="rate-below-min",
        product="",
        zone="",
        place=None,
        shape="",
    )
    return replace(made, **changes)


def content(*products: ProductContent, size: tuple[float, float] = (300.0, 200.0), **changes: Any) -> Content:
    """Return a content of products on a rectangle of that width and height in metres."""
    made = Content(
        written_by="vrx 0",
        stopped=False,
        title="Vlei",
        facts=(Fact(label="Farm", value="Onderplaas"), Fact(label="Field", value="Vlei"),
               Fact(label="Season", value="2027"), Fact(label="Revision", value="2")),
        notes="Mind the wet corner.",
        replaces="",
        paper="a4",
        area_unit="ha",
        areas=(AreaLine(label="Within the boundary", true="6.000 ha", sheet=""),
               AreaLine(label="Ground to treat", true="6.000 ha", sheet="5.994 ha")),
        area_notes=("True ground is measured on the ellipsoid.", "The sheet is flat."),
        place="33.9000 S, 18.6000 E",
        crs=(Fact(label="Map coordinates of the files (CRS)", value="WGS 84 (EPSG:4326)"),),
        grid="EPSG:32734",
        boundary=box(0, 0, *size),
        keep_outs=(),
        machine=(Fact(label="Machine", value="drill, 12 m wide"),),
        products=products,
        findings=(),
        cautions=("The label is the law.",),
        limits=(LimitMet(limit="polygons in the file", allowed="5,000", needed="6"),),
        inputs=(Checksum(path="plan.toml", sha256="cd" * 32),),
        outputs=(Checksum(path="machine/vlei_2027_a1b2.shp", sha256="ab" * 32),),
        reproduce=("The same inputs give the same bytes: vrx build plan.toml",),
    )  # fmt: skip
    return replace(made, **changes)


def two_products() -> Content:
    """Return six zones with two products, a keep-out for one of them, and a finding of each severity but stop."""
    pond = KeepOutContent(name="pond", binds="Lime", set_back="10 m", area="0.090 ha", shape=box(120, 60, 150, 90))
    return content(
        rates("Seed", ["80", "85", "85", "0", "90", "95"], columns=3),
        rates("Lime", ["20", "20", "40", "0", "60", "60"], columns=3, keep_outs=(0,)),
        keep_outs=(pond,),
        findings=(
            finding(1, product="Lime", zone="zone 2", place=(250, 50), shape=box(200, 0, 300, 100)),
            finding(2, title="A gap", id="gap", place=(10, 190), shape=box(0, 180, 20, 200)),
            finding(3, severity="note", title="How rates were converted", id="rates-converted", remedy=""),
        ),
    )


def one_zone() -> Content:
    """Return a field of one zone with one product; nothing that may be left out is said."""
    return content(
        rates("Seed", ["80"], other_units=(), method=(), example=(), files=(), column="", written_unit=""),
        size=(100.0, 100.0), facts=(), notes="", machine=(), cautions=(), limits=(), inputs=(), outputs=(), crs=(),
        area_notes=(), reproduce=(),
    )  # fmt: skip


def many_zones(count: int = 2000, columns: int = 50) -> Content:
    """Return a field of very many zones."""
    given = [str(10 + 5 * (at * 7 % 11)) for at in range(count)]
    return content(rates("Seed", given, columns=columns), size=(SIDE_M * columns, SIDE_M * count / columns))


def long_field() -> Content:
    """Return a field 1,000 m long and 20 m wide, in ten parts."""
    product = rates("Seed", [str(80 + 5 * at) for at in range(10)])
    patches = tuple(Patch(row=at, shape=box(100 * at, 0, 100 * at + 100, 20)) for at in range(10))
    return content(replace(product, patches=patches), size=(1000.0, 20.0))


def hard_names() -> Content:
    """Return a field in which every name that comes from a file is 80 characters of markup, accents and worse."""
    product = rates(HARD_NAME, ["12.3456", "0", "7.0001"])
    rows = tuple(replace(row, zone=f"{at}{HARD_NAME}"[:80], inputs=f"{HARD_NAME} 7", why=HARD_NAME)
                 for at, row in enumerate(product.rows))  # fmt: skip
    place = box(10, 10, 20, 20)
    keep_out = KeepOutContent(name=HARD_NAME, binds=HARD_NAME, set_back="3 m", area="0.010 ha", shape=place)
    file = MapFile(name="a" * 70 + ".shp", format="shapefile", code="a1b2", sha256="ab" * 32)
    return content(
        replace(product, rows=rows, files=(file,), column=HARD_NAME, keep_outs=(0,),
                written_rates=(Fact(label=HARD_NAME, value=HARD_NAME),)),
        size=(300.0, 100.0),
        title=HARD_NAME,
        facts=(Fact(label="Field", value=HARD_NAME), Fact(label="Farm", value="\x00\x0b\ud800\u202eabc\ufffe")),
        notes=f"</main>{HARD_NAME}\r\n&amp;",
        keep_outs=(keep_out,),
        findings=(finding(1, title=HARD_NAME, message=HARD_NAME, remedy=HARD_NAME, product=HARD_NAME, zone=HARD_NAME,
                          place=(50, 50), shape=box(0, 0, 100, 100)),),
        machine=(Fact(label=HARD_NAME, value=HARD_NAME),),
        inputs=(Checksum(path=HARD_NAME, sha256="cd" * 32),),
    )  # fmt: skip


def twelve_products() -> Content:
    """Return twelve products on six zones."""
    given = ([str(10 * at + 5 * zone) for zone in range(6)] for at in range(1, 13))
    return content(*(rates(f"Product {at}", each, columns=3) for at, each in enumerate(given, start=1)))


def stopped() -> Content:
    """Return a stopped build with sixty findings and no files."""
    severities = ["stop"] * 3 + ["caution"] * 17 + ["note"] * 40
    found = tuple(
        finding(at + 1, severity=severity, place=(x, y), shape=box(x - 4, y - 5, x + 4, y + 5))
        for at, severity in enumerate(severities)
        for x, y in [(4.0 + 4.9 * at, 5.0 + 3.2 * at)]
    )
    product = rates("Seed", ["80", "85", "85", "0", "90", "95"], columns=3, files=(), column="", written_unit="")
    return content(product, stopped=True, findings=found, outputs=(), limits=())


def parts() -> Content:
    """Return a zone in several parts, one of them with a hole."""
    holed = "POLYGON ((0 0, 100 0, 100 100, 0 100, 0 0), (40 40, 40 60, 60 60, 60 40, 40 40))"
    shapes = (holed, box(200, 0, 300, 100), box(0, 120, 300, 200))
    patches = tuple(Patch(row=row, shape=shape) for row, shape in zip((0, 0, 1), shapes, strict=True))
    outline = "MULTIPOLYGON (((0 0, 100 0, 100 100, 0 100, 0 0)), ((200 0, 300 0, 300 100, 200 100, 200 0)), " \
              "((0 120, 300 120, 300 200, 0 200, 0 120)))"  # fmt: skip
    return content(replace(rates("Seed", ["80", "90"]), patches=patches), boundary=outline)


def with_backdrop() -> Content:
    """Return a field with a picture of one grey pixel behind it."""
    png = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNoAAAAggCBd81ytgAAAABJRU5ErkJggg=="
    return replace(two_products(), backdrop=Backdrop(name="soil", png=png, west=0, south=0, east=300, north=200))


CASES = {
    "two products": two_products,
    "one zone, nothing optional": one_zone,
    "2,000 zones": many_zones,
    "1,000 m long and 20 m wide": long_field,
    "hard names": hard_names,
    "12 products": twelve_products,
    "stopped, 60 findings": stopped,
    "several parts": parts,
    "backdrop": with_backdrop,
}
