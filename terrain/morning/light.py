"""Where the light falls, minute by minute: the first sun on ground and mist, and warm light.

The moment a cell is reached is that of the whole disc over the cell's own horizon, but for two
things. While many cells wait, horizons two minutes of the sun apart (more where it is high) are
joined by straight lines, so that a skyline that is jagged within the sun's own width is smoothed.
And a gap in the skyline through which the sun shows for less than a few minutes, before it is
hidden again, may be missed. On ridges at 75 m half of all cells are within 2 s of
`terrain.sun_contact` over `terrain.skyline` and 95 of 100 within 20 s; on fells at 50 m within 4 s
and 50 s; beside an upright edge of the skyline it can be two or three minutes. Where the horizon
is nearer than five cells the ground between the cells decides.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import contourpy
import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.constants import COLOUR_BEFORE_SUNRISE_MIN, TERRESTRIAL_REFRACTION
from terrain.errors import NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.geodesy import drop_m
from terrain.ground.grid import Grid
from terrain.ground.places import Spot
from terrain.mist.surface import Mist
from terrain.morning.contact import Contact
from terrain.morning.first_light import first_light
from terrain.morning.sunfield import sun_field
from terrain.sun.clock import shifted
from terrain.sun.path import sun_path
from terrain.sun.twilight import Twilight, twilight_of

__all__ = ["Arrival", "WarmLight", "contour_lines", "light_arrival", "warm_light"]

Cells = NDArray[np.float32]
Mask = NDArray[np.bool_]

_COLOUR_BEFORE: Final = dt.timedelta(minutes=COLOUR_BEFORE_SUNRISE_MIN)


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """The moment direct sun first reaches each cell of a surface on one local day.

    surface: ground, or ground and mist. since: the aware moment, in the tile's zone, from which
        seconds count: the start of the day. limb: which part of the disc counts, 1 any part of
        it, 0 half, -1 all of it. refraction: coefficient of terrestrial refraction.
    arrives_s: (rows, cols) float32, seconds; NaN where the sun does not come that day or it is
        not known when; -inf where it is up when the search begins, at the lowest sun of the day.
    azimuth_deg: (rows, cols) float32, from true north, of the point of the skyline where it comes
        over; NaN where it does not come. Known as well where only unknown ground lies that way.
    altitude_deg: (rows, cols) float32, of that point; NaN with `arrives_s`.
    The arrays are read-only.
    """

    surface: Dem
    day: dt.date
    since: dt.datetime
    limb: float
    refraction: float
    arrives_s: Cells
    azimuth_deg: Cells
    altitude_deg: Cells

    def __post_init__(self) -> None:
        for values in (self.arrives_s, self.azimuth_deg, self.altitude_deg):
            values.flags.writeable = False

    @property
    def grid(self) -> Grid:
        """Where the cells lie."""
        return self.surface.grid

    @cached_property
    def is_known(self) -> Mask:
        """Cells of which it is known when the sun comes, or that it does not; read-only."""
        unasked = np.isnan(self.arrives_s) & ~np.isnan(self.azimuth_deg)
        known = ~np.isnan(self.surface.heights_m) & ~unasked
        known.flags.writeable = False
        return known

    def seconds(self, moment: dt.datetime) -> float:
        """Seconds from `since` to an aware moment; ValueError for one without a zone."""
        if moment.tzinfo is None:
            raise ValueError(f"{moment} has no time zone: give an aware datetime")
        return (moment - self.since.astimezone(dt.UTC)).total_seconds()

    def moment(self, seconds: float) -> dt.datetime:
        """The aware moment in the tile's zone, some seconds after `since`."""
        moment = self.since.astimezone(dt.UTC) + dt.timedelta(seconds=float(seconds))
        return moment.astimezone(self.since.tzinfo)

    def at(self, lon_deg: float, lat_deg: float) -> dt.datetime:
        """When the sun first reaches the cell that holds a place, as an aware datetime.

        Raises NoGround off the raster, on unknown ground and where only unknown ground lies
        toward the sun; NoSun where the sun does not come that day, or never leaves.
        """
        cell = self.grid.cell_of(lon_deg, lat_deg)
        arrives, place = float(self.arrives_s[cell]), f"{lat_deg:.4f}, {lon_deg:.4f}"
        if np.isfinite(arrives):
            return self.moment(arrives)
        if np.isnan(self.surface.heights_m[cell]):
            raise NoGround(f"the ground at {place} is unknown: choose another place")
        if np.isneginf(arrives):
            raise NoSun(f"the sun does not leave {place} on {self.day}: it is up all night")
        if not self.is_known[cell]:
            raise NoGround(
                f"the ground toward azimuth {float(self.azimuth_deg[cell]):.1f} is unknown from "
                f"{place} on: choose a place farther from the raster's edge"
            )
        raise NoSun(f"the sun does not reach {place} on {self.day}: the ground hides it all day")

    def lit(self, moment: dt.datetime) -> Mask:
        """Cells, (rows, cols), that the sun has reached by an aware moment.

        Ground that hides it again later, and the evening, do not count.
        """
        return np.asarray(self.arrives_s <= np.float32(self.seconds(moment)))

    def share_lit(self, mask: Mask, times: Sequence[dt.datetime]) -> NDArray[np.float64]:
        """What share of some cells the sun has reached, (times,), 0 to 1.

        mask: (rows, cols), a valley, say. Of its cells those count of which it `is_known`; NaN
        where there are none. times: aware.
        """
        if mask.shape != self.arrives_s.shape:
            raise ValueError(f"a mask of shape {mask.shape} on cells of {self.arrives_s.shape}")
        arrives = self.arrives_s[mask & self.is_known]
        if arrives.size == 0:
            return np.full(len(times), np.nan)
        ordered = np.sort(arrives)  # NaN last, and so never reached
        seconds = np.array([self.seconds(time) for time in times], dtype=np.float32)
        return np.searchsorted(ordered, seconds, side="right") / arrives.size

    def beyond_height_m(self) -> Cells:
        """How high ground just beyond the raster's edge would have to be to delay the sun.

        (rows, cols) float32, metres above the datum, in the direction in which the sun comes to
        each cell; NaN where it does not. Farther off it would have to be higher still.
        """
        rows, cols = self.arrives_s.shape
        turn = self.grid.convergence_deg(*self.grid.centre_lonlat)
        turned = np.radians(self.azimuth_deg - np.float32(turn))
        row, col = np.ogrid[0:rows, 0:cols]
        down, along = -np.cos(turned), np.sin(turned)
        with np.errstate(divide="ignore"):
            to_row = np.where(down > 0.0, rows - 0.5 - row, row + 0.5) / np.abs(down)
            to_col = np.where(along > 0.0, cols - 0.5 - col, col + 0.5) / np.abs(along)
        away = np.minimum(to_row, to_col) * self.grid.cell_m
        rise = away * np.tan(np.radians(self.altitude_deg)) + drop_m(away, self.refraction)
        return np.asarray(self.surface.heights_m + rise, dtype=np.float32)

    def edges(self, times: Sequence[dt.datetime]) -> gpd.GeoDataFrame:
        """The edge of the light at each of several aware times: contours of the arrival.

        One row a time that has any: `time`, `length_m` and lines in EPSG:4326.
        """
        seconds = np.where(np.isfinite(self.arrives_s), self.arrives_s, np.nan)
        lines = [contour_lines(self.grid, seconds, self.seconds(time)) for time in times]
        rows = [(time, *line) for time, line in zip(times, lines, strict=True) if line[1] > 0.0]
        return gpd.GeoDataFrame(
            {"time": [row[0] for row in rows], "length_m": [row[2] for row in rows]},
            geometry=[row[1] for row in rows],
            crs="EPSG:4326",
        )


