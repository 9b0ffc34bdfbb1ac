"""How the sun of a day passes a summit, as it is seen from many cells.

::

              .  o            o   its centre at its nearest to A, where the sky begins over the
            .  '                  summit: aside of its way by so many degrees of declination
          o     A  _          or its upper rim as it comes to that altitude, aside by azimuth
        .      / \\/ \\
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats
from terrain.constants import SUN_SEMIDIAMETER_AT_1_AU_DEG
from terrain.ground.geodesy import wrap_deg
from terrain.ground.tables import with_columns
from terrain.sun.sun_line import SkyPoints, SunLine
from terrain.vantage.limits import Limits

AzimuthAt = Callable[[Floats], Floats]
Columns = pd.DataFrame | Mapping[str, Floats]

_SLACK_DEG = 0.4
_LOW_DEG, _HIGHEST_DEG, _STEPS = 6.0, 15.0, 6
_ROUNDING_DEG = 1e-9
_SEEN = "azimuth_deg", "altitude_deg", "sky_deg", "lat_deg"
_LIMB_DEG, _STRETCH = 0.75, 1.1
"""Half a disc as a true altitude, where the air flattens it by 2.6 at most; and by how much more
directions of two altitudes, one disc apart, differ by azimuth on the true sky than on the seen."""


def _rising(line: SunLine, cells: Columns) -> AzimuthAt:
    """The sun's azimuth from each cell on a day as its upper limb stands at altitudes."""
    return lambda limb_deg: line.azimuth_at(
        limb_deg - SUN_SEMIDIAMETER_AT_1_AU_DEG, cells["lat_deg"]
    )


def offset_deg(cells: Columns, azimuth_at: AzimuthAt) -> Floats:
    """How far from the summit the sun stands as its top comes to where the sky begins there, (n,).

    That is at the summit's altitude where it is not known what stands behind (`sky_deg`).
    """
    sky = cells["sky_deg" if "sky_deg" in cells else "altitude_deg"]
    altitude = np.asarray(sky, dtype=float)
    aside = wrap_deg(azimuth_at(altitude) - np.asarray(cells["azimuth_deg"]))
    return np.asarray(aside * np.cos(np.radians(altitude)))


def with_sun(cells: pd.DataFrame, line: SunLine) -> pd.DataFrame:
    """Cells with how the sun of a day passes the summit: at its appearance, and at its best.

    The best is the nearest of its way to where the sky begins over the summit, while it is low.
    """
    return with_columns(cells, _sun_past(cells, line))


def _sun_past(cells: Columns, line: SunLine) -> dict[str, Floats]:
    offset, sky_deg = offset_deg(cells, _rising(line, cells)), np.asarray(cells["sky_deg"])
    passing = np.abs(line.aside_of(cells["azimuth_deg"], sky_deg, cells["lat_deg"]))
    passing[sky_deg > _LOW_DEG + passing + _SLACK_DEG] = np.nan
    best_deg = np.fmin(passing, np.abs(offset))
    apart_deg = np.hypot(best_deg, sky_deg - np.asarray(cells["altitude_deg"]))
    return {
        "offset_deg": offset,
        "best_deg": best_deg,
        "sun_deg": sky_deg,
        "sun_from_summit_deg": apart_deg,
    }


def may_pass(lines: Sequence[SunLine], cells: pd.DataFrame, limits: Limits) -> Flags:
    """Where the sun may pass near the summit on some day, or near what may stand behind it, (n,).

    Each line is asked only of cells that the lowest and the highest sun of all days leave open.
    """
    passes = np.zeros(len(cells), dtype=bool)
    if not lines:
        return passes
    low_deg = cells["altitude_deg"].to_numpy(dtype=float)
    up = np.maximum(_HIGHEST_DEG - low_deg, 0.0) * np.linspace(0.0, 1.0, _STEPS)[:, np.newaxis]
    points = lines[0].sky_points(cells["azimuth_deg"], low_deg + up, cells["lat_deg"])
    wide = limits.tolerance_deg + 2.0 * _SLACK_DEG
    lowest = min(float(line.declination_deg.min()) for line in lines) - wide - _ROUNDING_DEG
    highest = max(float(line.declination_deg.max()) for line in lines) + wide + _ROUNDING_DEG
    far = points.declination_deg
    open_still = np.flatnonzero((far.min(axis=0) <= highest) & (far.max(axis=0) >= lowest))
    points = SkyPoints(*(part[:, open_still] for part in points))
    for line in lines:
        aside = line.aside_of_points(points)
        near = (np.fmin.reduce(aside) <= wide) & (np.fmax.reduce(aside) >= -wide)
        passes[open_still[near]] = True
    return passes


def _is_near(passed: Columns, limits: Limits) -> Flags:
    return np.asarray(passed["best_deg"] <= limits.tolerance_deg + _SLACK_DEG)


def where_sky_begins(cells: pd.DataFrame, line: SunLine) -> SkyPoints:
    """Points of the sky over the summit, (n,), as `near_on` takes them."""
    return line.sky_points(cells["azimuth_deg"], cells["sky_deg"], cells["lat_deg"])


def near_on(cells: pd.DataFrame, points: SkyPoints | None, line: SunLine, limits: Limits) -> Flags:
    """Where the sun of a day passes near enough to where the sky begins over the summit, (n,).

    points: of the sky there, of that line or of another of the same place. What `with_sun` finds
    is asked only of cells for which the sun's declination may do: two directions differ in
    declination by no more than the angle between them. If the sun appears near the summit, its
    centre is then so far from that point: aside by azimuth, and lower by half a disc, which as a
    true altitude is more (`_LIMB_DEG`). Between the hours of the two its own declination changes by
    no more than in all of the half day.
    """
    near = np.zeros(len(cells), dtype=bool)
    if points is None:
        return near
    near_deg = limits.tolerance_deg + _SLACK_DEG
    aside = np.abs(line.aside_of_points(points))
    widest_deg = _STRETCH * near_deg + _LIMB_DEG + float(np.ptp(line.declination_deg))
    # of what the sun is near in the other half of the day alone, that is not a number
    may = np.flatnonzero(~(aside > widest_deg))
    some = {name: cells[name].to_numpy()[may] for name in _SEEN}
    near[may] = _is_near(_sun_past(some, line), limits)
    return near
