"""What of the sun's direction all places share: worked out once a day, and kept.

It is five sixths of the work of a position, and spots that are compared ask for the same days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.arrays import Floats, frozen_arrays
from terrain.sun.position import delta_t_s, semidiameter_at
from terrain.sun.pvlib_parts import spa

_UNUSED: Final = 0.0
_KEPT: Final = 800
"""Days, of 9 kB each: those of two years."""


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class SkyTimes:
    """The sky at some times, whatever the place; arrays of shape (n,).

    sidereal_deg: apparent sidereal time at Greenwich. right_ascension_deg, declination_deg: of the
    sun, apparent and geocentric. distance_au: to the sun. semidiameter_deg: of its disc, in the
    middle of them.
    """

    sidereal_deg: Floats
    right_ascension_deg: Floats
    declination_deg: Floats
    distance_au: Floats
    semidiameter_deg: float

    def direction(self, lon_deg: float, lat_deg: float, height_m: float) -> tuple[Floats, Floats]:
        """Azimuth and true altitude at one place: to the last digit those of `true_direction`."""
        hour = spa.local_hour_angle(self.sidereal_deg, lon_deg, self.right_ascension_deg)
        parallax = spa.equatorial_horizontal_parallax(self.distance_au)
        u = spa.uterm(lat_deg)
        x, y = spa.xterm(u, lat_deg, height_m), spa.yterm(u, lat_deg, height_m)
        aside = spa.parallax_sun_right_ascension(x, parallax, hour, self.declination_deg)
        declination = spa.topocentric_sun_declination(
            self.declination_deg, x, y, parallax, aside, hour
        )
        hour = spa.topocentric_local_hour_angle(hour, aside)
        altitude = spa.topocentric_elevation_angle_without_atmosphere(lat_deg, declination, hour)
        from_south = spa.topocentric_astronomers_azimuth(hour, declination, lat_deg)
        return np.asarray(spa.topocentric_azimuth_angle(from_south)), np.asarray(altitude)


def sky_times(days: Sequence[Floats]) -> list[SkyTimes]:
    """The sky at the times of each of some days, evenly spaced seconds since 1970 UTC."""
    keys = [(float(times[0]), float(times[-1]), times.size) for times in days]
    found = {key: sky for key in keys if (sky := _kept.get(key)) is not None}
    missing = {key: times for key, times in zip(keys, days, strict=True) if key not in found}
    found |= zip(missing, _worked_out(list(missing.values())), strict=True)
    for key, sky in found.items():
        _kept.pop(key, None)
        _kept[key] = sky
    while len(_kept) > _KEPT:
        _kept.pop(next(iter(_kept)), None)
    return [found[key] for key in keys]


_kept: dict[tuple[float, float, int], SkyTimes] = {}


def _worked_out(days: Sequence[Floats]) -> list[SkyTimes]:
    """All of them together."""
    if not days:
        return []
    unix_s = np.concatenate(days)
    ahead_s = delta_t_s(unix_s)
    told = spa.solar_position(unix_s, *(_UNUSED,) * 5, ahead_s, _UNUSED, numthreads=1, sst=True)
    distance = np.asarray(spa.earthsun_distance(unix_s, ahead_s, 1)).reshape(unix_s.shape)
    ends = np.cumsum([times.size for times in days])[:-1]
    # copies, so that a day that is forgotten is given back though others of its year are kept
    each = (map(np.copy, np.split(np.asarray(part), ends)) for part in (*told, distance))
    half = semidiameter_at(np.array([float(times.mean()) for times in days])).tolist()
    return [
        SkyTimes(
            sidereal_deg=v,
            right_ascension_deg=a,
            declination_deg=d,
            distance_au=r,
            semidiameter_deg=s,
        )
        for v, a, d, r, s in zip(*each, half, strict=True)
    ]
