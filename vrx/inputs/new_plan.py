"""The plan that a person starts from: every key of today, with its choices, on an invented field."""

from __future__ import annotations

import re
from string import Template
from typing import Final, get_args

from vrx.errors import UnitError
from vrx.units import System

FILES_NAMED: Final = ("boundary.geojson", "ditch.geojson", "zones.geojson")
"""The files that the starter plan names, and that a person puts beside it."""


def starter_plan(*, units: System = "us") -> str:
    """Return a commented plan to start from, as TOML.

    It reads without an error once the files in :data:`FILES_NAMED` lie beside it.

    Parameters
    ----------
    units : {"us", "metric"}
        What gal, pt and cwt mean, and how areas and totals are reported.

    Raises
    ------
    UnitError
        ``units`` is neither.
    """
    if units not in get_args(System):
        raise UnitError(f"units = {units!r} is not one of its choices.", remedy='Use "us" or "metric".')
    text = _TEXT.substitute(_AMOUNTS[units], units=units)
    # Amounts differ in length; the comments behind them stand in one column all the same.
    return _COMMENT.sub(lambda found: f"{found[1]:<{_COLUMN}}{found[2]}", text)


_COLUMN: Final = 39
_COMMENT: Final = re.compile(r"^(#?[a-z_\[].*?) {2,}(# .*)$", re.MULTILINE)

_AMOUNTS: Final[dict[str, dict[str, str]]] = {
    "us": {
        "smallest": "0.1 ac", "gaps": "0.05 ac", "area": "86.2 ac", "set_back": "30 ft", "low": "60 lb/ac",
        "high": "240 lb/ac", "step": "5 lb/ac", "default": "100 lb/ac", "hand": "150 lb/ac", "density": "11.1 lb/gal",
        "per": "2800 seeds/lb", "on_hand": "6 short_ton", "price": "465 USD/short_ton", "package": "bag(50 lb)",
        "gal": "2.5 gal", "size": "4 short_ton", "kept": "100 lb", "heavy": "7000 lb",
        "a": "180 lb/ac", "b": "120 lb/ac", "c": "0 lb/ac", "unit": "lb/ac", "edge": "60 ft", "width": "60 ft",
        "left": "-30 ft", "middle": "0 ft", "right": "30 ft",
        "speed": "8 to 12 mph", "flow": "20 to 400 lb/min", "outlet_flow": "1 to 20 lb/min", "spacing": "30 in",
        "tank_flow": "20 to 800 lb/min", "cap": "90 lb K2O/ac",
    },
    "metric": {
        "smallest": "400 m2", "gaps": "200 m2", "area": "34.9 ha", "set_back": "10 m", "low": "60 kg/ha",
        "high": "260 kg/ha", "step": "5 kg/ha", "default": "110 kg/ha", "hand": "160 kg/ha", "density": "1.33 kg/L",
        "per": "6200 seeds/kg", "on_hand": "5 tonne", "price": "410 EUR/tonne", "package": "bag(25 kg)", "gal": "10 L",
        "size": "3500 kg", "kept": "50 kg", "heavy": "3000 kg", "a": "200 kg/ha", "b": "130 kg/ha", "c": "0 kg/ha",
        "unit": "kg/ha", "edge": "18 m", "width": "18 m", "left": "-9 m", "middle": "0 m", "right": "9 m",
        "speed": "12 to 18 km/h", "flow": "10 to 180 kg/min", "outlet_flow": "0.5 to 9 kg/min", "spacing": "75 cm",
        "tank_flow": "10 to 360 kg/min", "cap": "100 kg K2O/ha",
    },
}  # fmt: skip

