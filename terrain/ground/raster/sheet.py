"""One raster file of a mosaic: what it says and the user says of it, and the reading of it."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import numpy as np
from pyproj import CRS
from rasterio.warp import transform_bounds
from rasterio.windows import Window

from terrain.arrays import Singles
from terrain.errors import TerrainError
from terrain.ground.geodesy import horizontal
from terrain.ground.names import clean_name
from terrain.ground.raster import declared, units
from terrain.ground.raster.archives import check_whole
from terrain.ground.raster.chosen import address_of_variable, band_of_heights
from terrain.ground.raster.files import name_of, open_raster
from terrain.ground.raster.gaps import unwritten
from terrain.ground.raster.mosaic import Placing

_MOST_BYTES = 20_000_000_000


@dataclass(frozen=True, kw_only=True)
class Said:
    """What the user says of the raster files; None where they are to say it themselves.

    trust: that they may name other files, wherever those are.
    """

    crs: CRS | str | None = None
    height_unit: str | None = None
    band: int | None = None
    variable: str | None = None
    trust: bool = False


NOTHING_SAID = Said()


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One raster file: what GDAL calls it, which band, its placing, its unit of height.

    name: what messages call it. height_unit: None where nobody says it. credit: whom it says
    to name. trust: as in `Said`. is_in_rows: whether it is stored row by row.
    """

    name: str
    address: str
    band: int
    crs: CRS
    vertical_datum: str
    placing: Placing
    height_unit: str | None
    credit: str = ""
    trust: bool = False
    is_in_rows: bool = False

    def read(self, rows: slice, cols: slice) -> Singles:
        """Heights of some rows and columns, metres, NaN where they are unknown."""
        return units.only_ground(self.stored(rows, cols))

    def stored(self, rows: slice, cols: slice) -> Singles:
        """The same as they are stored, among them what no ground is."""
        window = Window.from_slices(rows, cols)
        check_whole(self.address, most_bytes=_MOST_BYTES)
        with self.opened() as dataset:
            raw = dataset.read(self.band, window=window, out_dtype="float32")
            heights = declared.heights_m(dataset, self.band, raw, window, self.per_unit)
            heights[unwritten(dataset, self.band, raw, window)] = np.nan
        if self.height_unit is None:
            units.check_metres(heights, self.name, lambda: self._bounds_deg(window))
        return heights

    def opened(self) -> AbstractContextManager[Any]:
        """Its dataset, for as long as it is asked."""
        return open_raster(self.address, trust=self.trust)

    @property
    def per_unit(self) -> float:
        """The unit of its heights in metres."""
        return units.metres_per_unit(self.height_unit or "metre")

    def _bounds_deg(self, window: Window) -> units.Bounds:
        (top, bottom), (left, right) = window.toranges()
        a, b, c, d, e, f = self.placing.transform[:6]
        corners = [(col, row) for col in (left, right) for row in (top, bottom)]
        east = [a * col + b * row + c for col, row in corners]
        north = [d * col + e * row + f for col, row in corners]
        box = min(east), min(north), max(east), max(north)
        west_deg, south_deg, east_deg, north_deg = transform_bounds(
            self.crs.to_wkt(), "EPSG:4326", *box
        )
        return west_deg, south_deg, east_deg, north_deg


def sheet_of(address: str, said: Said) -> Sheet:
    """What a file says of itself, held against what the user says."""
    with open_raster(address, trust=said.trust) as dataset:
        chosen = address_of_variable(dataset, address, said.variable)
        if chosen == address:
            return _sheet(dataset, address, name_of(address), said)
    with open_raster(chosen, trust=said.trust) as dataset:
        return _sheet(dataset, chosen, name_of(address), said)


def _sheet(dataset: Any, address: str, name: str, said: Said) -> Sheet:
    band = band_of_heights(dataset, name, said.band)
    declared.check_band(dataset, band, name)
    crs = declared.crs_of(dataset, name, said.crs)
    declared.check_cells(dataset.transform, horizontal(crs), name)
    return Sheet(
        name=name,
        address=address,
        band=band,
        crs=horizontal(crs),
        vertical_datum=declared.vertical_datum_of(crs),
        placing=Placing(dataset.transform, dataset.shape),
        height_unit=units.unit_of(dataset, band, name, crs, said.height_unit),
        credit=clean_name(dataset.tags().get("TIFFTAG_COPYRIGHT", "")),
        trust=said.trust,
        is_in_rows=dataset.block_shapes[band - 1][1] == dataset.width,
    )


def common_crs(sheets: list[Sheet]) -> CRS:
    """The coordinate reference system that all files share."""
    first = sheets[0]
    for sheet in sheets[1:]:
        if not declared.is_same_crs(first.crs, sheet.crs):
            raise TerrainError(
                f"{first.name} is in {first.crs.name} but {sheet.name} in {sheet.crs.name}: "
                "files to be joined must share one coordinate reference system"
            )
    return first.crs


def common_datum(sheets: list[Sheet]) -> str:
    """What heights are counted from, by those of the files that say it."""
    said = [sheet for sheet in sheets if sheet.vertical_datum]
    for sheet in said:
        if sheet.vertical_datum != said[0].vertical_datum:
            raise TerrainError(
                f"heights of {said[0].name} are above {said[0].vertical_datum} but those of "
                f"{sheet.name} above {sheet.vertical_datum}: files to be joined must share one"
            )
    return said[0].vertical_datum if said else ""


def credit_of(sheets: list[Sheet]) -> str:
    """Whom all files together say to name."""
    return "; ".join(dict.fromkeys(sheet.credit for sheet in sheets if sheet.credit))
