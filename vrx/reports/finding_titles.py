"""A plain title for every finding: what people read first; the id stands small beside it."""

from __future__ import annotations

from typing import Final

TITLES: Final = {
    "accept-refused": "An acceptance that can't hold",
    "accept-unmatched": "An acceptance is for nothing that was found",
    "area-differs": "The stated area is not the measured one",
    "backdrop-unreadable": "The backdrop could not be drawn",
    "borders-simplified": "Borders between zones were simplified",
    "column-names": "Columns of a file were renamed",
    "crop-mismatch": "A product is not meant for this crop",
    "crs-accuracy": "Map coordinates on an old datum are good to metres only",
    "crs-member": "A file names its map coordinates in the old way",
    "crs-mixed": "Files are in different map coordinates",
    "crs-suspect": "The map coordinates (CRS) of a file look wrong",
    "crs-unknown": "The map coordinates (CRS) of a file are not a known system",
    "decimal-comma": "Numbers are written with a decimal comma",
    "default-not-said": "Ground without a zone gets a rate that nobody named",
    "deleted-record": "Deleted records were left out",
    "earlier-bundle": "The bundle of an earlier build is still there",
    "encoding": "Letters of a file had to be guessed",
    "gap": "Ground in the field has no zone",
    "gpkg-log": "Changes beside a file were not read",
    "grid-elsewhere": "The map sheet is made for another place",
    "has-z": "Heights in a file (Z) were left out",
    "hole-winding": "Rings of a file are wound the wrong way",
    "index-mismatch": "Parts of a shapefile do not agree",
    "invalid-shape": "A broken shape was mended",
    "keep-out-empty": "A keep-out holds no shape",
    "keep-out-not-off": "A product that can't be shut off meets a keep-out",
    "keep-out-outside": "A keep-out does not reach into the field",
    "kml-link": "A file links to another that was not read",
    "length-mismatch": "A file is longer or shorter than it says",
    "limits-move-total": "Limits and steps change a product's total",
    "missing-part": "A part of a shapefile is missing",
    "more-than-on-hand": "The map takes more than is on hand",
    "name-not-loadable": "A name that the receiver can't load",
    "name-shortened": "Column names were shortened",
    "no-shape": "A record has no shape",
    "not-polygons": "A record holds no polygon",
    "nothing-to-treat": "A product has no ground to treat",
    "overlap": "Zones overlap and want different rates",
    "overlay-outside": "An overlay does not reach into the field",
    "overlay-swallows": "An overlay covers the whole field",
    "overlay-without-polygons": "Ground drawn in a file holds no polygon",
    "overlays-contradict": "Two overlays want different rates on the same ground",
    "part-empty": "The part to treat covers nothing of the field",
    "parts-joined": "Small or narrow parts took a neighbour's rate",
    "raster-no-data": "A raster holds values that look like no data",
    "raster-rotated": "A raster is rotated against the map",
    "rate-above-max": "Wanted rates lie above the maximum",
    "rate-below-min": "Wanted rates lie below the minimum",
    "rate-formula-failed": "The formula gives no rate in some zones",
    "rate-missing": "Zones have no rate",
    "rate-negative": "Wanted rates lie below 0",
    "rate-no-data-code": "A code for missing data stands where a rate should",
    "rate-not-a-number": "Rates are no numbers",
    "rate-too-wide": "A rate does not fit into the receiver's column",
    "rate-unit-suspect": "Rates look as if they were in another unit",
    "rate-unit-written": "Rates are written in another unit",
    "rate-unmatched": "The table has rates for zones that are not there",
    "rate-zero": "A product that can't be shut off is wanted at 0",
    "rates-converted": "How wanted rates were converted",
    "record-count": "A table holds another number of records than it says",
    "report-not-written": "The report has no place",
    "separator": "How the columns of a table are separated",
    "short-row": "Rows of a table are shorter than its header",
    "sliver": "Small gaps between zones were filled",
    "stick-namesake": "A map of another field bears the same name",
    "stick-older": "An older map lies on the stick",
    "stick-unreadable": "A map on the stick can't be read",
    "swap-nutrients": "A swapped product brings other nutrients",
    "thin-part": "A part is narrower than the machine can honour",
    "tiny-part": "A part is smaller than can be treated",
    "too-many-features": "More polygons than the receiver loads",
    "too-many-vertices": "More vertices than the receiver loads",
    "units-row": "A row of a table holds units",
}


def title_of(finding_id: str) -> str:
    """Return the title of a finding.

    Raises
    ------
    KeyError
        There is none: every finding needs one.
    """
    return TITLES[finding_id]