_TEXT: Final = Template("""\
# A plan: one field, one pass.
# A line that starts with # and a key is switched off and shows what the key looks like.
# Quantities are text with their unit. Files are named as seen from this one.

units = "$units"                         # us | metric: what gal, pt and cwt mean, and how totals are reported
#acre = "international"                # international | us_survey
#grid_crs = "auto"                     # auto (the field's UTM zone) | any EPSG code, such as EPSG:32633
#prepared_by = "field office"
#date = 2027-03-15                     # the only date that goes into a file
#revision = 1
#approved_by = "B. Example"
#notes = "Gate at the north end."      # for the operator
#repairs = "mend"                      # mend | refuse, where mending shapes moves more than 0.1 % of the field
#overlaps = "refuse"                   # refuse | first | lowest | highest, where zones overlap with different rates
#smallest_area = "$smallest"              # smaller parts join a neighbour
#thin_parts = "join"                   # join | report: parts narrower than the machine can honour
#fill_gaps = "$gaps"                 # smaller gaps join a neighbour, larger ones get the default rate
#products = ""                         # a file of shared [[product]] tables, such as ../products.toml
#machines = ""                         # a file of shared [[machine]] tables; [machine] chooses one by name
#caps = { K2O = "$cap" }        # the most of a nutrient that may go on in this pass and season; or a [caps] table

[field]
#client = "Hollow Creek Growers"
#farm = "Upper Place"
name = "Long Meadow"
#season = 2027
crop = "sunflower"
boundary = "boundary.geojson"          # one file, or ["west.shp", "east.shp"]
#crs = ""                              # such as EPSG:32633, only where the file has none
#layer = ""                            # which one, only where the file holds several
#stated_area = "$area"              # what others say, to compare with
#stated_basis = "boundary"             # treated | boundary: what the stated area is of
#backdrop = "aerial.tif"               # a GeoTIFF or a layer, drawn faintly behind the maps
#part = ""                             # a file: only this ground is treated
#heading = "85 deg"                    # direction of the passes, clockwise from true north

[[keep_out]]                           # as many as needed, or none
where = "ditch.geojson"                # points, lines or polygons
#crs = ""
#layer = ""
set_back = "$set_back"
#products = ["potash"]                 # the products that it binds; all unless said
#rate = "$c"                      # nothing else so far
reason = "open ditch"

[[product]]
name = "potash"
form = "granular"                      # seed | liquid | granular | gas
use = "fertiliser"                     # seed | fertiliser | crop protection | lime | other
min = "$low"
max = "$high"
step = "$step"                       # the smallest change that the machine can make
#step_from = "zero"                    # zero | min: where the steps are counted from
#rounding = "nearest"                  # nearest | up | down
#below_min = "raise"                   # raise | half | off | refuse
#above_max = "lower"                   # lower | refuse
#off_allowed = true                    # false where the machine can't shut it off
default = "$default"                  # inside the field where the map says nothing
#outside = "$c"                   # beyond the boundary
#no_position = "$default"             # signal lost
#hand_rates = ["$default", "$hand"]   # rates that the operator may pick
analysis = { K2O = "60 %" }            # N, P2O5, K2O, S, Ca, Mg, Zn, B, P_element, K_element
#density = "$density"             # for a liquid: turns mass into volume
#seeds_per = "$per"          # for seed; or thousand_seed_weight = "42 g"
#on_hand = "$on_hand"
#price = "$price"           # by any amount that converts; one currency a plan
#package = "$package"                # or "$gal": ordered in whole ones
#overlap = "4 %"                       # what goes on twice; raises order and loads, never the map's total
#crops = ["sunflower"]                 # crops that it may go onto

[zones]
from = "zones.geojson"                 # one file of polygons, or several
#crs = ""
#layer = ""
name = "zone"                          # the field of the layer that names a zone
#decimal = "."                         # . | , in numbers written as text

[[rate]]                               # one for each product
product = "potash"
by = "table"                           # table | column | breaks | line | formula
table = { A = "$a", B = "$b", C = "$c" }
#no_data = "refuse"                    # refuse | default | off, for a zone without a value
#zones = ""                            # which layer, where [zones.soil], [zones.yield] ... name several
# Other ways, each in place of by and table (keys one below the other):
#   by = "table"    table = "rates.csv"    column = "rate"    unit = "$unit"
#   by = "column"    column = "RATE"    unit = "$unit"
#   by = "breaks"    of = "k_ppm"    breaks = [120, 180]    rates = ["$a", "$b", "$c"]
#   by = "line"    of = "k_ppm"    points = [[100, "$a"], [200, "$c"]]
#   by = "formula"    formula = "top - 0.5 * k_ppm"    unit = "$unit"    constants = { top = 220 }

#[[overlay]]                           # ground with another rate, as many as needed, laid over the zones in order
#where = "edge $edge"               # a file | headland N laps | edge DISTANCE
#crs = ""
#layer = ""
#products = ["potash"]                 # all unless said
#factor = 0.8                          # or rate = "$a", or add = "$step"
#why = "compacted edge"                # its name on every paper

[machine]
#name = "spreader"
width = "$width"                        # of one pass
#speed = "$speed"                # at work; or one speed
#[[machine.drive]]                     # one for each meter or pump, if it has several
#name = "left"
#span = ["$left", "$middle"]             # from the machine's centre line, left negative
#product = "potash"
#group = ""                            # drives of one group run at one rate
#form = "granular"                     # seed | liquid | granular | gas: what it meters; that of its product unless said
#flow = "$flow"                 # the least and the most that its meter or pump gives
#outlet_flow = "$outlet_flow"          # the same of one nozzle, opener or row of a seed meter
#outlet_spacing = "$spacing"              # from one outlet to the next
#sections = 4                          # parts of equal width that it can shut off one by one
#response = "2 s"                      # from a new rate until it reaches the ground
# A drive that changes its product from place to place has, in place of product, one_of = ["hybrid A", "hybrid B"]
#[[machine.drive]]
#name = "right"
#span = ["$middle", "$right"]
#product = "potash"
#[[machine.tank]]                      # one for each tank or bin; or tank = { ... } in [machine]
#product = "potash"
#size = "$size"                  # text with its unit: a volume needs the product's density
#keep_back = "$kept"                  # what can't be put out
#most_weight = "$heavy"               # limits the fill where the contents are heavy
#drives = ["left", "right"]            # which it feeds; needed where several boxes carry one product
#flow = "$tank_flow"            # of its pump or meter, for all its drives together

[receiver]                             # what the display in the cab can load
#formats = ["shapefile", "geojson"]    # shapefile | geojson | geopackage
#crs = "EPSG:4326"
#files = "one a product"               # one a product | one column a product
#rate_column = "RATE"
#unit = "$unit"                        # of the written rates; the unit of the step unless said
#rate_width = 12                       # digits that the rate column holds, if limited
#rate_decimals = 1                     # decimals that it holds, if limited
#keep_outs = "zero"                    # zero | hole, which needs a default of 0
#most_features = 5000
#most_vertices = 2000                  # of a polygon
#name_length = 32                      # characters of a file name

#[[accept]]                            # a finding that someone answers for
#finding = "thin-part"                 # its id, as it stands behind it
#why = "one pass wide, seen with the operator"
#by = "agronomy office"
#date = 2027-04-12
#product = ""                          # only where it is about this product, or zone
#zone = ""
""")
