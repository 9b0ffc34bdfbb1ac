"""Which vantages can be walked to in time: one search from each start, for every cell at once.

A walk in ends when one is to be in place, some minutes before the colour begins, so most of it is
before civil dawn and takes longer by the dark factor (see `terrain.walk.dark`)::

      sets out           civil dawn   in place   colour begins       sun rises
    -----|===================|---------|---------|---------------------|-----> clock
         by the light of a lamp          settle        a quarter of an hour

Of an evening it ends before the warm light begins, in daylight, and the way back is in the dark.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, TerrainError
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.light.colour import COLOUR_BEFORE, colour_before, level_light_at
from terrain.sun.clock import shifted
from terrain.sun.twilight import twilight
from terrain.view.backlight import Backlight
from terrain.walk.dark import clock_about
from terrain.walk.pace import Going, fastest_m_s
from terrain.walk.reach import Reach, reach_from

_SLACK_MIN: Final = 1.0
"""Civil dawn differs a little between the hill and a vantage; what counts is told by its row."""


_LONGER, _LONG_MIN = 4.0, 240.0
"""How many times as long the walks are among which the nearest miss is looked for, or how long."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Access(Going):
    """How far one will walk to a vantage, and how.

    Parameters
    ----------
    paths : geopandas.GeoDataFrame, optional
        As for `walk_in`.
    water : (rows, cols) bool array, optional
        As for `walk_in`.
    pace : callable, optional
        As for `walk_in`.
    path_factor : float, optional
        As for `walk_in`.
    max_slope_deg : float, optional
        As for `walk_in`, degrees.
    dark_factor : float, optional
        As for `walk_in`.
    within_min : float, optional
        Minutes of the walk in, by the clock, darkness included.
    settle_min : float, optional
        Minutes from being in place to the begin of the colour, or of an evening's warm light.

    Raises
    ------
    TerrainError
        For times and factors that make no sense.

    Examples
    --------
    >>> import terrain
    >>> terrain.Access(within_min=60.0, pace=terrain.naismith).settle_min
    10.0
    """

    within_min: float = 40.0
    settle_min: float = 10.0

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 0.0 < self.within_min < np.inf:
            raise TerrainError(f"a walk within {self.within_min} minutes: give a time above 0")
        if not 0.0 <= self.settle_min < np.inf:
            raise TerrainError(f"{self.settle_min} minutes in place: give 0 or more")

    @property
    def before_colour(self) -> dt.timedelta:
        """How long before the good light begins one is to be in place."""
        return dt.timedelta(minutes=self.settle_min)


@dataclass(frozen=True, kw_only=True, eq=False)
class Walks:
    """The quickest walk in to every cell from any of the starts.

    by_day_min: (rows, cols) float32, infinite where no way leads in time; start_of: (rows, cols)
    number of the start. left_out: from the name of each start that no walk begins at to why not.
    """

    access: Access
    starts: tuple[Spot, ...]
    by_day_min: NDArray[np.float32]
    start_of: NDArray[np.int16]
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """What is asked of a walk, in words."""
        return f"a walk of {self.access.within_min:.0f} minutes at most"

    def within(
        self, cells: pd.DataFrame, hill: Hill, days: Sequence[dt.date], *, evening: bool = False
    ) -> pd.DataFrame:
        """Those of the cells (row, col) that may be walked to in time on one of the days.

        NoAnswer, with how many there were, where none is.
        """
        by_day, limit = self.by_day_min[cells["row"], cells["col"]], self.access.within_min
        if not evening:
            limit = max(self._by_day_limit_min(hill, day) for day in days)
        kept = cells[by_day <= limit + _SLACK_MIN]
        if kept.empty:
            raise self.none_of(cells, self.access, evening=evening)
        return kept

    def longer(self, country: Country, hill: Hill, far_m: float) -> Walks:
        """The walks to the same ground that take much longer."""
        within_min = max(_LONGER * self.access.within_min, _LONG_MIN)
        access = replace(self.access, within_min=within_min)
        return walks_to(country, hill, self.starts, access, far_m)

    def none_of(self, cells: pd.DataFrame, access: Access, *, evening: bool) -> NoAnswer:
        """That none of the cells (row, col) can be walked to as is asked for, and the nearest."""
        by_day_min = self.by_day_min[cells["row"], cells["col"]]
        longer = self._long_enough(float(np.min(by_day_min)), evening)
        said = self._none_of(len(cells), by_day_min, access.within_min, evening)
        return NoAnswer(said, loosen=longer)

    def to(self, answer: Backlight, cell: pd.Series) -> dict[str, Any] | None:
        """The columns of a vantage that tell of the walk to it; None where it takes too long."""
        at = int(cell["row"]), int(cell["col"])
        by_day_min = float(self.by_day_min[at])
        if not by_day_min <= self.access.within_min:
            return None
        start, spot = self.starts[int(self.start_of[at])], answer.view.spot
        clock = clock_about(
            in_place_by(answer, self.access),
            start,
            reach_s=60.0 * by_day_min,
            dark_factor=self.access.dark_factor,
        )
        walk_min = -float(clock.after(np.array(-60.0 * by_day_min))) / 60.0
        if walk_min > self.access.within_min:
            return None
        _, away_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, start.lon_deg, start.lat_deg)
        return {"start": start.label, "start_m": float(away_m), "walk_min": walk_min}

    def _by_day_limit_min(self, hill: Hill, day: dt.date) -> float:
        """How long a walk by day may be to end in time on a day, all of it by the clock there."""
        within_s = 60.0 * self.access.within_min
        risen = twilight(
            day, lon_deg=hill.lon_deg, lat_deg=hill.lat_deg, height_m=hill.height_m
        ).sunrise
        if risen is None:
            return self.access.within_min
        clock = clock_about(
            shifted(risen, -COLOUR_BEFORE - self.access.before_colour),
            Spot(lon_deg=hill.lon_deg, lat_deg=hill.lat_deg),
            reach_s=within_s,
            dark_factor=self.access.dark_factor,
        )
        return -float(np.interp(-within_s, clock.clock_s, clock.by_day_s)) / 60.0

    def _long_enough(self, by_day_min: float, evening: bool) -> list[dict[str, float]]:
        """What is asked for a walk that takes so long by day, with five minutes to spare."""
        if not np.isfinite(by_day_min):
            return []
        clock_min = by_day_min * (1.0 if evening else self.access.dark_factor)
        return [{"within_min": 5.0 * math.ceil(clock_min / 5.0 + 1.0)}]

    def _none_of(
        self, count: int, by_day_min: NDArray[np.float32], within: float, evening: bool
    ) -> str:
        places = f"none of {count} places" if count > 1 else "the one place"
        verb = "" if count > 1 else "not "
        sun = "low" if evening else "rising"
        what = f"{places} with the hill before the {sun} sun is {verb}within {within:.0f} minutes"
        nearest = float(np.min(by_day_min))
        if np.isfinite(nearest):
            dark = "" if evening else " in the dark"
            return f"{what} of a start{dark}: by day the nearest takes {nearest:.0f}"
        return f"{what} of a start: allow more, or start elsewhere"


