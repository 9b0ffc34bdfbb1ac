"""The light of named valleys: what share of each the sun has reached, or not yet left, by time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from terrain.arrays import Singles
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley


def valley_shares(
    arrival: Arrival, valleys: Sequence[Valley], times: Sequence[dt.datetime]
) -> pd.DataFrame:
    """What share of each valley the sun has reached at each time, or of an evening not yet left.

    Of a valley's ground, or the mist on it, that part counts of which it is known when the sun
    comes. Ground that later goes back into shade still counts as reached, and of an evening ground
    that the sun comes back to as not yet left.

    Parameters
    ----------
    arrival : Arrival
        The light of the morning, or of the evening.
    valleys : sequence of Valley
        On the same grid.
    times : sequence of datetime
        Aware.

    Returns
    -------
    pandas.DataFrame
        (times, valleys), 0 to 1; the times are the index, `time`, and the names of the valleys the
        columns. NaN where nothing of a valley is known.

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
    >>> whole = terrain.Valley(name="all", grid=grid, cells=np.ones(grid.shape, dtype=bool))
    >>> times = [dt.datetime(2025, 3, 30, hour, tzinfo=dt.UTC) for hour in (6, 12)]
    >>> terrain.valley_shares(arrival, [whole], times)["all"].tolist()
    [0.0, 1.0]
    """
    _check(arrival, valleys)
    shares = [arrival.share_lit(valley.cells, times) for valley in valleys]
    table = np.reshape(shares, (len(valleys), len(times))).T
    index = pd.DatetimeIndex(list(times), name="time")
    return pd.DataFrame(table, index=index, columns=[valley.name for valley in valleys])


def valley_times(
    arrival: Arrival, valleys: Sequence[Valley], *, shares: Sequence[float] = (0.1, 0.5, 0.9)
) -> pd.DataFrame:
    """When the sun first comes into each valley, has reached some shares of it, and all.

    Of an evening when it first leaves a part of it for good, has some shares still, and is gone.

    Parameters
    ----------
    arrival : Arrival
        The light of the morning, or of the evening.
    valleys : sequence of Valley
        On the same grid.
    shares : sequence of float, optional
        Above 0 and up to 1.

    Returns
    -------
    pandas.DataFrame
        One row a valley, by its name (the index, `valley`), and aware times in the tile's zone, in
        the order of the clock:

        - `area_km2`; `first_light` and `last_light`: of the first and the last cell that it
        reaches;
          of an evening `first_shade` and `last_light`, of the first and the last cell that it
          leaves
        - `lit_10`, `lit_50`, ... for each of the `shares` of its known ground; NaT where the sun
        does
          not come to so much of it that day, the start of the day where it is up all night, and of
          an evening its end where it is up then
        - `never_share`: of the known ground, to which the sun does not come that day
        - `unknown_share`: of all of it, of which it is not known when, since the ground or what
        lies
          toward the sun is unknown. `beyond_m`: ground just beyond the raster's edge must be higher
          than this, in metres, to delay the sun on any of the rest, but for the tenth of it that is
          delayed most easily, or of an evening to take it sooner; NaN where nothing can

    Raises
    ------
    ValueError
        For a share that is not above 0 and up to 1.

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
    >>> whole = terrain.Valley(name="all", grid=grid, cells=np.ones(grid.shape, dtype=bool))
    >>> found = terrain.valley_times(arrival, [whole], shares=[0.5])
    >>> [f"{found.loc['all', name]:%H:%M}" for name in ("first_light", "lit_50", "last_light")]
    ['05:32', '05:36', '08:12']
    >>> arrival = terrain.light_arrival(cone, dt.date(2025, 3, 30), evening=True)
    >>> found = terrain.valley_times(arrival, [whole], shares=[0.5])
    >>> [f"{found.loc['all', name]:%H:%M}" for name in ("first_shade", "lit_50", "last_light")]
    ['15:56', '18:32', '18:36']
    """
    _check(arrival, valleys)
    if not all(0.0 < share <= 1.0 for share in shares):
        raise ValueError(f"shares of a valley must be above 0 and up to 1, got {list(shares)}")
    beyond = arrival.beyond_height_m()
    rows = [_times(arrival, valley, shares, beyond) for valley in valleys]
    names = pd.Index([valley.name for valley in valleys], name="valley")
    return pd.DataFrame(rows, index=names)


def _times(
    arrival: Arrival, valley: Valley, shares: Sequence[float], beyond_m: Singles
) -> dict[str, Any]:
    known = valley.cells & arrival.is_known
    ordered = np.sort(arrival.sense * arrival.arrives_s[known])  # NaN last, and so never reached
    count, comes = ordered.size, ordered[~np.isnan(ordered)]
    reached = {
        f"lit_{100 * share:g}": ordered[int(np.ceil(share * count)) - 1 :] for share in shares
    }
    first, last = (
        ("last_light", "first_shade") if arrival.evening else ("first_light", "last_light")
    )
    moments = {first: comes, **reached, last: comes[-1:]}
    by_clock = list(moments.items())[:: int(arrival.sense)]
    hidden = beyond_m[known]
    hidden = hidden[np.isfinite(hidden)]
    return {
        "area_km2": valley.area_km2,
        **{name: _first(arrival, seconds) for name, seconds in by_clock},
        "never_share": 1.0 - comes.size / count if count else np.nan,
        "unknown_share": 1.0 - count / np.count_nonzero(valley.cells),
        "beyond_m": float(np.quantile(hidden, 0.1)) if hidden.size else np.nan,
    }


def _first(arrival: Arrival, seconds: Singles) -> Any:
    """The moment of the first of some, NaT where there is none."""
    if not seconds.size or np.isnan(seconds[0]):
        return pd.NaT
    return pd.Timestamp(arrival.moment(np.clip(arrival.sense * seconds[0], 0.0, arrival.length_s)))


def _check(arrival: Arrival, valleys: Sequence[Valley]) -> None:
    for valley in valleys:
        if valley.grid != arrival.grid:
            raise ValueError(f"{valley.name} lies on another grid than the light: make it from it")