def light_arrival(
    dem: Dem,
    day: dt.date,
    *,
    mist: Mist | None = None,
    limb: float = 1.0,
    temperature_c: float = 10.0,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> Arrival:
    """The moment direct sun first reaches each cell of ground, and of the mist where mist lies.

    day: the local date in the middle of the tile. mist: lies over the ground. limb: an offset in
    semi-diameters of the sun, 1 for any part of the disc, 0 for half of it, -1 for all of it.
    temperature_c: of the air; its pressure is the standard one at the height of each cell.
    progress: called with the share done.

    The whole day is searched. The earth itself hides the sun as far down as the lowest ground of
    the tile would; ground beyond the raster's edge is unknown and hides nothing.

    Raises NoSun where the sun does not rise that day, or sets nowhere on the tile; NoGround where
    no ground is known; ValueError for a limb beyond the disc.

    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(9, 40))
    >>> plain = Dem(np.zeros(grid.shape), grid)
    >>> arrival = light_arrival(plain, dt.date(2025, 3, 20))
    >>> f"{arrival.at(*map(float, grid.lonlat(4, 10))):%H:%M %Z}"
    '06:01 -01'
    """
    surface = dem if mist is None else mist.surface(dem)
    if np.isnan(surface.heights_m).all():
        raise NoGround("no ground of the raster is known: choose another raster")
    field = sun_field(surface, day, limb=limb, temperature_c=temperature_c)
    light = first_light(surface, field, refraction=refraction, progress=progress)
    if np.isneginf(light.arrives_s[~np.isnan(light.arrives_s)]).all() and field.up_at_start:
        raise NoSun(f"the sun does not set on {day} at {field.path.zone.key}: it is up all day")
    return Arrival(
        surface=surface,
        day=day,
        since=field.path.start,
        limb=limb,
        refraction=refraction,
        arrives_s=light.arrives_s,
        azimuth_deg=light.azimuth_deg,
        altitude_deg=light.altitude_deg,
    )


def contour_lines(
    grid: Grid, values: NDArray[np.generic], level: float
) -> tuple[shapely.MultiLineString, float]:
    """Where values on a grid pass a level: lines in EPSG:4326, and their length in metres."""
    contours = contourpy.contour_generator(
        z=np.ma.masked_invalid(values), line_type=contourpy.LineType.Separate
    )
    lines = [np.asarray(line) for line in contours.lines(level)]
    length = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines)
    placed = [np.column_stack(grid.lonlat(line[:, 1], line[:, 0])) for line in lines]
    return shapely.MultiLineString(placed), length * grid.cell_m


