"""The content of a report: every number and sentence that people get about a build, gathered once.

Terminal, map, report and card only render it, so that they can't disagree. All of it is text, or numbers that a
renderer needs to draw; it turns into JSON and back without loss. Areas and amounts are in the plan's own units.
Shapes are WKT in the field's local metres, east and north, simplified for drawing: nothing is measured on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from vrx.model.finding import Severity

CHANGED: Final = "Changed for this build"
"""The label of the fact that tells what was changed in the plan for one build alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A thing and its value: ``Crop``, ``spring canola``."""

    label: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaLine:
    """An area measured in both ways; ``sheet`` is empty where only the true one counts."""

    label: str
    true: str
    sheet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutContent:
    """A keep-out, its set-back included.

    Attributes
    ----------
    binds : str
        The products that may not go there, in words.
    shape : str
        WKT of a polygon or multipolygon.
    """

    name: str
    binds: str
    set_back: str
    area: str
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowContent:
    """A line of a product's ledger: one zone, one wanted rate, one given rate, one reason.

    Attributes
    ----------
    inputs : str
        What the wanted rate was worked out from, such as ``cec_meq 25.2``.
    wanted, limited, given : str
        Rates in the product's unit, without the unit: wanted, after limits and steps, after joining small parts.
    why : str
        What changed the rate; empty where nothing did.
    true_area, sheet_area, amount : str
        In ``area_unit`` of the content and ``amount_unit`` of the product.
    rate_class : int
        Which of the product's rate classes the given rate is in.
    cost : str
        What the amount costs, in the product's currency; empty where there is no price.
    """

    zone: str
    inputs: str
    wanted: str
    limited: str
    given: str
    why: str
    true_area: str
    sheet_area: str
    amount: str
    rate_class: int
    cost: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayLine:
    """What an overlay covers and changes: ``x 0.8`` on so much ground, and the change of the wanted total."""

    name: str
    what: str
    area: str
    amount: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RateClass:
    """A rate, or where there are too many a span of rates, with what it comes to.

    Attributes
    ----------
    rate : str
        ``170`` or ``8 to 9.5``, in the product's unit.
    shade : float
        From 0 for the lowest to 1 for the highest; -1 where the product is off.
    """

    rate: str
    shade: float
    area: str
    share: str
    amount: str
    cost: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """A line of an order: ``On the map``, ``Overlap of passes (4 %)``, ``Whole packages``, ``To have``.

    ``amount`` is in the product's ``amount_unit``, ``cost`` in its ``currency``, or empty where there is no price.
    """

    label: str
    amount: str
    cost: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FillContent:
    """Loads alike: their numbers, to where each box is filled, what they put out, and the ground that each covers."""

    load: str
    fill_to: tuple[str, ...]
    puts_out: str
    covers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadsContent:
    """Loads of a product.

    Attributes
    ----------
    summary : str
        ``3 whole loads of 960.0 gal and a last part load of 60.0 gal``.
    boxes : tuple of str
        What ``fill_to`` of the fills means: ``Fill to``, or each box by name where there are several.
    watch : tuple of str
        What the operator has to know: how several boxes share, which is empty first, what stays in them.
    notes : tuple of str
        What the boxes hold and keep, and what the covered ground rests on.
    stays, on_hand : str
        What stays in the boxes in the end, and that with what there is to have: what empty boxes need. In the product's
        ``amount_unit``; empty where nothing stays.
    """

    summary: str
    boxes: tuple[str, ...]
    fills: tuple[FillContent, ...]
    watch: tuple[str, ...]
    notes: tuple[str, ...]
    stays: str = ""
    on_hand: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A polygon of the map: ground in one piece that belongs to one row of the ledger.

    Attributes
    ----------
    area : str
        Its own true area; the row may have ground elsewhere too.
    """

    row: int
    shape: str
    area: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapFile:
    """A map for the cab.

    Attributes
    ----------
    name : str
        File name with its ending.
    code : str
        The four characters at the end of the name that stand for the contents.
    beside : tuple of str
        Files that belong to it and have to lie beside it.
    rates_sha256 : str
        Checksum of the one beside it that holds the rates, a shapefile's ``.dbf``; empty where the file itself does.
    """

    name: str
    format: str
    code: str
    sha256: str
    beside: tuple[str, ...] = ()
    rates_sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductContent:
    """One product.

    Attributes
    ----------
    kind : str
        Form and use: ``liquid fertiliser``.
    allowed : str
        ``0, or 3 to 9 gal/ac in steps of 0.5``.
    settings : tuple of Fact
        What to set on the display for it, in order: unit, minimum, maximum, step, default ...
    total : str
        Total given with its unit; ``other_units`` the same in the units in which it is bought.
    sums : str
        The line of the ledger that adds up: given = wanted, limits and steps, joining.
    method, example : tuple of str
        How its rates come about, and one zone worked through by hand, a step a sentence.
    keep_outs : tuple of int
        The keep-outs of the content that bind it.
    files : tuple of MapFile
        Where its map is; empty in a stopped build.
    column, written_unit : str
        The column of those files to choose, and the unit in which it is written.
    written_rates : tuple of Fact
        Rates in both units, where the map is written in another unit than the machine steps in.
    drives : tuple of str
        Drives that carry it, as ``left (group all)``; empty where the plan names none.
    price, currency : str
        As the plan says it, and by the product's own unit; empty where there is none.
    order : tuple of OrderLine
        Lines that add up to the last one; none where the plan names no overlap, package or price.
    order_sum : str
        The same in one line.
    loads : LoadsContent or None
        None where no box of the machine carries it.
    share, product_area : str
        Where it is on a part of the width: which, as ``50 %``, and what it gets of ``true_area``, by which amounts go.
        Empty where it is on all of the width.
    width_note : str
        The same as a sentence.
    """

    name: str
    kind: str
    allowed: str
    unit: str
    amount_unit: str
    settings: tuple[Fact, ...]
    total: str
    other_units: tuple[str, ...]
    true_area: str
    sheet_area: str
    sums: str
    rows: tuple[RowContent, ...]
    classes: tuple[RateClass, ...]
    patches: tuple[Patch, ...]
    keep_outs: tuple[int, ...]
    method: tuple[str, ...]
    example: tuple[str, ...]
    files: tuple[MapFile, ...]
    column: str
    written_unit: str
    written_rates: tuple[Fact, ...]
    overlays: tuple[OverlayLine, ...] = ()
    drives: tuple[str, ...] = ()
    price: str = ""
    currency: str = ""
    order: tuple[OrderLine, ...] = ()
    order_sum: str = ""
    loads: LoadsContent | None = None
    share: str = ""
    product_area: str = ""
    width_note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingContent:
    """A finding as people read it.

    Attributes
    ----------
    number : int
        From 1, the worst first: how text and map refer to each other.
    title : str
        The problem in plain words; ``id`` is printed small beside it.
    place : tuple of float or None
        A point in local metres where its number stands on the map.
    shape : str
        WKT of the ground concerned; empty where there is none.
    """

    number: int
    severity: Severity
    title: str
    message: str
    remedy: str
    id: str
    product: str
    zone: str
    place: tuple[float, float] | None
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitMet:
    """A limit of the receiver beside what this build needs."""

    limit: str
    allowed: str
    needed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Checksum:
    """A file and its SHA-256 in hexadecimal; the path is relative to the plan or to the bundle."""

    path: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Backdrop:
    """A picture or outlines to draw faintly behind the map.

    Attributes
    ----------
    png : str
        The picture, grey, as base64; empty where there are lines.
    lines : str
        Outlines as WKT of a multilinestring; empty where there is a picture.
    west, south, east, north : float
        Its edges in local metres.
    """

    name: str
    png: str
    lines: str = ""
    west: float
    south: float
    east: float
    north: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """All that a report says.

    Attributes
    ----------
    written_by : str
        Program and version.
    stopped : bool
        True where a finding forbids the machine files.
    title : str
        The field's name.
    facts : tuple of Fact
        Client, farm, field, season, crop, date, revision, who prepared and approved it, what was changed for this
        build alone; those that are said.
    replaces : str
        What this build supersedes, as a sentence; empty where nothing.
    paper : {"letter", "a4"}
        Sheet of paper usual where the plan's units are.
    area_unit : str
        ``ac`` or ``ha``.
    areas : tuple of AreaLine
        Boundary, keep-outs, ground to treat.
    area_notes : tuple of str
        Why the two areas differ.
    boundary : str
        WKT.
    grid : str
        The CRS of the map sheet, as ``EPSG:32611``.
    machine : tuple of Fact
        Width, and each group of drives with what it carries.
    limits : tuple of LimitMet
    reproduce : tuple of str
        How to make the same build again.
    cost : str
        What all orders cost together; empty where no product has a price.
    """

    written_by: str
    stopped: bool
    title: str
    facts: tuple[Fact, ...]
    notes: str
    replaces: str
    paper: Literal["letter", "a4"]
    area_unit: str
    areas: tuple[AreaLine, ...]
    area_notes: tuple[str, ...]
    place: str
    crs: tuple[Fact, ...]
    grid: str = ""
    boundary: str
    keep_outs: tuple[KeepOutContent, ...]
    machine: tuple[Fact, ...]
    products: tuple[ProductContent, ...]
    findings: tuple[FindingContent, ...]
    cautions: tuple[str, ...]
    limits: tuple[LimitMet, ...]
    inputs: tuple[Checksum, ...]
    outputs: tuple[Checksum, ...]
    reproduce: tuple[str, ...]
    backdrop: Backdrop | None = None
    cost: str = ""
