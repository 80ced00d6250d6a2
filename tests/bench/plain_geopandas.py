"""The same map with plain geopandas and no checks: ``python plain_geopandas.py BOUNDARY SOILS OUT``.

What somebody writes in an afternoon: read, project to UTM, make valid, clip, dissolve by zone, area, clamp and
snap, total, write shapefile and GeoJSON. Overlaps count twice, gaps get nothing, nothing is read back.
Prints the number of zones, the acres and the pounds.
"""

from __future__ import annotations

import sys

import geopandas
import numpy as np

# The same as in make_field.py, which would cost an import that this script does not need.
ACRE_M2 = 4046.8564224
RATES_LB_AC = {1: 92.0, 2: 104.5, 3: 117.3, 4: 131.0, 5: 143.8, 6: 171.0}

boundary_file, soils_file, out = sys.argv[1:4]
boundary = geopandas.read_file(boundary_file)
soils = geopandas.read_file(soils_file)
utm = boundary.estimate_utm_crs()
boundary, soils = boundary.to_crs(utm), soils.to_crs(utm)
soils["geometry"] = soils.geometry.make_valid()
zones = geopandas.clip(soils, boundary).dissolve(by="zone").reset_index()
zones["acres"] = zones.area / ACRE_M2
zones["rate"] = np.floor(zones["zone"].map(RATES_LB_AC).clip(90, 160) / 5 + 0.5) * 5
zones["pounds"] = zones["rate"] * zones["acres"]
zones = zones[["zone", "rate", "acres", "pounds", "geometry"]].to_crs(4326)
zones.to_file(out + ".shp")
zones.to_file(out + ".geojson", driver="GeoJSON")
print(len(zones), f"{zones['acres'].sum():.4f} ac", f"{zones['pounds'].sum():.1f} lb")
