"""What darkness adds to a walk: clock time against the time it takes by day.

Before civil dawn (the sun's centre 6 degrees under the horizontal) the ground cannot be read
without a lamp and every leg takes longer by one factor. So the same route is the quickest by day
and by night, and only the clock runs on::

    time by day  |            .-'      slope 1 by day, 1 / factor in the dark
                 |        _.-'
                 |   _.-''  dawn
                 '-''------------ clock
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.sun.clock import shifted
from terrain.sun.position import sun_position

_DARK_DEG: Final = -6.0
_SAMPLE_S: Final = 60.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Clock:
    """Clock time about a moment, against the time a walk takes by day.

    moment: timezone-aware. clock_s: (n,) seconds from it, ascending. by_day_s: (n,) how much of
    a walk by day is done in that time, 0 at the moment. dark_s: (n,) how much of it is dark.
    """

    moment: dt.datetime
    clock_s: Floats
    by_day_s: Floats
    dark_s: Floats

    def after(self, by_day_s: Floats) -> Floats:
        """Clock seconds from the moment until so much (any shape, may be negative) is walked."""
        return np.asarray(np.interp(by_day_s, self.by_day_s, self.clock_s))

    def dark_between(self, start_s: float, end_s: float) -> float:
        """Dark seconds between two clock times, in seconds from the moment."""
        start, end = np.interp([start_s, end_s], self.clock_s, self.dark_s)
        return float(end - start)


def clock_about(moment: dt.datetime, spot: Spot, *, reach_s: float, dark_factor: float) -> Clock:
    """The clock at a spot for walks of up to `reach_s` seconds by day before or after a moment.

    dark_factor: how much longer a leg takes in the dark, 1 or more. TerrainError for a moment
    without a time zone.
    """
    if moment.tzinfo is None:
        raise TerrainError(f"{moment} has no time zone: say which clock it is on")
    steps = int(np.ceil(reach_s * dark_factor / _SAMPLE_S)) + 2
    sample_s = np.arange(-steps, steps + 1) * _SAMPLE_S
    times = pd.Timestamp(moment).tz_convert("UTC") + pd.to_timedelta(sample_s, unit="s")
    sun = sun_position(times, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg)
    over = sun.altitude_deg - _DARK_DEG
    turn = np.flatnonzero((over[:-1] < 0.0) != (over[1:] < 0.0))
    share = over[turn] / (over[turn] - over[turn + 1])
    edge_s = sample_s[turn] + share * _SAMPLE_S
    clock_s = np.unique(np.concatenate([sample_s[[0, -1]], edge_s, [0.0]]))
    middle_s = 0.5 * (clock_s[1:] + clock_s[:-1])
    dark = np.interp(middle_s, sample_s, over) < 0.0
    length_s = np.diff(clock_s)
    by_day_s = np.append(0.0, np.cumsum(np.where(dark, length_s / dark_factor, length_s)))
    return Clock(
        moment=moment,
        clock_s=clock_s,
        by_day_s=by_day_s - np.interp(0.0, clock_s, by_day_s),
        dark_s=np.append(0.0, np.cumsum(np.where(dark, length_s, 0.0))),
    )


def by_the_clock(
    by_day_s: Floats,
    start: Spot,
    dark_factor: float,
    sets_out: dt.datetime | None,
    arrives: dt.datetime | None,
) -> tuple[Floats, float, dt.datetime | None]:
    """Clock seconds along a way from a start, the dark ones of them, and when it begins.

    by_day_s: (n,) so far by day. sets_out, arrives: when it begins, or ends; of neither, it is all
    by day.
    """
    moment = sets_out or arrives
    if moment is None:
        return by_day_s, 0.0, None
    total_s = float(by_day_s[-1])
    clock = clock_about(moment, start, reach_s=total_s, dark_factor=dark_factor)
    at_s = clock.after(by_day_s - (0.0 if arrives is None else total_s))
    dark_s = clock.dark_between(float(at_s[0]), float(at_s[-1]))
    return at_s - at_s[0], dark_s, shifted(moment, dt.timedelta(seconds=float(at_s[0])))
