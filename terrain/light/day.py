"""One morning over a whole tile: when the sun comes up, where, and over which hill.

Or one evening: when it goes down, where, and behind which hill.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np

from terrain.arrays import Floats, Labels, Singles, frozen_arrays
from terrain.cores import share_out
from terrain.country import Country, country_of
from terrain.errors import NoSun
from terrain.ground.dem import Dem
from terrain.ground.relief.hills import hill_labels
from terrain.light._sweep_kernels import FirstLight, hills_behind, summit_offsets
from terrain.light.arrival import Arrival
from terrain.light.field import SunField, sun_field
from terrain.light.sweeps import first_light
from terrain.mist.mist import Mist
from terrain.sight.left_out import LeftOut


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class DayAtlas:
    """Where, when and over which hill the sun first appears from every cell on one day.

    Or is last seen, where `arrival.evening` says so. The arrays are read-only.

    Attributes
    ----------
    arrival : Arrival
        When, and over which point of the skyline.
    distance_m : (rows, cols) float32 array, metres
        To that point; NaN where the sun does not come.
    hill : (rows, cols) int32 array
        Label of the hill that point belongs to, row i of `summits` being i + 1; 0 where none does,
        such as over mist.
    hills : (rows, cols) int32 array
        Whose ground each cell itself is.
    summits : geopandas.GeoDataFrame
        As `find_summits` gives them.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> atlas = terrain.day_atlas(cone, dt.date(2025, 3, 30))
    >>> int(atlas.hill[30, 10]), round(float(atlas.distance_m[30, 10]), -2)
    (1, 3000.0)
    """

    arrival: Arrival
    distance_m: Singles
    hill: Labels
    hills: Labels
    summits: gpd.GeoDataFrame
    _turn_deg: Floats

    @property
    def known_to_m(self) -> Singles:
        """How far the ground is known toward the sun, as `Arrival.known_to_m` gives it."""
        return self.arrival.known_to_m

    def beyond_height_m(self) -> Singles:
        """How high hidden ground would have to be to delay the sun, as `Arrival` gives it."""
        return self.arrival.beyond_height_m()

    def left_out(self) -> LeftOut:
        """What the raster's edge and gaps leave open of all this, in a few figures."""
        return self.arrival.left_out()

    def offsets(self) -> tuple[Singles, Singles]:
        """How far from the summit of its hill the sun comes or goes, and how far that summit is.

        Degrees, positive to the right, and metres; (rows, cols) float32, NaN without a hill.
        """
        row, col = self.arrival.grid.rowcol(self.summits.geometry.x, self.summits.geometry.y)
        offset, away = np.full((2, *self.hill.shape), np.nan, dtype=np.float32)
        asked = (
            self.hill,
            np.ascontiguousarray(row),
            np.ascontiguousarray(col),
            self.arrival.azimuth_deg,
            self.arrival.altitude_deg,
            self._turn_deg,
            self.arrival.grid.cell_m,
        )
        share_out(
            self.hill.shape[0],
            lambda first, end: summit_offsets(first, end, *asked, offset, away),
        )
        return offset, away


