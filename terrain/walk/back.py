"""The walk back: the same way as in, the other way round, by the clock and in the dark."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from terrain.sun.clock import shifted
from terrain.walk.dark import by_the_clock
from terrain.walk.pace import Going
from terrain.walk.walk import Steepest, Walk


def walk_back(walk: Walk, going: Going, sets_out: dt.datetime) -> Walk:
    """A walk taken back the same way from a moment on, from its spot to its start.

    going: how one walks. sets_out: timezone-aware.
    """
    legs_m, on_path = np.diff(walk.distance_m)[::-1], walk.on_path[::-1]
    rise_m = -np.diff(walk.height_m)[::-1]
    by_day_s = np.append(0.0, np.cumsum(going.seconds(legs_m, rise_m, on_path)))
    time_s, dark_s, _ = by_the_clock(by_day_s, walk.spot, going.dark_factor, sets_out, None)
    return replace(
        walk,
        start=walk.spot,
        spot=walk.start,
        lon_deg=walk.lon_deg[::-1],
        lat_deg=walk.lat_deg[::-1],
        height_m=walk.height_m[::-1],
        distance_m=walk.length_m - walk.distance_m[::-1],
        time_s=time_s,
        on_path=on_path,
        there_s=float(time_s[-1]),
        back_s=float(going.seconds(legs_m, -rise_m, on_path).sum()),
        dark_s=dark_s,
        sets_out=sets_out,
        arrives=shifted(sets_out, dt.timedelta(seconds=float(time_s[-1]))),
        ascent_m=walk.descent_m,
        descent_m=walk.ascent_m,
        steepest=_back(walk.steepest, walk.length_m),
        steepest_ground=_back(walk.steepest_ground, walk.length_m),
    )


def _back(steepest: Steepest, length_m: float) -> Steepest:
    return replace(steepest, slope_deg=-steepest.slope_deg, after_m=length_m - steepest.after_m)
