"""A map that is to be loaded, read and measured, beside what it is checked against: all that a rule may ask."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.errors import VrxError
from vrx.model.layer import Layer, Numbers
from vrx.model.zone_map import Frame, Ground
from vrx.units import Dialect, Unit

if TYPE_CHECKING:  # pydantic is loaded only where a plan or product is
    from vrx.model.plan import Plan
    from vrx.model.product import Product

How = Literal["said", "bundle", "plan", "name", "only", "product", "none"]
"""Where a choice comes from: an option, the bundle that built the map, the plan, the column's name, that nothing else
is there, the product's own unit; ``none`` where nothing was chosen."""

T = TypeVar("T")
Grouping = frozenset[frozenset[str]]
"""Which drives run at one rate: groups of names of drives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapSource:
    """The file of a map.

    Attributes
    ----------
    name : str
        File name, as people are told it; several files of one map joined by `` + ``.
    stem : str
        Of the first file, without its ending.
    format : str
        The ending in lower case, without its dot: ``shp``, ``geojson``.
    sha256 : mapping of str to str
        Checksum by file name: the files themselves and the parts of a shapefile beside them.
    """

    name: str
    stem: str
    format: str
    sha256: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A column that may hold rates, with the range of its numbers, and whether its name says so."""

    name: str
    says_rate: bool
    lowest: float
    highest: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltAs:
    """What the manifest of a bundle tells about a map that it lists.

    Attributes
    ----------
    bundle : str
        The folder, as people are told it.
    by : {"checksum", "code"}
        How the map was found in it: the same bytes, or the same name with another content.
    map_name : str
        Name of the map in the manifest, without ending.
    field_name, season, crop, client, farm, revision : str
        As the plan said it then; empty where it did not.
    products, units : mapping of str to str
        Product and unit by rate column.
    changed : tuple of str
        Files of the map whose checksum is not the one of the manifest.
    unlisted : bool
        The map lies among the machine files of the bundle and is none that the build wrote.
    inputs_changed : tuple of str
        Inputs of the build, the plan among them, that were changed since.
    settings : mapping of str to mapping
        For each product what the card tells to set, by its label.
    grouping : frozenset of frozenset of str, optional
        Which drives ran at one rate; None where the manifest does not say.
    supersedes : tuple of str
        Names of the maps that the bundle replaced.
    """

    bundle: str
    by: Literal["checksum", "code"]
    map_name: str
    field_name: str = ""
    season: str = ""
    crop: str = ""
    client: str = ""
    farm: str = ""
    revision: str = ""
    products: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    changed: tuple[str, ...] = ()
    unlisted: bool = False
    inputs_changed: tuple[str, ...] = ()
    settings: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    grouping: Grouping | None = None
    supersedes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterBuild:
    """A bundle whose build replaced the map: its folder, as people are told it, and the maps for the same products."""

    bundle: str
    maps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """A shape that was broken: in the map's own CRS, with what its area was and is, in m2 of true ground."""

    index: int
    reason: str
    area_before_m2: float
    area_after_m2: float
    lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """Ground that two shapes cover, by their positions from 0, in local coordinates."""

    first: int
    second: int
    area_m2: float
    shape: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptOut:
    """Ground of a shape that lies in a keep-out: positions of both, in local coordinates."""

    keep_out: int
    index: int
    area_m2: float
    shape: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True)
