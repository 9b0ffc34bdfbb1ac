"""Rasters of a whole country: the own cells of each tile, all on one grid."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.surveying.second import TileGround

if TYPE_CHECKING:
    from terrain.country import Country
    from terrain.light.arrival import Arrival

Bands = Mapping[str, NDArray[Any]]
"""Arrays of a tile and its margin, (rows, cols), by what they say, with their units."""


class RasterWork(Protocol):
    """What makes bands over some ground; its `repr` says all that they hang on."""

    def bands(self, country: Country, summits: gpd.GeoDataFrame) -> Bands:
        """The bands over some ground.

        summits: of the country all that lie on it, by their row in the table of all.
        """
        ...


@dataclass(frozen=True, kw_only=True)
class LightOfDay:
    """When the sun first comes to each cell on a day, or last leaves it.

    Parameters
    ----------
    day : datetime.date
        The local date in the middle of each tile.
    evening : bool, optional
        The last sun in place of the first.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> terrain.LightOfDay(day=dt.date(2026, 10, 13)).evening
    False
    """

    day: dt.date
    evening: bool = False

    def bands(self, country: Country, summits: gpd.GeoDataFrame) -> Bands:
        """The bands over some ground, as `light_arrival` has them."""
        from terrain.light.day import light_arrival

        return _by_one_clock(light_arrival(country, self.day, evening=self.evening))


@dataclass(frozen=True, kw_only=True)
class HillsOfDay:
    """Over which hill the sun first comes to each cell on a day, or behind which it goes.

    Parameters
    ----------
    day : datetime.date
        The local date in the middle of each tile.
    evening : bool, optional
        The last sun in place of the first.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> terrain.HillsOfDay(day=dt.date(2026, 10, 13)).evening
    False
    """

    day: dt.date
    evening: bool = False

    def bands(self, country: Country, summits: gpd.GeoDataFrame) -> Bands:
        """The bands over some ground; hills by their row in the table of all, from 1."""
        from terrain.light.day import day_atlas

        points, grid = summits.geometry, country.dem.grid
        here = summits[grid.contains(*grid.rowcol(points.x, points.y))]
        hills, rows = here.reset_index(drop=True), here.index.to_numpy()
        found = day_atlas(country, self.day, summits=hills, evening=self.evening)
        offset_deg, away_m = found.offsets()
        return {
            "hill, its row in summits.parquet from 1, 0 none": np.append(0, rows + 1)[found.hill],
            "the sun beside its summit, degrees, positive to the right": offset_deg,
            "how far off the summit is, metres": away_m,
            **_by_one_clock(found.arrival),
        }


def _by_one_clock(arrival: Arrival) -> Bands:
    """The bands of an arrival without that which counts by the clock of a tile's own zone."""
    return {name: band for name, band in arrival.bands().items() if ", seconds after " not in name}


def raster_tile(
    ground: TileGround, work: RasterWork, summits: gpd.GeoDataFrame, path: Path
) -> Mapping[str, Any]:
    """Write the bands of the own cells of a tile."""
    from terrain.country import Country
    from terrain.show.files.raster import save_cloud_raster

    near = ground.near
    country = Country(ground.surround().all_of_it())
    own = near.own.inside(near.window)
    bands = {name: values[own] for name, values in work.bands(country, summits).items()}
    rows, cols = (part.start for part in own)
    save_cloud_raster(bands, country.dem.grid.window(rows, cols, near.own.shape), path)
    return {"bands": list(bands), "cells": int(np.prod(near.own.shape))}
