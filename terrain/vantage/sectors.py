r"""Which cells of a tile may have the low sun behind a summit, or over it, on one day.

::

      sun, 6 degrees up
       \               For every summit the eyes that may have it so stand in one narrow sector,
        \   sun, on     opposite to the sun's low way: lines through the summit, a cell or two
         \ / horizon    apart where they are farthest, and on each the altitude at which the sky
          * summit      begins over the summit. It is to lie by the sun's way.
         / \
        /   \ the eyes
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.cores import share_out
from terrain.country import Country
from terrain.ground.relief.hills import hill_labels
from terrain.ground.relief.summits import hill_in
from terrain.sight._far_kernels import Blocks
from terrain.sight.bend import bend_per_m
from terrain.sight.far import blocks_of
from terrain.sun.sun_line import SunLine, sun_line
from terrain.vantage._sector_kernels import Lines, Tile, past_summits
from terrain.vantage.candidates import fit_to_stand
from terrain.vantage.limits import Limits

_LOWEST_DEG, _STEP_DEG = -3.0, 0.25
_SLACK_DEG: Final = 0.3
"""Of the directions at a summit for those at the eyes, and of cells for the ground."""
_HIDES_DEG: Final = 0.1
_APART_CELLS: Final = 2.0
_LINES: Final = 4096


def cells_in_sectors(
    country: Country,
    summits: gpd.GeoDataFrame,
    day: dt.date,
    limits: Limits,
    *,
    highest_deg: float,
    evening: bool,
    progress: Callable[[float], None],
) -> pd.DataFrame:
    """The cells from which the sun's way passes a summit within the tolerance, by quick values.

    One row a cell and summit: `label`, the summit's row from 1; `row`, `col`; `distance_m`;
    `toward_deg`, the azimuth of the summit; `altitude_deg`, at which the sky begins over it;
    `offset_deg`, how far the sun's way is from there. NoSun where the sun does not rise.
    """
    dem = country.dem
    middle = hill_in(summits, len(summits) // 2)
    line = sun_line(day, middle, dem.grid.latitudes_deg, evening=evening)
    tile = Tile(
        surface=country.seen.heights_m,
        bare=dem.heights_m,
        owner=hill_labels(dem, summits, tops=country.tops),
        fit=fit_to_stand(country, limits),
        cell_m=dem.cell_m,
        bend=bend_per_m(country.refraction),
        eye_m=limits.eye_m,
        floor_m=country.seen.floor_m,
        slack=math.radians(_HIDES_DEG),
    )
    steps = 1 + math.ceil(limits.max_distance_m / dem.cell_m)
    lines, about = _lines(country, summits, line, limits, highest_deg)
    beyond, parts = blocks_of(country.seen.far), []
    for at in range(0, len(about), _LINES):
        part = Lines._make(values[at : at + _LINES] for values in lines)
        parts.append(_found(part, about[at : at + _LINES], tile, beyond, steps, limits))
        progress(min((at + _LINES) / len(about), 1.0))
    return pd.concat(parts, ignore_index=True)


def _found(
    lines: Lines, about: pd.DataFrame, tile: Tile, beyond: Blocks, steps: int, limits: Limits
) -> pd.DataFrame:
    sky = np.full((len(about), steps), np.nan, dtype=np.float32)
    share_out(len(about), lambda first, end: past_summits(first, end, lines, tile, beyond, sky))
    number, step = np.nonzero(~np.isnan(sky))
    distance_m = step * tile.cell_m
    kept = limits.holds_distance(distance_m)
    number, step, distance_m = number[kept], step[kept], distance_m[kept]
    on, altitude_deg = about.iloc[number], np.degrees(sky[number, step])
    # between the ways of the centre and of the upper edge it is on the sun
    above = altitude_deg - on["sun_deg"].to_numpy()
    outside = np.maximum(np.maximum(-above, above - SUN_SEMIDIAMETER_AT_1_AU_DEG), 0.0)
    found = pd.DataFrame(
        {
            "label": lines.label[number],
            "row": np.floor(lines.row[number] + step * lines.row_step[number] + 0.5).astype(int),
            "col": np.floor(lines.col[number] + step * lines.col_step[number] + 0.5).astype(int),
            "distance_m": distance_m,
            "toward_deg": on["azimuth_deg"].to_numpy(),
            "altitude_deg": altitude_deg,
            "offset_deg": outside * on["level"].to_numpy(),
        }
    )
    return found.sort_values("offset_deg").drop_duplicates(["label", "row", "col"])


def _lines(
    country: Country, summits: gpd.GeoDataFrame, line: SunLine, limits: Limits, highest_deg: float
) -> tuple[Lines, pd.DataFrame]:
    """The lines of all sectors, and of each its azimuth and how the sun passes it, a row a line."""
    grid, lat_deg = country.dem.grid, summits.geometry.y.to_numpy()
    wide_deg = limits.tolerance_deg + _SLACK_DEG
    apart_deg = math.degrees(_APART_CELLS * country.dem.cell_m / limits.max_distance_m)
    up_deg = np.arange(_LOWEST_DEG, highest_deg + _STEP_DEG, _STEP_DEG)
    ways = line.azimuth_at(up_deg[:, np.newaxis], lat_deg).T
    sectors = [_sector(way, up_deg, wide_deg, apart_deg) for way in ways]
    about = pd.concat(sectors, keys=range(len(sectors)), names=["summit"]).reset_index("summit")
    summit = about["summit"].to_numpy()
    row, col = grid.rowcol(summits.geometry.x.to_numpy(), lat_deg)
    place = summits.geometry.x.to_numpy()[summit], lat_deg[summit]
    back = np.radians(grid.grid_azimuth_deg(about["azimuth_deg"].to_numpy() + 180.0, *place))
    reach = wide_deg / about["level"].to_numpy()
    sun_deg = about["sun_deg"].to_numpy()
    high = np.minimum(sun_deg + SUN_SEMIDIAMETER_AT_1_AU_DEG + reach, highest_deg)
    lines = Lines(
        row=row[summit],
        col=col[summit],
        row_step=-np.cos(back),
        col_step=np.sin(back),
        height_m=summits["height_m"].to_numpy(dtype=float)[summit],
        label=summit.astype(np.int64) + 1,
        low=np.radians(sun_deg - reach),
        high=np.radians(high),
    )
    return lines, about


def _sector(way_deg: Floats, sun_deg: Floats, wide_deg: float, apart_deg: float) -> pd.DataFrame:
    """Azimuths about the sun's low way, its altitude there, and how level it is, its cosine."""
    known = ~np.isnan(way_deg)
    order = np.argsort(way_deg[known])
    azimuth, altitude = way_deg[known][order], sun_deg[known][order]
    if azimuth.size < 2:
        return pd.DataFrame({"azimuth_deg": [], "sun_deg": [], "level": []})
    aside = np.hypot(np.diff(azimuth) * np.cos(np.radians(altitude[1:])), np.diff(altitude))
    level = np.diff(azimuth) * np.cos(np.radians(altitude[1:])) / aside
    lines = np.arange(azimuth[0] - wide_deg, azimuth[-1] + wide_deg + apart_deg, apart_deg)
    return pd.DataFrame(
        {
            "azimuth_deg": lines,
            "sun_deg": np.interp(lines, azimuth, altitude),
            "level": np.maximum(np.interp(lines, azimuth[1:], level), 0.05),
        }
    )
