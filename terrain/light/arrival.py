"""Where the light falls, minute by minute: the first sun on ground and mist, cell by cell.

Of an evening it is the last sun, found in the same way with time turned round. The moment a cell is
reached is that of the whole disc over the cell's own horizon, but for two things. While many cells
wait, horizons two minutes of the sun apart (more where it is high) are joined by straight lines, so
that a skyline that is jagged within the sun's own width is smoothed. And a gap in the skyline
through which the sun shows for less than a few minutes, before it is hidden again, may be missed.
On ridges at 75 m half of all cells are within 2 s of `terrain.sun_contact` over `terrain.skyline`
and 95 of 100 within 20 s; on fells at 50 m within 4 s and 50 s; beside an upright edge of the
skyline it can be two or three minutes. Where the horizon is nearer than five cells the ground
between the cells decides."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import contourpy
import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats, Singles, frozen_arrays, sealed
from terrain.errors import NoGround, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.sight.left_out import LeftOut, Margins


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Arrival:
    """The moment direct sun first reaches each cell of a surface on a local day, or last leaves.

    `evening` says which of the two; what is called arriving, or reached, is then to be read
    backward in time, from the end of the day on. The arrays are read-only.

    Attributes
    ----------
    surface : Dem
        Ground, or ground and mist.
    day : datetime.date
        The local date in the middle of the tile.
    since : datetime
        The aware moment, in the tile's zone, from which seconds count: the start of the day.
    limb : float
        Which part of the disc counts, 1 any part of it, 0 half, -1 all of it.
    refraction : float
        Coefficient of terrestrial refraction, dimensionless.
    arrives_s : (rows, cols) float32 array, seconds
        Of the evening when it leaves. NaN where the sun does not come that day or it is not known
        when; -inf where it is up when the search begins, at the lowest sun of the day, and of the
        evening inf.
    azimuth_deg : (rows, cols) float32 array, degrees
        From true north, of the point of the skyline where it comes over, or goes down behind; NaN
        where it does not come. Known as well where only unknown ground lies that way.
    altitude_deg : (rows, cols) float32 array, degrees
        Of that point; NaN with `arrives_s`.
    evening : bool
        Whether it is the last sun of the day in place of the first.

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
    >>> arrival = terrain.light_arrival(cone, dt.date(2025, 3, 30))
    >>> f"{arrival.at(lon, lat):%H:%M}", bool(arrival.is_known.all())
    ('06:17', False)
    >>> f"{terrain.light_arrival(cone, dt.date(2025, 3, 30), evening=True).at(lon, lat):%H:%M}"
    '18:32'
    """

    surface: Dem
    day: dt.date
    since: dt.datetime
    limb: float
    refraction: float
    arrives_s: Singles
    azimuth_deg: Singles
    altitude_deg: Singles
    evening: bool = False

    @property
    def sense(self) -> float:
        """What makes seconds ascend as the search has them: 1, and of an evening -1."""
        return -1.0 if self.evening else 1.0

    @property
    def length_s(self) -> float:
        """How long the day lasts, seconds."""
        return self.seconds(
            dt.datetime.combine(self.day + dt.timedelta(1), dt.time(), self.since.tzinfo)
        )

    @property
    def grid(self) -> Grid:
        """Where the cells lie."""
        return self.surface.grid

    @cached_property
    def is_known(self) -> Flags:
        """Cells of which it is known when the sun comes, or that it does not; read-only."""
        unasked = np.isnan(self.arrives_s) & ~np.isnan(self.azimuth_deg)
        return sealed(~np.isnan(self.surface.heights_m) & ~unasked)

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
        """When the sun first reaches the cell that holds a place, or leaves it, as a datetime.

        It is aware. Raises NoGround off the raster, on unknown ground and where only unknown ground
        lies toward the sun; NoSun where the sun does not come that day, or never leaves.
        """
        cell = self.grid.cell_of(lon_deg, lat_deg)
        arrives, place = float(self.arrives_s[cell]), f"{lat_deg:.4f}, {lon_deg:.4f}"
        if np.isfinite(arrives):
            return self.moment(arrives)
        if np.isnan(self.surface.heights_m[cell]):
            raise NoGround(f"the ground at {place} is unknown: choose another place")
        if np.isinf(arrives):
            why = "still when the day ends" if self.evening else "all night"
            raise NoSun(f"the sun does not leave {place} on {self.day}: it is up {why}")
        if not self.is_known[cell]:
            raise NoGround(
                f"the ground toward azimuth {float(self.azimuth_deg[cell]):.1f} is unknown from "
                f"{place} on: choose a place farther from the raster's edge"
            )
        raise NoSun(f"the sun does not reach {place} on {self.day}: the ground hides it all day")

    def clock_times(
        self, every_min: float, *, cells: Flags | None = None, share: float = 0.95
    ) -> list[dt.datetime]:
        """Whole steps of the local clock while the light comes or goes, as aware datetimes.

        every_min: minutes from one to the next, counted from the start of the day. In order, from
        the last before the first light on some cells (rows, cols), or on all, to the first by which
        a share of those that the sun comes to is lit; of an evening from the last at which that
        share is lit still to the first after the last light. Empty where it comes to none of them.
        TerrainError for a step that is not above 0.
        """
        if not 0.0 < every_min < np.inf:
            raise TerrainError(f"steps of {every_min} minutes are none: give more than 0")
        arrives = self.arrives_s if cells is None else self.arrives_s[cells]
        arrives = self.sense * arrives[np.isfinite(arrives)]
        if not arrives.size:
            return []
        step_s = 60.0 * every_min
        first = int(np.floor(float(arrives.min()) / step_s))
        last = int(np.ceil(float(np.quantile(arrives, share)) / step_s))
        steps = sorted(self.sense * number for number in range(first, last + 1))
        return [self.moment(number * step_s) for number in steps]

    def lit(self, moment: dt.datetime) -> Flags:
        """Cells, (rows, cols), that the sun has reached by an aware moment.

        Ground that hides it again later, and the evening, do not count. Of an evening those that
        it has not left for good.
        """
        compare = np.greater_equal if self.evening else np.less_equal
        return np.asarray(compare(self.arrives_s, np.float32(self.seconds(moment))))

    def share_lit(self, mask: Flags, times: Sequence[dt.datetime]) -> Floats:
        """What share of some cells the sun has reached, or not yet left, (times,), 0 to 1.

        mask: (rows, cols), a valley, say. Of its cells those count of which it `is_known`; NaN
        where there are none. times: aware.
        """
        if mask.shape != self.arrives_s.shape:
            raise ValueError(f"a mask of shape {mask.shape} on cells of {self.arrives_s.shape}")
        arrives = self.arrives_s[mask & self.is_known]
        if arrives.size == 0:
            return np.full(len(times), np.nan)
        ordered = np.sort(self.sense * arrives)  # NaN last, and so never reached
        seconds = np.array([self.sense * self.seconds(time) for time in times], dtype=np.float32)
        return np.searchsorted(ordered, seconds, side="right") / arrives.size

    @cached_property
    def _margins(self) -> Margins:
        return Margins(
            ground=self.surface,
            azimuth_deg=self.azimuth_deg,
            altitude_deg=self.altitude_deg,
            refraction=self.refraction,
        )

    @property
    def known_to_m(self) -> Singles:
        """How far the ground is known toward the sun when it comes or goes, metres; read-only.

        (rows, cols) float32, as `terrain.known_to` counts it; NaN where the sun does not come.
        """
        return self._margins.known_to_m

    def beyond_height_m(self) -> Singles:
        """How high hidden ground beyond the known would have to be to delay the sun.

        Or, of an evening, to take it sooner. (rows, cols) float32, metres above the datum, in the
        direction in which the sun comes to each cell; NaN where it does not. Hidden ground that
        stays lower changes nothing, however far off.
        """
        return self._margins.beyond_height_m

    def left_out(self) -> LeftOut:
        """What the raster's edge and gaps leave open of the whole field, in a few figures."""
        return self._margins.left_out()

    def unknown(self) -> tuple[float, float]:
        """The ground to which the sun comes over unknown ground alone: km², and its share of all.

        When it comes there is not known.
        """
        ground = ~np.isnan(self.surface.heights_m)
        cells = int(np.count_nonzero(ground & ~self.is_known))
        return cells * self.grid.cell_m**2 / 1e6, cells / np.count_nonzero(ground)

    def bands(self) -> dict[str, NDArray[Any]]:
        """The arrays by what they are, with their units, as `save_raster` writes them."""
        comes = np.isfinite(self.arrives_s)
        local, azimuth, altitude = (
            np.where(comes, values, np.nan)
            for values in (self.arrives_s, self.azimuth_deg, self.altitude_deg)
        )
        midnight = dt.datetime.combine(self.day, dt.time(), tzinfo=dt.UTC)
        ahead_h = (self.since.astimezone(dt.UTC) - midnight).total_seconds() / 3600.0
        void, all_night = np.isnan(self.surface.heights_m), np.isinf(self.arrives_s)
        state = np.select([void, comes, all_night, self.is_known], [np.nan, 0.0, 1.0, 2.0], 3.0)
        which, does, night = (
            ("last", "goes behind", "up when the day ends")
            if self.evening
            else ("first", "comes over", "up all night")
        )
        return {
            f"{which} sun, seconds after {self.since.isoformat(timespec='seconds')}": local,
            f"{which} sun, hours after {midnight:%Y-%m-%dT%H:%MZ}": local / 3600.0 + ahead_h,
            "azimuth of the sun then, degrees from true north": azimuth,
            f"altitude of the ground it {does}, degrees": altitude,
            f"0 the sun {does[:5].rstrip()}, 1 {night}, 2 no sun that day, 3 not known": state,
        }

    def edges(self, times: Sequence[dt.datetime]) -> gpd.GeoDataFrame:
        """The edge of the light at each of several aware times: contours of `arrives_s`.

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