def light_arrival(
    ground: Dem | Country,
    day: dt.date,
    *,
    mist: Mist | None = None,
    limb: float = 1.0,
    temperature_c: float = 10.0,
    refraction: float | None = None,
    evening: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> Arrival:
    """The moment direct sun first reaches each cell of ground, and of the mist where mist lies.

    Of an evening the moment it last leaves it. The whole day is searched. The earth itself hides
    the sun as far down as the lowest ground of the tile would; ground beyond the raster's edge is
    unknown and hides nothing.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    day : datetime.date
        The local date in the middle of the tile.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has.
    limb : float, optional
        An offset in semi-diameters of the sun, 1 for any part of the disc, 0 for half of it, -1 for
        all of it.
    temperature_c : float, optional
        Of the air, degrees Celsius; its pressure is the standard one at the height of each cell.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    evening : bool, optional
        The last sun of the day in place of the first.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    Arrival
        Its arrays are (rows, cols).

    Raises
    ------
    NoSun
        Where the sun does not rise that day, or sets nowhere on the tile; of an evening, not before
        the day ends.
    NoGround
        Where no ground is known.
    ValueError
        For a limb beyond the disc.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.grid import Grid
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(9, 40))
    >>> plain = Dem(np.zeros(grid.shape), grid)
    >>> arrival = light_arrival(plain, dt.date(2025, 3, 20))
    >>> f"{arrival.at(*map(float, grid.lonlat(4, 10))):%H:%M %Z}"
    '06:01 -01'
    """
    country = country_of(ground, mist=mist, refraction=refraction)
    field = sun_field(country.seen, day, limb=limb, temperature_c=temperature_c, evening=evening)
    light = first_light(country, field, progress=progress)
    if np.isinf(light.arrives_s[~np.isnan(light.arrives_s)]).all() and field.up_at_start:
        why = "still when the day ends" if evening else "all day"
        raise NoSun(f"the sun does not set over this ground on {day}: it is up {why}")
    return _arrival(country, field, light)


def day_atlas(
    ground: Dem | Country,
    day: dt.date,
    *,
    mist: Mist | None = None,
    summits: gpd.GeoDataFrame | None = None,
    until_deg: float = 90.0,
    refraction: float | None = None,
    evening: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> DayAtlas:
    """Where, when and over which hill the sun first appears from every cell on one day.

    Of an evening where, when and behind which hill it is last seen.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    day : datetime.date
        The local date in the middle of the tile.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has; eyes are on its top there.
    summits : geopandas.GeoDataFrame, optional
        As `find_summits` gives them, which is asked unless they are given.
    until_deg : float, optional
        Cells over which the sun comes no lower than this, degrees, may be left out, as if it never
        came.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    evening : bool, optional
        The last sun of the day in place of the first.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    DayAtlas
        Its arrays are (rows, cols).

    Raises
    ------
    NoSun
        Where the sun does not rise that day, or sets nowhere on the tile.
    NoGround
        Where no ground is known.

    Notes
    -----
    The point of the skyline is that of the disc's first part, or of its last; its distance is that
    of the nearer of two sweeps, so that beside the end of a ridge it can be that of the ridge or of
    the ground behind it.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> atlas = terrain.day_atlas(cone, dt.date(2025, 3, 30))
    >>> offset_deg, away_m = atlas.offsets()
    >>> round(float(abs(offset_deg[30, 10])), 1), round(float(away_m[30, 10]))
    (0.4, 3000)
    """
    country = country_of(ground, mist=mist, refraction=refraction)
    field = sun_field(country.seen, day, evening=evening)
    summits = country.summits() if summits is None else summits
    hills = hill_labels(country.dem, summits, tops=country.tops)
    progress(0.1)
    light = first_light(
        country,
        field,
        with_distance=True,
        until_deg=until_deg,
        progress=lambda share: progress(0.1 + 0.9 * share),
    )
    mist, behind = country.mist, np.zeros_like(hills)
    shown = hills if mist is None else np.where(mist.covers, np.int32(0), hills)
    turn, cell_m = field.convergence_deg, country.dem.cell_m
    share_out(
        len(hills),
        lambda first, end: hills_behind(first, end, shown, light, turn, cell_m, behind),
    )
    return DayAtlas(
        arrival=_arrival(country, field, light),
        distance_m=light.distance_m,
        hill=behind,
        hills=hills,
        summits=summits,
        _turn_deg=turn,
    )


def _arrival(country: Country, field: SunField, light: FirstLight) -> Arrival:
    """The first or last light of a day as a record; it takes the arrays over."""
    return Arrival(
        surface=country.seen,
        day=field.path.day,
        since=field.path.start,
        limb=field.limb,
        refraction=country.refraction,
        arrives_s=light.arrives_s,
        azimuth_deg=light.azimuth_deg,
        altitude_deg=light.altitude_deg,
        evening=field.path.evening,
    )