class MapShapes:
    """The shapes of a map on the ground; all coordinates are local metres, lengths and areas those of true ground.

    Attributes
    ----------
    frame : Frame
        Of the field, or of the map where no field is known.
    shapes : object array, shape (n_records,)
        Valid polygons and multipolygons; None where a record holds none.
    area_m2 : float64 array, shape (n_records,)
        0 where there is no shape.
    mended : tuple of Mended
    overlaps : tuple of Overlap
        Without slivers that only rounding makes.
    covered : Polygon or MultiPolygon
        All shapes together.
    covered_m2 : float
        Each square metre once.
    bare : tuple of Polygon
        Ground that no shape covers: of the field, or where none is known, holes within the map. Keep-outs of this
        product are no bare ground. Slivers that only rounding makes are left out, as in the next two.
    beyond : tuple of Polygon
        Parts of the map outside the field; none where no field is known.
    kept_out : tuple of KeptOut
        Shapes in keep-outs, whatever their rate.
    bare_keep_outs : tuple of KeptOut
        Ground of keep-outs of this product that no shape covers; of no record, so ``index`` is -1.
    meets_field : bool
        False where no part of the map lies in the field; True where no field is known.
    """

    frame: Frame
    shapes: NDArray[np.object_]
    area_m2: NDArray[np.float64]
    mended: tuple[Mended, ...]
    overlaps: tuple[Overlap, ...]
    covered: BaseGeometry
    covered_m2: float
    bare: tuple[BaseGeometry, ...] = ()
    beyond: tuple[BaseGeometry, ...] = ()
    kept_out: tuple[KeptOut, ...] = ()
    bare_keep_outs: tuple[KeptOut, ...] = ()
    meets_field: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class MapRates:
    """The rates of a map.

    Attributes
    ----------
    column : str
    column_how, unit_how : How
        How column and unit were found.
    numbers : Numbers
        As they stand in the file, with the cells that hold none.
    decimals : int
        The most decimals that a number of the column is written with.
    unit : Unit, optional
        None where neither file nor person says one.
    per_step_unit : Fraction, optional
        One of the map's unit in the unit of the product's step; None without a product, or where the two do not
        convert.
    tolerance : float
        In the unit of the step: half of the last digit that the map is written with, where it is in another unit.
    conversion : tuple of str
        How one becomes the other, in sentences.
    incomparable : str
        Why the rates can't be held against the product; empty where they can.
    rates : float64 array, shape (n_records,)
        In the unit of the product's step, else in the map's; NaN where there is none.
    step_numbers : int64 array, shape (n_records,)
        The step number of each rate, -1 where it is no allowed one or there is none; all -1 without a product.
    """

    column: str
    column_how: How
    numbers: Numbers
    decimals: int
    unit: Unit | None
    unit_how: How
    per_step_unit: Fraction | None
    tolerance: float
    conversion: tuple[str, ...]
    incomparable: str
    rates: NDArray[np.float64]
    step_numbers: NDArray[np.int64]

    @property
    def unit_name(self) -> str:
        """The map's unit as people read it; empty where it is not known."""
        return "" if self.unit is None else self.unit.name


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedMap:
    """A map with what it is checked against; whatever is None is not known.

    Attributes
    ----------
    source : MapSource
    crs_said : str
        The map coordinates that a person said, for a file that does not say its own; empty where it does.
    column_kind : {"", "number", "text"}
        What the file declares the column of the rates to hold; empty where it declares nothing.
    failures : tuple of VrxError
        Why the map could not be read; there is no layer then.
    layer : Layer, optional
    shapes : MapShapes, optional
        None where the layer holds no polygon.
    names : tuple of str
        What the map itself calls each record, by a column that names them; empty where it has none.
    candidates : tuple of Candidate
        Columns that may hold the rates.
    rates : MapRates, optional
        None where no column is, or several are.
    built_as : BuiltAs, optional
        The bundle that the map comes from.
    superseded_by : LaterBuild, optional
        A later build that replaced the map.
    file_says : mapping of str to str
        What the map's own columns say of ``season``, ``crop``, ``product`` and ``field``, where all records agree.
    plan : Plan, optional
    plan_name : str
        The plan's file name.
    product : Product, optional
    product_asked : str
        The product that was asked for, or that the bundle names; there may be none of that name.
    products_known : tuple of str
        Names of the products that the plan or library has.
    ground : Ground, optional
        Boundary and keep-outs.
    grouping : frozenset of frozenset of str, optional
        Which drives the machine runs at one rate, as a person told it.
    settings : mapping of str to str
        What a card would tell to set for the product as it is now, by its label; empty without a product.
    stated_areas : mapping of str to float64 array
        Columns that state the area of each record, by their names; NaN where there is no number.
    by_product : mapping of str to float64 array
        Where the map has a column for each of several products, its numbers by product; NaN where there is none.
    dialect : Dialect
        How people say areas and lengths.
    """

    source: MapSource
    crs_said: str = ""
    column_kind: Literal["", "number", "text"] = ""
    failures: tuple[VrxError, ...] = ()
    layer: Layer | None = None
    shapes: MapShapes | None = None
    names: tuple[str, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    rates: MapRates | None = None
    built_as: BuiltAs | None = None
    superseded_by: LaterBuild | None = None
    file_says: Mapping[str, str] = field(default_factory=dict)
    plan: Plan | None = None
    plan_name: str = ""
    product: Product | None = None
    product_asked: str = ""
    products_known: tuple[str, ...] = ()
    ground: Ground | None = None
    grouping: Grouping | None = None
    settings: Mapping[str, str] = field(default_factory=dict)
    stated_areas: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)
    by_product: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)
    dialect: Dialect = field(default_factory=Dialect)

    @property
    def the_layer(self) -> Layer:
        """The layer, for a rule that needs it."""
        return _needed(self.layer)

    @property
    def the_shapes(self) -> MapShapes:
        """The shapes on the ground, for a rule that needs them."""
        return _needed(self.shapes)

    @property
    def the_rates(self) -> MapRates:
        """The rates, for a rule that needs them."""
        return _needed(self.rates)

    @property
    def the_product(self) -> Product:
        """The product, for a rule that needs it."""
        return _needed(self.product)

    @property
    def the_plan(self) -> Plan:
        """The plan, for a rule that needs it."""
        return _needed(self.plan)

    @property
    def the_ground(self) -> Ground:
        """The field on the ground, for a rule that needs it."""
        return _needed(self.ground)

    @property
    def the_bundle(self) -> BuiltAs:
        """The bundle that the map comes from, for a rule that needs it."""
        return _needed(self.built_as)

    def record(self, index: int) -> int:
        """Return the number in the file of a record, from 1."""
        return index + 1 if self.layer is None else int(self.layer.records[index])

    def called(self, index: int) -> str:
        """Return a record as people are told it: ``record 3``, or ``B (record 3)`` where the map names it."""
        number = f"record {self.record(index)}"
        name = self.names[index] if self.names else ""
        return f"{name} ({number})" if name else number


def _needed(value: T | None) -> T:
    if value is None:
        raise ValueError("a rule asks for what it does not say that it needs")
    return value
