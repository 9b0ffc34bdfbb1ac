"""The warm light of a morning at one spot, and the stages before it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from terrain.constants import COLOUR_BEFORE_SUNRISE_MIN
from terrain.ground.places import Spot
from terrain.sun.clock import shifted
from terrain.sun.twilight import Twilight, twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact

COLOUR_BEFORE: Final = dt.timedelta(minutes=COLOUR_BEFORE_SUNRISE_MIN)


def colour_begins(light: Twilight, appears: dt.datetime) -> dt.datetime:
    """When colour begins: a quarter of an hour before the sun rises over a level sea.

    High ground delays the sun itself but not the colour of the sky. appears: when the sun does; it
    counts where that is sooner, or where it does not rise over a level sea.
    """
    risen = appears
    if light.sunrise is not None:
        risen = min(light.sunrise, risen, key=dt.datetime.timestamp)
    return shifted(risen, -COLOUR_BEFORE)


def light_at(answer: Backlight) -> Twilight:
    """The light of a morning's day where the camera stands."""
    view = answer.view
    return twilight(
        answer.contact.appears.date(),
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
    )


def colour_at(answer: Backlight) -> dt.datetime:
    """When colour begins where the camera stands."""
    return colour_begins(light_at(answer), answer.contact.appears)


class WarmStage(StrEnum):
    """What happens at a spot about the warm light, but for the stages of twilight."""

    COLOUR_BEGINS = "colour begins"
    SUN_APPEARS = "sun appears"
    WARM_LIGHT_ENDS = "warm light ends"


@dataclass(frozen=True, kw_only=True)
class WarmLight:
    """The warm light of one morning at a spot, and what comes before it; aware datetimes.

    Attributes
    ----------
    colour_begins : datetime
        The colour before sunrise begins.
    begins : datetime
        The sun appears over the ground.
    ends : datetime or None
        Its altitude passes 6 degrees; None where it does not that day.
    length : datetime.timedelta or None
        From `begins` to `ends`, zero where the sun is higher when it appears, None where it stays
        lower.
    twilight : Twilight
        All stages of the day's light.

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

    colour_begins: dt.datetime
    begins: dt.datetime
    ends: dt.datetime | None
    length: dt.timedelta | None
    twilight: Twilight

    def stages(self) -> list[tuple[str, dt.datetime]]:
        """Names and times of what happens up to the end of the warm light, in order."""
        last = self.ends or self.begins
        dawn = [event for event in self.twilight.events() if event[1] < min(self.begins, last)]
        morning: list[tuple[str, dt.datetime]] = [
            *((name.replace("_", " "), time) for name, time in dawn),
            (WarmStage.SUN_APPEARS, self.begins),
            (WarmStage.WARM_LIGHT_ENDS, last),
            (WarmStage.COLOUR_BEGINS, self.colour_begins),
        ]
        return sorted(morning, key=lambda stage: stage[1])


def warm_light(contact: Contact, spot: Spot, *, height_m: float = 0.0) -> WarmLight:
    """From the moment the sun appears at a spot to the moment its altitude passes 6 degrees.

    The altitude is the true one of the disc's centre, as in `twilight`.

    Parameters
    ----------
    contact : Contact
        The sun's appearance there, as `sun_contact` gives it.
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
    That colour is usually best from about a quarter of an hour before sunrise, that light is
    warm below 6 degrees, and that the soft part of it is often gone within minutes of the sun's
    appearance: common practice, no source.

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
    ends = light.morning_golden_ends
    length = None if ends is None else max(ends - contact.appears, dt.timedelta(0))
    return WarmLight(
        colour_begins=colour_begins(light, contact.appears),
        begins=contact.appears,
        ends=ends,
        length=length,
        twilight=light,
    )