def walkable(
    walks: Walks,
    country: Country,
    cells: pd.DataFrame,
    hill: Hill,
    days: Sequence[dt.date],
    *,
    far_m: float,
    evening: bool,
) -> pd.DataFrame:
    """As `Walks.within`; NoAnswer says how long the nearest takes, be it much longer."""
    try:
        return walks.within(cells, hill, days, evening=evening)
    except NoAnswer as error:
        if error.loosen:
            raise
        longer, access = walks.longer(country, hill, far_m), walks.access
        raise longer.none_of(cells, access, evening=evening) from error


def walks_to(
    country: Country, hill: Hill, starts: Sequence[Spot], access: Access, far_m: float
) -> Walks:
    """The walks from starts to the ground within a distance of a hill, metres.

    starts: one or more. NoAnswer where no walk begins at any of them.
    """
    dem = country.dem
    by_day_min = np.full(dem.shape, np.inf, dtype=np.float32)
    start_of = np.zeros(dem.shape, dtype=np.int16)
    left_out: dict[str, str] = {}
    most_m = far_m + 60.0 * access.within_min * fastest_m_s(access.pace)
    for number, start in enumerate(starts):
        _, away_m = azimuth_and_distance(start.lon_deg, start.lat_deg, hill.lon_deg, hill.lat_deg)
        if away_m > most_m:
            left_out[start.label] = f"it is {away_m / 1000.0:.0f} km from {hill.label}"
            continue
        try:
            reach = _reach_from(country, start, access)
        except (NoAnswer, NoGround) as error:
            left_out[start.label] = str(error)
            continue
        minutes = reach.over(dem)
        quicker = minutes < by_day_min
        by_day_min[quicker] = minutes[quicker]
        start_of[quicker] = number
    if len(left_out) == len({start.label for start in starts}):
        name, why = next(iter(left_out.items()))
        raise NoAnswer(f"no walk begins at any start; {name}: {why}")
    return Walks(
        access=access,
        starts=tuple(starts),
        by_day_min=by_day_min,
        start_of=start_of,
        left_out=left_out,
    )


def _reach_from(country: Country, start: Spot, access: Access) -> Reach:
    """How long the walk from a start takes by day, kept for the next hill and the next mist."""
    ways = access.paths, access.water
    asked = access.pace, access.path_factor, access.max_slope_deg
    # the ways are kept with the answers, for no others to be taken for them
    _, known = country.once(("reach", start, *asked, *map(id, ways)), lambda: (ways, list[Reach]()))
    for longer in known:
        reach = longer.within(access.within_min)
        if reach is not None:
            return reach
    known.append(reach_from(country.dem, start, access.within_min, access))
    return known[-1]


def in_place_by(answer: Backlight, access: Access) -> dt.datetime:
    """When one is to be in place at a vantage: before the good light by what `access` says."""
    level, best = level_light_at(answer), answer.best.at
    evening, appears = answer.contact.evening, answer.contact.appears
    return shifted(light_begins(level, appears, best, evening=evening), -access.before_colour)


def light_begins(
    level: dt.datetime | None, appears: dt.datetime, best: dt.datetime, *, evening: bool
) -> dt.datetime:
    """When the good light begins: the colour of a morning, the warm light of an evening.

    That is when the sun passes 6 degrees; or before it is best placed, or a quarter of an hour
    before it goes, where that is sooner. level: as `level_light` has it.
    """
    if not evening:
        return colour_before(level, appears)
    moments = [best, shifted(appears, -COLOUR_BEFORE), *([] if level is None else [level])]
    return min(moments, key=dt.datetime.timestamp)


def with_starts(table: pd.DataFrame, starts: Sequence[Spot]) -> pd.DataFrame:
    """The nearest start of each vantage and how far off it is as the crow flies."""
    if not starts:
        return table
    lon, lat = np.array([[start.lon_deg, start.lat_deg] for start in starts]).T[..., np.newaxis]
    _, away = azimuth_and_distance(table["lon_deg"], table["lat_deg"], lon, lat)
    nearest = away.argmin(axis=0)
    return table.assign(start=[starts[at].label for at in nearest], start_m=away.min(axis=0))
