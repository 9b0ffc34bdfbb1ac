"""The warm light at one spot: of a morning with the stages before it, of an evening and after."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from terrain.constants import COLOUR_BEFORE_SUNRISE_MIN
from terrain.ground.places import Spot
from terrain.sun.clock import shifted
from terrain.sun.twilight import Twilight, level_light, twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact

COLOUR_BEFORE: Final = dt.timedelta(minutes=COLOUR_BEFORE_SUNRISE_MIN)

_HALF_A_DAY: Final = dt.timedelta(hours=12)


def colour_begins(light: Twilight, appears: dt.datetime) -> dt.datetime:
    """When colour begins: a quarter of an hour before the sun rises over a level sea.

    High ground delays the sun itself but not the colour of the sky. appears: when the sun does; it
    counts where that is sooner, or where it does not rise over a level sea.
    """
    return colour_before(light.sunrise, appears)


def colour_before(sunrise: dt.datetime | None, appears: dt.datetime) -> dt.datetime:
    """The same by the sunrise over a level sea alone, None where there is none."""
    return shifted(min(_both(sunrise, appears), key=dt.datetime.timestamp), -COLOUR_BEFORE)


def colour_ends(light: Twilight, goes: dt.datetime) -> dt.datetime:
    """When colour ends: as long after sunset, or after the last of the sun where that is later."""
    return shifted(max(_both(light.sunset, goes), key=dt.datetime.timestamp), COLOUR_BEFORE)


def _both(level: dt.datetime | None, real: dt.datetime) -> list[dt.datetime]:
    """When the sun passes a level sea, where it does, and when the real ground."""
    return [real] if level is None else [level, real]


def light_at(answer: Backlight) -> Twilight:
    """The light of a morning's day where the camera stands, or of an evening's."""
    return _light_on(answer.contact.appears.date(), answer)


def level_light_at(answer: Backlight) -> dt.datetime | None:
    """Of that light what `level_light` tells."""
    view, contact = answer.view, answer.contact
    return level_light(
        contact.appears.date(),
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
        evening=contact.evening,
    )


def _light_on(day: dt.date, answer: Backlight) -> Twilight:
    view = answer.view
    return twilight(
        day,
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
    )


def lamp_at(answer: Backlight) -> dt.datetime | None:
    """When a lamp is needed after the last sun of an evening; None where it stays light enough.

    It is civil dusk, which may come after midnight.
    """
    goes = answer.contact.appears
    days = (goes.date(), goes.date() + dt.timedelta(days=1))
    dusks = (_light_on(day, answer).civil_dusk for day in days)
    return next((dusk for dusk in dusks if dusk and abs(dusk - goes) < _HALF_A_DAY), None)


class WarmStage(StrEnum):
    """What happens at a spot about the warm light, but for the stages of twilight."""

    COLOUR_BEGINS = "colour begins"
    SUN_APPEARS = "sun appears"
    WARM_LIGHT_ENDS = "warm light ends"
    WARM_LIGHT_BEGINS = "warm light begins"
    SUN_GOES = "sun goes"
    COLOUR_ENDS = "colour ends"


_MORNING: Final = (WarmStage.SUN_APPEARS, WarmStage.WARM_LIGHT_ENDS, WarmStage.COLOUR_BEGINS)
_EVENING: Final = (WarmStage.SUN_GOES, WarmStage.WARM_LIGHT_BEGINS, WarmStage.COLOUR_ENDS)


@dataclass(frozen=True, kw_only=True)
class WarmLight:
    """The warm light of one morning at a spot, and what comes before it; aware datetimes.

    Or of one evening, and what comes after it.

    Attributes
    ----------
    colour_begins : datetime or None
        The colour before sunrise begins; None of an evening.
    begins : datetime or None
        The sun appears over the ground; of an evening its altitude passes 6 degrees, None where it
        does not that day.
    ends : datetime or None
        Its altitude passes 6 degrees, None where it does not that day; of an evening the ground
        hides the last of it.
    length : datetime.timedelta or None
        From `begins` to `ends`, zero where the sun is higher when it appears or goes, None where it
        stays lower.
    twilight : Twilight
        All stages of the day's light.
    colour_ends : datetime or None
        The colour after sunset ends; None of a morning.

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
    >>> contact = terrain.sun_contact(terrain.skyline(cone, spot), dt.date(2025, 3, 1))
    >>> light = terrain.warm_light(contact, spot)
    >>> f"{light.begins:%H:%M}", f"{light.ends:%H:%M}", round(light.length.total_seconds() / 60.0)
    ('06:53', '07:36', 43)
    """

    colour_begins: dt.datetime | None
    begins: dt.datetime | None
    ends: dt.datetime | None
    length: dt.timedelta | None
    twilight: Twilight
    colour_ends: dt.datetime | None = None

    def stages(self) -> list[tuple[str, dt.datetime]]:
        """Names and times of what happens up to the end of the warm light, in order.

        Of an evening of what happens from its beginning on.
        """
        evening = self.colour_ends is not None
        meets, passes = (self.ends, self.begins) if evening else (self.begins, self.ends)
        bounds = [time for time in (meets, passes) if time is not None]
        own = zip(
            _EVENING if evening else _MORNING,
            (meets, passes or meets, self.colour_ends or self.colour_begins),
            strict=True,
        )
        stages = [
            (name.replace("_", " "), time)
            for name, time in self.twilight.events()
            if (time > max(bounds) if evening else time < min(bounds))
        ]
        stages += [(name, time) for name, time in own if time is not None]
        return sorted(stages, key=lambda stage: stage[1])


def warm_light(contact: Contact, spot: Spot, *, height_m: float = 0.0) -> WarmLight:
    """From the moment the sun appears at a spot to the moment its altitude passes 6 degrees.

    Of an evening from the moment it passes that to the moment the last of the sun goes. The
    altitude is the true one of the disc's centre, as in `twilight`.

    Parameters
    ----------
    contact : Contact
        The sun's appearance there, or of an evening its going, as `sun_contact` gives it.
    spot : Spot
        The place.
    height_m : float, optional
        Of the eye above the sea, metres.

    Returns
    -------
    WarmLight
        Its moments are aware.

    Notes
    -----
    That colour is usually best from about a quarter of an hour before sunrise, and as long after
    sunset, that light is warm below 6 degrees, and that the soft part of it is often gone within
    minutes of the sun's appearance: common practice, no source.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from terrain.ground.dem import Dem
    >>> from terrain.ground.grid import Grid
    >>> from terrain.view.contact import sun_contact
    >>> from terrain.sight.skyline import skyline
    >>> grid = Grid(crs=CRS(32628), transform=Affine(50, 0, 5e5, 0, -50, 6e6), shape=(60, 90))
    >>> plain = Dem(np.zeros(grid.shape), grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 20))
    >>> spot = Spot(lon_deg=lon, lat_deg=lat)
    >>> light = warm_light(sun_contact(skyline(plain, spot), dt.date(2025, 3, 20)), spot)
    >>> [f"{name} {time:%H:%M}" for name, time in light.stages()][-3:]
    ['colour begins 05:46', 'sun appears 06:01', 'warm light ends 06:48']
    """
    day = contact.appears.date()
    light = twilight(day, lon_deg=spot.lon_deg, lat_deg=spot.lat_deg, height_m=height_m)
    met, evening = contact.appears, contact.evening
    passes = light.evening_golden_begins if evening else light.morning_golden_ends
    begins, ends = (passes, met) if evening else (met, passes)
    length = None if begins is None or ends is None else max(ends - begins, dt.timedelta(0))
    return WarmLight(
        colour_begins=None if evening else colour_begins(light, met),
        begins=begins,
        ends=ends,
        length=length,
        twilight=light,
        colour_ends=colour_ends(light, met) if evening else None,
    )
