"""Every moment at which the sun shows over a skyline while it stands low.

A ridge may let a corner of the sun flash, hide it again, and let it roll up its back to stand on
the summit much later: the first appearance alone does not tell that::

                     o   nearest to the summit
                  o /\\
               o  _/  \\          o   hidden, or shows: a `Showing` lasts from the moment at which
        flash o _/     \\             the first of the disc comes out to that at which the last of
    _______ o _/        \\____        it goes

An evening is the same on the sun's path in time reversed; only what is told is put back in order.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.errors import TerrainError
from terrain.sight.skyline import Skyline
from terrain.sun.path import SunPath
from terrain.view.rims import Rims, rims_on

FLASH_S: Final = 30.0  # a shorter showing is a flash (common practice, no source)
_STEP_S: Final = 10.0
_PARTS: Final = 40


@dataclass(frozen=True, kw_only=True)
class Nearest:
    """The sun's centre at its nearest to a direction.

    Attributes
    ----------
    at : datetime
        Aware, in the place's zone.
    apart_deg : float
        Angle on the sky between the two, degrees.
    apart_widths : float
        The same in widths of the sun.
    sun_azimuth_deg, sun_altitude_deg : float
        Apparent centre of the disc at that moment, degrees.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> plain = terrain.Skyline(
    ...     spot=terrain.Spot(lon_deg=-3.1, lat_deg=54.5), eye_height_m=100.0, refraction=0.13,
    ...     azimuth_deg=np.arange(360.0), altitude_deg=np.full(360, 1.0),
    ...     distance_m=np.full(360, 9000.0), known_to_m=np.full(360, 30000.0),
    ... )
    >>> (showing,) = terrain.sun_passage(plain, dt.date(2026, 3, 20), toward=(96.0, 2.5))
    >>> [(f"{each.at:%H:%M}", round(each.apart_deg, 2)) for each in showing.nearest]
    [('06:44', 1.47)]
    """

    at: dt.datetime
    apart_deg: float
    apart_widths: float
    sun_azimuth_deg: float
    sun_altitude_deg: float


@dataclass(frozen=True, kw_only=True)
class Showing:
    """A time without a break in which any part of the sun's disc stands over the ground.

    Attributes
    ----------
    start : datetime or None
        The first of the disc comes out: aware, in the place's zone; None where it shows already
        when the span begins.
    end : datetime or None
        The last of the disc goes; None where it still shows when the span ends.
    start_azimuth_deg, start_altitude_deg : float
        Of the point of the skyline where the first of the disc comes out, degrees; NaN without a
        start. Where the ground is unknown there, the altitude is NaN, and the moment is that of a
        level horizon: the sun comes out no earlier.
    end_azimuth_deg, end_altitude_deg : float
        Of the point where the last of it goes, likewise.
    seconds : float
        How long it shows within the span.
    nearest : tuple of Nearest
        Each moment of it at which the disc's centre is nearer to the direction that was asked
        about than just before and after, the start and the end among them; empty where none was.
    is_flash : bool
        It shows for less than half a minute between two times behind the ground.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> azimuth = np.arange(7200) / 20.0
    >>> wall = terrain.Skyline(
    ...     spot=terrain.Spot(lon_deg=-3.1, lat_deg=54.5), eye_height_m=100.0, refraction=0.13,
    ...     azimuth_deg=azimuth, altitude_deg=np.where(azimuth < 90.7, 1.0, 3.0),
    ...     distance_m=np.full(7200, 9000.0), known_to_m=np.full(7200, 30000.0),
    ... )
    >>> for showing in terrain.sun_passage(wall, dt.date(2026, 3, 20)):
    ...     print(f"{showing.start:%H:%M:%S}", round(showing.seconds), showing.end is None)
    06:23:01 47 False
    06:37:52 1396 True
    """

    start: dt.datetime | None
    end: dt.datetime | None
    start_azimuth_deg: float
    start_altitude_deg: float
    end_azimuth_deg: float
    end_altitude_deg: float
    seconds: float
    nearest: tuple[Nearest, ...] = ()

    @property
    def is_flash(self) -> bool:
        """Whether it shows for less than half a minute between two times behind the ground."""
        return None not in (self.start, self.end) and self.seconds < FLASH_S


def sun_passage(
    skyline: Skyline,
    day: dt.date,
    *,
    up_to_deg: float = 6.0,
    evening: bool = False,
    toward: tuple[float, float] | None = None,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
) -> tuple[Showing, ...]:
    """Every time at which the sun shows over a skyline on its way up to an altitude, or down.

    The disc shows when any part of it stands over the ground. A flash of seconds is found too.

    Parameters
    ----------
    skyline : Skyline
        As `skyline` gives it, with the spot it belongs to.
    day : datetime.date
        The date at the place.
    up_to_deg : float, optional
        Apparent altitude of the sun's centre at which the span ends, degrees; at noon where the sun
        does not come so high. It begins when the sun is lowest.
    evening : bool, optional
        The sun on its way down: the span begins at that altitude, or at noon.
    toward : (float, float), optional
        Azimuth and altitude of a summit, degrees: the showings say when the sun is nearest to it.
    pressure_hpa, temperature_c : float, optional
        Of the air at the spot, hPa and degrees Celsius, as `sun_contact` takes them.

    Returns
    -------
    tuple of Showing
        In order; empty where the sun does not show within the span. Those that neither begin nor
        end over ground that is known are left out.

    Raises
    ------
    TerrainError
        For an altitude to go up to, or to look toward, that is not between -90 and 90 degrees.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> azimuth = np.arange(7200) / 20.0
    >>> wall = terrain.Skyline(
    ...     spot=terrain.Spot(lon_deg=-3.1, lat_deg=54.5), eye_height_m=100.0, refraction=0.13,
    ...     azimuth_deg=azimuth, altitude_deg=np.where(azimuth < 90.7, 1.0, 3.0),
    ...     distance_m=np.full(7200, 9000.0), known_to_m=np.full(7200, 30000.0),
    ... )
    >>> for showing in terrain.sun_passage(wall, dt.date(2026, 3, 20), toward=(96.0, 2.5)):
    ...     print(f"{showing.start:%H:%M:%S}", [round(n.apart_widths, 1) for n in showing.nearest])
    06:23:01 [10.0]
    06:37:52 [2.8]
    """
    for altitude_deg in (up_to_deg, *(toward or ())[1:]):
        if not -90.0 <= altitude_deg <= 90.0:
            raise TerrainError(f"an altitude must be -90 to 90 degrees, got {altitude_deg:g}")
    rims = rims_on(
        skyline, day, pressure_hpa=pressure_hpa, temperature_c=temperature_c, evening=evening
    )
    path = rims.path
    first_s, last_s = path.rise(up_to_deg)
    spells = rims.spells(first_s, last_s) if first_s < last_s else ()
    showings = (_showing(rims, *spell, (first_s, last_s), toward) for spell in spells)
    return tuple(showing for showing in showings if _is_known(showing))[_by_the_clock(path)]


def _by_the_clock(path: SunPath) -> slice:
    """What puts parts of a path in the order of the clock."""
    return slice(None, None, -1 if path.evening else 1)


def _is_known(showing: Showing) -> bool:
    """Whether known ground is under the beginning of it or under its end, where it has any."""
    unknown = math.isnan(showing.start_altitude_deg) and math.isnan(showing.end_altitude_deg)
    return not unknown or (showing.start is None and showing.end is None)


def _touches(rims: Rims, begin_s: float | None, end_s: float | None) -> list[tuple[float, float]]:
    """Azimuth and altitude of the skyline where a spell begins and where it ends, NaN without."""
    azimuths = [
        math.nan if moment_s is None else rims.touching_azimuth(moment_s, rising=rising)
        for moment_s, rising in ((begin_s, True), (end_s, False))
    ]
    return [(azimuth, float(rims.skyline.at(azimuth))) for azimuth in azimuths]


def _showing(
    rims: Rims,
    begin_s: float | None,
    end_s: float | None,
    span_s: tuple[float, float],
    toward: tuple[float, float] | None,
) -> Showing:
    path, order = rims.path, _by_the_clock(rims.path)
    start_at, end_at = _touches(rims, begin_s, end_s)[order]
    start_s, stop_s = [begin_s, end_s][order]
    first_s = span_s[0] if begin_s is None else begin_s
    last_s = span_s[1] if end_s is None else end_s
    return Showing(
        start=None if start_s is None else path.time(start_s),
        end=None if stop_s is None else path.time(stop_s),
        start_azimuth_deg=start_at[0],
        start_altitude_deg=start_at[1],
        end_azimuth_deg=end_at[0],
        end_altitude_deg=end_at[1],
        seconds=last_s - first_s,
        nearest=() if toward is None else tuple(_nearest(path, first_s, last_s, toward))[order],
    )


def _nearest(
    path: SunPath, first_s: float, last_s: float, toward: tuple[float, float]
) -> Iterator[Nearest]:
    times = np.linspace(first_s, last_s, 1 + max(2, math.ceil((last_s - first_s) / _STEP_S)))
    for least in _lows(_apart_deg(path, times, toward)):
        around = times
        for _ in range(3):
            before, after = max(least - 1, 0), min(least + 1, around.size - 1)
            around = np.linspace(around[before], around[after], _PARTS + 1)
            least = int(np.argmin(_apart_deg(path, around, toward)))
        moment_s = float(around[least])
        azimuth, altitude = path.at(moment_s)
        apart = float(_apart_deg(path, around[least], toward))
        yield Nearest(
            at=path.time(moment_s),
            apart_deg=apart,
            apart_widths=apart / (2.0 * path.semidiameter_deg),
            sun_azimuth_deg=float(azimuth) % 360.0,
            sun_altitude_deg=float(altitude),
        )


def _lows(values: Floats) -> list[int]:
    """Which values are lower than their neighbours, at the ends than their one."""
    steps = np.concatenate([[-1.0], np.diff(values), [1.0]])
    return [int(at) for at in np.flatnonzero((steps[:-1] < 0.0) & (steps[1:] >= 0.0))]


def _apart_deg(path: SunPath, times_s: Floats, toward: tuple[float, float]) -> Floats:
    """Angle on the sky between the apparent sun and a direction (by haversines)."""
    azimuth, altitude = (np.radians(part) for part in path.at(times_s))
    to_azimuth, to_altitude = np.radians(toward)
    half_chord = np.sqrt(
        np.sin(0.5 * (altitude - to_altitude)) ** 2
        + np.cos(altitude) * np.cos(to_altitude) * np.sin(0.5 * (azimuth - to_azimuth)) ** 2
    )
    return np.asarray(np.degrees(2.0 * np.arcsin(np.minimum(half_chord, 1.0))))
