"""What files of ground hold about a place: how far it is known, and which tiles would add to it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats, frozen_arrays
from terrain.constants import EARTH_RADIUS_M
from terrain.fetch.bring import DEFAULT_REACH_M, SUNWARD_M
from terrain.fetch.tiles import places_wanted, sunrise_azimuth_deg, tiles_of
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.raster.delivered import read_delivered
from terrain.ground.raster.read import laid_out, quietly
from terrain.ground.raster.sheet import NOTHING_SAID, Sheet
from terrain.sun.position import declination_deg

_AZIMUTHS: Final = 360
_MOST_STEPS: Final = 4000
# the sun of one year is that of any other to a few hundredths of a degree
_YEAR: Final = 2026


@dataclass(frozen=True, kw_only=True)
class FileFacts:
    """What one file says of itself.

    name: of the file. cell_m: width and depth of its cells on the ground, metres. crs: the name of
    its system. datum: what heights are counted from, "" where it does not say. unit: of heights,
    "" where it does not say. credit: whom it says to name.
    """

    name: str
    cell_m: tuple[float, float]
    crs: str
    datum: str
    unit: str
    credit: str


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class GroundCheck:
    """What files hold of the ground about a place.

    Parameters
    ----------
    around : Spot
        The place.
    reach_m : float
        How far ground is wanted, metres.
    sunward_m : float
        How far toward sunrise and sunset, metres.
    files : tuple of FileFacts
        The files.
    azimuth_deg : (azimuths,) array, degrees
        All round.
    known_m : (azimuths,) array, metres
        How far the ground is known that way without a gap, at most `reach_m` or `sunward_m`,
        whichever is more.
    void_share : float
        Of the square of the reach, what is not known.
    month_azimuth_deg : (12,) array, degrees
        Where the sun comes up over a level horizon on the 21st of each month.
    sunrise_m : (12,) array, metres
        How far the ground is known that way.
    sunset_m : (12,) array, metres
        The same toward sunset.
    missing : tuple of str
        The tiles of a degree, by their corners, that hold ground wanted and not known.
    doubts : tuple of str
        Where files do not fit one another, and where heights leap.

    Examples
    --------
    >>> import terrain
    >>> spot = terrain.Spot(lon_deg=-24.0, lat_deg=54.4)
    >>> try:
    ...     terrain.check_ground("no/such/file.tif", spot)
    ... except terrain.TerrainError as error:
    ...     print(error)
    there is no file no/such/file.tif
    """

    around: Spot
    reach_m: float
    sunward_m: float
    files: tuple[FileFacts, ...]
    azimuth_deg: Floats
    known_m: Floats
    void_share: float
    month_azimuth_deg: Floats
    sunrise_m: Floats
    sunset_m: Floats
    missing: tuple[str, ...]
    doubts: tuple[str, ...]


def check_ground(
    paths: str | Path | Sequence[str | Path],
    around: Spot,
    *,
    reach_m: float = DEFAULT_REACH_M,
    sunward_m: float = SUNWARD_M,
) -> GroundCheck:
    """What files of ground hold about a place, and what they lack.

    Parameters
    ----------
    paths : path, or sequence of them
        As in `read_dem`.
    around : Spot
        The place.
    reach_m : float, optional
        How far ground is wanted, metres.
    sunward_m : float, optional
        How far toward sunrise and sunset of any day of the year, metres.

    Returns
    -------
    GroundCheck
        Distances by azimuth, what each file says, and the tiles that would add to it.

    Raises
    ------
    TerrainError
        As in `read_dem`.

    Examples
    --------
    >>> import terrain
    >>> spot = terrain.Spot(lon_deg=-24.0, lat_deg=54.4)
    >>> try:
    ...     terrain.check_ground("no/such/file.tif", spot)
    ... except terrain.TerrainError as error:
    ...     print(error)
    there is no file no/such/file.tif
    """
    with quietly():
        sheets, _ = laid_out(paths, NOTHING_SAID)
    farthest_m = max(reach_m, sunward_m)
    dem = read_delivered(paths, around, farthest_m)
    azimuth = np.arange(_AZIMUTHS) * 360.0 / _AZIMUTHS
    days = [dt.datetime(_YEAR, month, 21, 12, tzinfo=dt.UTC) for month in range(1, 13)]
    rising = sunrise_azimuth_deg(around.lat_deg, declination_deg(days))
    lon, lat = places_wanted(around, reach_m, sunward_m)
    known = _is_known(dem, lon, lat)
    lacking = {tile for tile, there in zip(tiles_of(lon, lat), known, strict=True) if not there}
    near_lon, near_lat = places_wanted(around, reach_m)
    return GroundCheck(
        around=around,
        reach_m=reach_m,
        sunward_m=sunward_m,
        files=tuple(_facts(sheet, around) for sheet in sheets),
        azimuth_deg=azimuth,
        known_m=_known_m(dem, around, azimuth, farthest_m),
        void_share=float(1.0 - _is_known(dem, near_lon, near_lat).mean()),
        month_azimuth_deg=rising,
        sunrise_m=_known_m(dem, around, rising, farthest_m),
        sunset_m=_known_m(dem, around, 360.0 - rising, farthest_m),
        missing=tuple(tile.label for tile in sorted(lacking, reverse=True)),
        doubts=dem.doubts,
    )


def _facts(sheet: Sheet, around: Spot) -> FileFacts:
    across, down = abs(sheet.placing.transform.a), abs(sheet.placing.transform.e)
    if sheet.crs.is_geographic:
        metres = np.radians(1.0) * EARTH_RADIUS_M
        across, down = across * metres * np.cos(np.radians(around.lat_deg)), down * metres
    return FileFacts(
        name=Path(sheet.name).name,
        cell_m=(float(across), float(down)),
        crs=sheet.crs.name,
        datum=sheet.vertical_datum,
        unit=sheet.height_unit or "",
        credit=sheet.credit,
    )


def _known_m(dem: Dem, around: Spot, azimuth_deg: Floats, farthest_m: float) -> Floats:
    """How far the ground is known without a gap in some directions."""
    steps = np.linspace(0.0, farthest_m, min(_MOST_STEPS, int(farthest_m / 25.0) + 2))
    far, toward = np.meshgrid(steps, azimuth_deg)
    lon, lat = destination(around.lon_deg, around.lat_deg, toward, far)
    gap = ~_is_known(dem, lon, lat)
    first = np.where(gap.any(axis=1), gap.argmax(axis=1), len(steps))
    return np.where(first > 0, steps[np.maximum(first - 1, 0)], 0.0)


def _is_known(dem: Dem, lon_deg: Floats, lat_deg: Floats) -> Flags:
    """Whether the cell that holds a place is known."""
    row, col = dem.grid.rowcol(lon_deg, lat_deg)
    inside = dem.grid.contains(row, col)
    rows, cols = dem.shape
    at = (
        np.clip(np.rint(row), 0, rows - 1).astype(int),
        np.clip(np.rint(col), 0, cols - 1).astype(int),
    )
    return np.asarray(inside & ~np.isnan(dem.heights_m[at]))