@dataclass(frozen=True, kw_only=True)
class WarmLight:
    """The warm light of one morning at a spot, and what comes before it; aware datetimes.

    colour_begins: a quarter of an hour before the sun rises over a level horizon; None without
        such a sunrise. begins: the sun appears over the ground. ends: its altitude passes 6
        degrees; None where it does not that day. length: from `begins` to `ends`, zero where the
        sun is higher when it appears, None where it stays lower.
    twilight: all stages of the day's light.
    """

    colour_begins: dt.datetime | None
    begins: dt.datetime
    ends: dt.datetime | None
    length: dt.timedelta | None
    twilight: Twilight

    def stages(self) -> list[tuple[str, dt.datetime]]:
        """Names and times of what happens up to the end of the warm light, in order."""
        last = self.ends or self.begins
        dawn = [event for event in self.twilight.events() if event[1] < self.begins]
        own = [("sun appears", self.begins), ("warm light ends", last)]
        if self.colour_begins is not None:
            own.append(("colour begins", self.colour_begins))
        morning = {name.replace("_", " "): time for name, time in dawn if time < last}
        for name, time in own:
            morning[name] = time
        return sorted(morning.items(), key=lambda stage: stage[1])


def warm_light(contact: Contact, spot: Spot, *, height_m: float = 0.0) -> WarmLight:
    """From the moment the sun appears at a spot to the moment its altitude passes 6 degrees.

    contact: the sun's appearance there, as `terrain.sun_contact` gives it. height_m: of the eye
    above the sea. The altitude is the true one of the disc's centre, as in `terrain.twilight`.

    That colour is usually best from about a quarter of an hour before sunrise, that light is
    warm below 6 degrees, and that the soft part of it is often gone within minutes of the sun's
    appearance: common practice, no source.
    """
    path = sun_path(
        contact.appears.date(), lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=height_m
    )
    light = twilight_of(path)
    rises, ends = light.sunrise, light.morning_golden_ends
    length = None if ends is None else max(ends - contact.appears, dt.timedelta(0))
    return WarmLight(
        colour_begins=None if rises is None else shifted(rises, -_COLOUR_BEFORE),
        begins=contact.appears,
        ends=ends,
        length=length,
        twilight=light,
    )
