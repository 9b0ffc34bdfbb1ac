"""The stages of a day's light, from the first grey to the last, by the altitude of the sun.

    altitude      morning                       evening
      +6      ------------ golden light ends | golden light begins
       0
    -0.83     ---------------------- sunrise | sunset
      -4      ------- blue ends, gold begins | gold ends, blue begins
      -6      - civil dawn, blue light begins | blue light ends, civil dusk
     -12      ---------------- nautical dawn | nautical dusk
     -18      ------------ astronomical dawn | astronomical dusk

The altitudes are true ones, of the disc's centre, as the almanacs have it. Sunrise and sunset are
the almanac's: the upper limb on a level horizon at sea, through 34' of refraction with 16' of
semi-diameter. Over real ground the sun appears at another moment. The altitudes that bound the
blue and the golden light are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.sun.crossings import Crossing, crossings
from terrain.sun.path import SunPath, sun_path

_RISE_DEG: Final = -50.0 / 60.0
_BLUE_DEG: Final = -4.0
_CIVIL_DEG: Final = -6.0
_NAUTICAL_DEG: Final = -12.0
_ASTRONOMICAL_DEG: Final = -18.0
_GOLD_DEG: Final = 6.0

_LEVELS_DEG: Final = (_ASTRONOMICAL_DEG, _NAUTICAL_DEG, _CIVIL_DEG, _BLUE_DEG, _RISE_DEG, _GOLD_DEG)
_STEP_S: Final = 600.0

_STATES: Final = {
    (True, True): "the sun rises and sets",
    (True, False): "the sun rises and does not set again this day",
    (False, True): "the sun sets and does not rise this day",
}


@dataclass(frozen=True, kw_only=True)
class Twilight:
    """When the light of one local calendar day changes, in local time with its zone.

    Everything is within that day, so an event that does not happen in it is None. At high
    latitudes one can happen twice, as dusk can that comes a little later than midnight at one end
    of the day and a little earlier at the other: of the morning's the first is given, of the
    evening's the last. For the same reason an evening's event can come before the morning's.

    Attributes
    ----------
    day : datetime.date
        The date.
    state : str
        In words, what the sun does this day.
    astronomical_dawn, nautical_dawn, civil_dawn : datetime or None
        The sun's centre passes 18, 12 and 6 degrees below the horizontal.
    morning_blue_begins, morning_blue_ends : datetime or None
        It passes 6 and 4 degrees below it.
    morning_golden_begins : datetime or None
        It passes 4 degrees below it.
    sunrise : datetime or None
        The upper edge of the disc comes over a level horizon, refraction included.
    morning_golden_ends : datetime or None
        The centre passes 6 degrees above the horizontal.
    transit : datetime or None
        The sun crosses the meridian.
    transit_altitude_deg : float
        True altitude then, degrees; NaN where it does not cross it.
    evening_golden_begins, sunset, evening_golden_ends : datetime or None
        The same in the evening, the other way round.
    evening_blue_begins, evening_blue_ends : datetime or None
        The same in the evening.
    civil_dusk, nautical_dusk, astronomical_dusk : datetime or None
        The same in the evening.
    highest_deg, lowest_deg : float
        Bounds of the true altitude during the day, degrees.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> light = terrain.twilight(dt.date(2025, 3, 20), lon_deg=-24.0, lat_deg=54.4)
    >>> [(name, f"{time:%H:%M}") for name, time in light.events()][2:5]
    [('civil_dawn', '05:02'), ('morning_blue_begins', '05:02'), ('morning_blue_ends', '05:16')]
    """

    day: date
    state: str
    astronomical_dawn: datetime | None
    nautical_dawn: datetime | None
    civil_dawn: datetime | None
    morning_blue_begins: datetime | None
    morning_blue_ends: datetime | None
    morning_golden_begins: datetime | None
    sunrise: datetime | None
    morning_golden_ends: datetime | None
    transit: datetime | None
    transit_altitude_deg: float
    evening_golden_begins: datetime | None
    sunset: datetime | None
    evening_golden_ends: datetime | None
    evening_blue_begins: datetime | None
    evening_blue_ends: datetime | None
    civil_dusk: datetime | None
    nautical_dusk: datetime | None
    astronomical_dusk: datetime | None
    highest_deg: float
    lowest_deg: float

    def events(self) -> list[tuple[str, datetime]]:
        """Names and times of what happens this day, in the order of time."""
        happening = [
            (name, value) for name, value in vars(self).items() if isinstance(value, datetime)
        ]
        return sorted(happening, key=lambda event: event[1])


def twilight(day: date, *, lon_deg: float, lat_deg: float, height_m: float = 0.0) -> Twilight:
    """The stages of light of one local calendar day at a place, to the second.

    Parameters
    ----------
    day : datetime.date
        The date on the calendar at the place.
    lon_deg : float
        Longitude, WGS 84 degrees.
    lat_deg : float
        Latitude, WGS 84 degrees.
    height_m : float, optional
        Of the eye above the sea, metres; it enters through the sun's parallax alone, for all
        altitudes here are geometric.

    Returns
    -------
    Twilight
        What happens that day, in the place's zone.

    Raises
    ------
    TerrainError
        For a place that is not on the earth, or a day that its calendar skipped.

    References
    ----------
    Explanatory Supplement to the Astronomical Almanac, on rising, setting and twilight.

    Examples
    --------
    >>> light = twilight(date(2025, 6, 21), lon_deg=-24.0, lat_deg=54.4)
    >>> f"{light.sunrise:%H:%M}", f"{light.sunset:%H:%M}", light.astronomical_dawn
    ('03:00', '20:14', None)
    """
    path = sun_path(day, lon_deg=lon_deg, lat_deg=lat_deg, height_m=height_m)
    dawn, dusk = {}, {}
    for level in _LEVELS_DEG:
        dawn[level], dusk[level] = _passes(path, level)
    noons = crossings(path.east_at, 0.0, path.length_s, _STEP_S)
    transit = _first(path, noons, rising=False)
    transit_deg = np.nan if transit is None else path.true_at(path.seconds(transit))[1]
    highest, lowest = _extremes(path, noons)
    return Twilight(
        day=path.day,
        state=_state(dawn[_RISE_DEG], dusk[_RISE_DEG], highest),
        astronomical_dawn=dawn[_ASTRONOMICAL_DEG],
        nautical_dawn=dawn[_NAUTICAL_DEG],
        civil_dawn=dawn[_CIVIL_DEG],
        morning_blue_begins=dawn[_CIVIL_DEG],
        morning_blue_ends=dawn[_BLUE_DEG],
        morning_golden_begins=dawn[_BLUE_DEG],
        sunrise=dawn[_RISE_DEG],
        morning_golden_ends=dawn[_GOLD_DEG],
        transit=transit,
        transit_altitude_deg=float(transit_deg),
        evening_golden_begins=dusk[_GOLD_DEG],
        sunset=dusk[_RISE_DEG],
        evening_golden_ends=dusk[_BLUE_DEG],
        evening_blue_begins=dusk[_BLUE_DEG],
        evening_blue_ends=dusk[_CIVIL_DEG],
        civil_dusk=dusk[_CIVIL_DEG],
        nautical_dusk=dusk[_NAUTICAL_DEG],
        astronomical_dusk=dusk[_ASTRONOMICAL_DEG],
        highest_deg=highest,
        lowest_deg=lowest,
    )


def level_light(
    day: date, *, lon_deg: float, lat_deg: float, height_m: float, evening: bool
) -> datetime | None:
    """The `sunrise` of `twilight` alone, or of an evening its `evening_golden_begins`.

    Arguments and errors as there.
    """
    path = sun_path(day, lon_deg=lon_deg, lat_deg=lat_deg, height_m=height_m)
    return _passes(path, _GOLD_DEG)[1] if evening else _passes(path, _RISE_DEG)[0]


def _passes(path: SunPath, level_deg: float) -> tuple[datetime | None, datetime | None]:
    """When the sun first comes up through a level, and when it last goes down through it."""
    passages = crossings(partial(_above, path, level_deg), 0.0, path.length_s, _STEP_S)
    return _first(path, passages, rising=True), _first(path, passages[::-1], rising=False)


def _above(path: SunPath, level_deg: float, t_s: Floats) -> Floats:
    """How far the true altitude of the sun's centre is above a level, degrees."""
    return path.true_at(t_s)[1] - level_deg


def _first(path: SunPath, passages: list[Crossing], *, rising: bool) -> datetime | None:
    """The moment of the first passage in one direction, or None."""
    moments = (path.time(passage.t_s) for passage in passages if passage.rising == rising)
    return next(moments, None)


def _extremes(path: SunPath, noons: list[Crossing]) -> tuple[float, float]:
    """Highest and lowest true altitude of the day, on the meridian or elsewhere."""
    ticks = np.linspace(0.0, path.length_s, 1 + int(path.length_s / _STEP_S))
    altitudes = path.true_at(np.append(ticks, [noon.t_s for noon in noons]))[1]
    return float(altitudes.max()), float(altitudes.min())


def _state(sunrise: datetime | None, sunset: datetime | None, highest_deg: float) -> str:
    """What the sun does this day, in words."""
    if sunrise is None and sunset is None:
        where = "above" if highest_deg > _RISE_DEG else "below"
        return f"the sun stays {where} the horizon all day"
    return _STATES[sunrise is not None, sunset is not None]
