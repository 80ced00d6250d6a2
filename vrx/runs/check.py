"""The check: whether a map may be loaded for this field, this product and this machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from vrx.checks.catalog import RULES, SEVERITIES
from vrx.checks.reader_words import check_words
from vrx.checks.runner import run_rules, worst_first
from vrx.errors import InputError, LayerChoiceError, NoCrsError, UnitError, VrxError
from vrx.exports.manifest import sha256_of
from vrx.inputs.crs_text import given_crs
from vrx.inputs.files import MOST_BYTES, existing, file_and_name
from vrx.inputs.other_columns import area_columns, product_columns
from vrx.inputs.rate_column import file_says, record_names
from vrx.inputs.read import read_layer, read_layers
from vrx.inputs.shapefile import PARTS
from vrx.model.check import Check
from vrx.model.checked_map import BuiltAs, CheckedMap, Grouping, MapSource
from vrx.model.layer import Layer
from vrx.model.zone_map import Ground
from vrx.reports.settings import settings
from vrx.runs.accept import accepted
from vrx.runs.built_as import find_bundle, find_later
from vrx.runs.check_rates import choose_column, rates_of
from vrx.runs.check_shapes import shapes_on_ground
from vrx.runs.ground import ground_within, lay_ground
from vrx.runs.manifest import is_ours, read_manifest
from vrx.units import Dialect, parse_unit

if TYPE_CHECKING:
    from vrx.inputs.library import Library
    from vrx.model.plan import Plan
    from vrx.model.product import Product
    from vrx.runs.job import Job


# Formats whose columns have a declared kind.
_TYPED: Final = ("shp", "gpkg", "fgb", "parquet", "geoparquet", "geojson", "json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """What maps are checked against, read once for all of them.

    Attributes
    ----------
    job : Job, optional
        The plan with its boundary and keep-outs.
    boundary : Layer, optional
    ground : Ground, optional
    library : tuple of Product
        The product of a shared file that was asked for.
    asked : str
        Name of the product that was asked for; empty where none was.
    known : tuple of str
        Names of the products that plan or library has.
    """

    job: Job | None = None
    boundary: Layer | None = None
    ground: Ground | None = None
    library: tuple[Product, ...] = ()
    asked: str = ""
    known: tuple[str, ...] = ()
    dialect: Dialect = field(default_factory=Dialect)

    @property
    def plan(self) -> Plan | None:
        """The plan, where there is one."""
        return None if self.job is None else self.job.plan

    @property
    def the_plan(self) -> Plan:
        """The plan, where there has to be one."""
        if self.plan is None:
            raise ValueError("there is no plan")
        return self.plan

    @property
    def the_ground(self) -> Ground:
        """The field on the ground, where there has to be one."""
        if self.ground is None:
            raise ValueError("there is no boundary")
        return self.ground

    def product(self, name: str) -> Product | None:
        """Return the product of a name, or None."""
        there = self.library if self.plan is None else (*self.library, *self.plan.rated)
        return next((one for one in there if one.name == name), None)


def check(
    maps: Sequence[Path | str],
    *,
    plan: Path | str | None = None,
    product: str = "",
    boundary: Path | str | None = None,
    column: str = "",
    unit: str = "",
    crs: str = "",
    layer: str = "",
    decimal: str = ".",
    groups: str = "",
) -> Check:
    """Check a map that is to be loaded, made by anyone, against all that is known.

    Parameters
    ----------
    maps : sequence of path
        The file of the map; several files are taken together as one map.
    plan : path, optional
        The plan of the pass: its field, products, machine and receiver.
    product : str
        A product of the plan by name, or ``FILE#NAME`` of a file of shared products.
    boundary : path, optional
        The field's boundary, where no plan names it.
    column, unit : str
        The column of the rates and their unit, where the map does not say.
    crs, layer, decimal : str
        As of :func:`vrx.inputs.read.read_layer` and :func:`vrx.inputs.cells.read_numbers`.
    groups : str
        Which drives the machine runs at one rate: ``left+right, cart``.

    Raises
    ------
    VrxError
        The call can't be used: no such file, plan, column or unit. What is wrong with the map itself is found.
    """
    against = read_against(plan=plan, product=product, boundary=boundary)
    return check_map(
        maps, against, column=column, unit=unit, crs=crs, layer=layer, decimal=decimal, grouping=read_groups(groups)
    )


def read_against(
    *,
    plan: Path | str | None = None,
    product: str = "",
    boundary: Path | str | None = None,
    stand_ins: Sequence[Mapping[str, Any]] = (),
) -> Against:
    """Read what maps are to be checked against.

    Parameters
    ----------
    plan, product, boundary
        As of :func:`check`.
    stand_ins : sequence of mapping
        Products that stand in for those that nobody has described: see
        :func:`vrx.inputs.missing_products.missing_products`.

    Raises
    ------
    VrxError
        Something that was named can't be read.
    """
    job = None if plan is None else _job(Path(plan), stand_ins)
    file, name = file_and_name(product)
    library = _library(Path(file), name) if file else None
    dialect = job.plan.dialect if job is not None else library.dialect if library is not None else Dialect()
    outline = None if boundary is None else read_layer(Path(boundary))
    if job is not None and outline is not None:
        job = replace(job, boundary=outline)  # the plan's keep-outs hold within it too
    if job is not None:
        ground: Ground | None = lay_ground(job).ground
        outline = job.boundary
    else:
        ground = None if outline is None else ground_within(outline, dialect)
    planned = () if job is None else tuple(one.name for one in job.plan.rated)
    return Against(
        job=job,
        boundary=outline,
        ground=ground,
        library=() if library is None or library.product is None else (library.product,),
        asked=name,
        known=(*planned, *(() if library is None else library.names)),
        dialect=dialect,
    )


def _job(plan: Path, stand_ins: Sequence[Mapping[str, Any]]) -> Job:
    from vrx.runs.job import read_job  # noqa: PLC0415 - the models of plans are slow to load, and many maps have none

    return read_job(plan, ground_alone=True, stand_ins=stand_ins)


def _library(file: Path, name: str) -> Library:
    from vrx.inputs.library import read_library  # noqa: PLC0415

    return read_library(file, name)


def check_map(
    maps: Sequence[Path | str],
    against: Against,
    *,
    column: str = "",
    unit: str = "",
    crs: str = "",
    layer: str = "",
    decimal: str = ".",
    grouping: Grouping | None = None,
) -> Check:
    """Check one map against what was read; parameters as of :func:`check`."""
    on = look_at(maps, against, column=column, unit=unit, crs=crs, layer=layer, decimal=decimal, grouping=grouping)
    return judge(on)


def judge(on: CheckedMap) -> Check:
    """Let every rule look at a map, and turn what the plan accepts into notes."""
    found = run_rules(on, RULES, SEVERITIES)
    if on.plan is None or not on.plan.accept:
        return found
    # What nobody finds here may well be found by the build.
    signed = (one for one in accepted(found.findings, on.plan) if one.id != "accept-unmatched")
    return replace(found, findings=worst_first(signed))


def look_at(
    maps: Sequence[Path | str],
    against: Against,
    *,
    column: str = "",
    unit: str = "",
    crs: str = "",
    layer: str = "",
    decimal: str = ".",
    grouping: Grouping | None = None,
) -> CheckedMap:
    """Read and measure a map, and hold it beside what it is checked against."""
    paths = [Path(one) for one in maps]
    for path in paths:
        existing(path)
        _no_other_thing(path)
    _crs_is_one(crs)
    source = _source(paths)
    job = against.job
    plan_file = None if job is None else job.file.path
    built_as = find_bundle(source, paths[0], plan=plan_file)
    base = CheckedMap(
        source=source,
        built_as=built_as,
        superseded_by=find_later(source, built_as, paths[0], plan=plan_file),
        plan=against.plan,
        plan_name="" if plan_file is None else plan_file.name,
        products_known=against.known,
        product_asked=against.asked,
        product=against.product(against.asked),
        ground=against.ground,
        grouping=grouping,
        dialect=_dialect(against, unit, built_as),
    )
    try:
        read = read_layers(paths, crs=crs, layer=layer)
    except VrxError as err:
        if _is_of_the_call(err):
            one = err.each[0]
            raise LayerChoiceError(check_words(one.problem), remedy=check_words(one.remedy), where=one.where) from err
        return replace(base, failures=err.each)
    chosen = choose_column(
        read, said=column, decimal=decimal, built_as=built_as, plan=against.plan, product=against.asked
    )
    says = file_says(read)
    name = against.asked or _product_meant(chosen.name, built_as, says, against)
    product = against.product(name)
    try:
        shapes = shapes_on_ground(read, against.ground, against.boundary, product=name)
    except VrxError as err:
        return replace(base, failures=err.each)
    rates = rates_of(
        read,
        chosen,
        unit=unit,
        decimal=decimal,
        built_as=built_as,
        plan=against.plan,
        product=product,
        dialect=base.dialect,
    )
    return replace(
        base,
        crs_said=crs if crs and _says_no_crs(paths, layer) else "",
        column_kind=_declared_kind(read, chosen.name, source.format),
        layer=read,
        shapes=shapes,
        names=record_names(read),
        candidates=chosen.candidates,
        rates=rates,
        file_says=says,
        product_asked=name,
        product=product,
        settings={} if product is None else {fact.label: fact.value for fact in settings(product)},
        stated_areas=area_columns(read, decimal=decimal),
        by_product=product_columns(read, {} if built_as is None else built_as.products, against.known, decimal=decimal),
    )


def read_groups(text: str) -> Grouping | None:
    """Read which drives run at one rate: groups parted by commas, the drives of one joined by ``+``.

    Raises
    ------
    InputError
        A drive is named twice, or a name is empty.
    """
    if not text.strip():
        return None
    groups = [[name.strip() for name in group.split("+")] for group in text.split(",")]
    names = [name for group in groups for name in group]
    if "" in names or len(set(names)) != len(names):
        raise InputError(
            f"{text!r} does not tell which drives run as one group.",
            remedy="Name each drive once: + between drives of a group, a comma between groups, as left+right, cart.",
            where="--groups",
        )
    return frozenset(frozenset(group) for group in groups)


def _source(paths: Sequence[Path]) -> MapSource:
    sha256 = {}
    for path in paths:
        if path.is_file():
            for file in (path, *_parts(path)):
                with suppress(OSError, InputError):  # the reader says what is wrong with it
                    if file.stat().st_size <= MOST_BYTES:  # no map that was built is larger
                        sha256[file.name] = sha256_of(file)
    first = paths[0]
    return MapSource(
        name=" + ".join(path.name or str(path) for path in paths),
        stem=first.stem,
        format=first.suffix.lower().removeprefix("."),
        sha256=sha256,
    )


def _parts(path: Path) -> list[Path]:
    if path.suffix.lower() != ".shp":
        return []
    beside = (path.with_suffix(ending) for ending in PARTS[1:])
    return [one for one in beside if one.is_file()]


def _says_no_crs(paths: Sequence[Path], layer: str) -> bool:
    """Tell whether a file does not say its own map coordinates."""
    try:
        read_layers(paths, layer=layer)
    except VrxError as err:
        return any(isinstance(one, NoCrsError) for one in err.each)
    return False


def _declared_kind(read: Layer, column: str, form: str) -> Literal["", "number", "text"]:
    """Return what a file declares a column to hold; formats of text alone declare nothing."""
    return read.columns[column].kind if column and form in _TYPED else ""


def _crs_is_one(crs: str) -> None:
    """Refuse what was said with --crs and is none, whatever the map is in."""
    if crs:
        try:
            given_crs(crs)
        except VrxError as err:
            raise InputError(err.problem, remedy="Give an EPSG code, as --crs EPSG:32614.", where="--crs") from err


def _dialect(against: Against, unit: str, built_as: BuiltAs | None) -> Dialect:
    """Return how people say areas: as plan or library does, else as the unit that was said, or that of the bundle."""
    if against.dialect.system is not None:
        return against.dialect
    if unit:
        with suppress(UnitError):
            if parse_unit(unit, Dialect("us")).per == "ac" and "gal" not in unit.replace("us_gal", ""):
                return Dialect("us")
    elif built_as is not None and any(one.endswith("/ac") for one in built_as.units.values()):
        return Dialect("us")
    return against.dialect


def _is_of_the_call(err: VrxError) -> bool:
    """Tell whether an error is about what was asked, not about what the map holds."""
    return any(isinstance(one, LayerChoiceError) for one in err.each)


def _no_other_thing(path: Path) -> None:
    """Refuse what people name for a map by mistake: a plan, or a bundle as a whole."""
    if path.suffix.lower() == ".toml":
        raise InputError(
            "This is a plan, not a map.", remedy="Name the map, and the plan with --plan.", where=str(path)
        )
    if path.is_dir() and is_ours(read_manifest(path)):
        raise InputError(
            "This is a bundle, not a map.",
            remedy=f"Name one of the maps in {path / 'machine'}; vrx ready PLAN checks all of them.",
            where=str(path),
        )


def _product_meant(column: str, built_as: BuiltAs | None, says: Mapping[str, str], against: Against) -> str:
    """Return the product that a map is for, by its bundle, by what it says, or because the plan has no other."""
    if built_as is not None and built_as.products.get(column):
        return built_as.products[column]
    if says.get("product"):
        return says["product"]
    return against.known[0] if len(against.known) == 1 else ""
