"""Whether the sun comes up behind a hill, or goes down, seen from one spot on one day."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from terrain.country import Country, country_of
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.sun.path import SunPath
from terrain.view.contact import Contact, sun_contact
from terrain.view.look import View, look
from terrain.view.nearness import Best, Nearness, nearness_of
from terrain.view.passage import Nearest, Showing
from terrain.view.reasons import reason_of
from terrain.view.scene import Scene


@dataclass(frozen=True, kw_only=True)
class Backlight:
    """How the sun's first appearance, or in an evening its last, lies to a hill.

    Attributes
    ----------
    hill : Hill
        The hill that was asked about.
    view : View
        The hill from the spot.
    contact : Contact
        The sun's appearance; its `evening` says whether it is the last.
    offset_deg : float
        From the summit to the point where the sun appears, degrees along the circle of equal
        altitude, positive to the right.
    offset_widths : float
        The same in widths of the sun.
    uncertainty_deg : float
        One standard deviation of it, degrees.
    behind : bool
        The summit is in sight, and the sun appears behind the hill: over its own ground where the
        summit is on the skyline; where higher ground stands far behind, over that, and under the
        sun some of the hill is seen.
    reason : str
        One plain line that says what was found.
    best : Best
        The best moment: as the sun appears behind the hill, or the nearest of its passage, if that
        is nearer and the sun stands no higher than 6 degrees.
    passage : tuple of Showing
        Every time at which the sun shows on its way up, as `sun_passage` gives it, to 6 degrees;
        where the summit or the first appearance is higher than 4 degrees, to 2 above it. In an
        evening on its way down from there, and no later than midnight.
    nearest : Nearest or None
        The moment of it at which the sun's centre is nearest to where the sky begins over the
        summit, and how near; None where the sun first shows after noon, or last before it.

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
    >>> found = terrain.check_backlight(cone, spot, hill, dt.date(2025, 3, 30))
    >>> found.behind, round(found.offset_deg, 1), round(found.offset_widths, 1)
    (True, 0.5, 0.9)
    >>> f"{found.nearest.at:%H:%M}", round(found.nearest.apart_widths, 1)
    ('06:17', 1.0)
    """

    hill: Hill
    view: View
    contact: Contact
    offset_deg: float
    offset_widths: float
    uncertainty_deg: float
    behind: bool
    reason: str

    @property
    def sun_path(self) -> SunPath:
        """The sun's way on that day, as the camera has it."""
        contact = self.contact
        return self.view.sun_on(contact.appears.date(), evening=contact.evening)

    @cached_property
    def _nearness(self) -> Nearness:
        view, offset_deg, behind = self.view, self.offset_deg, self.behind
        return Nearness(view=view, touch=self.contact, offset_deg=offset_deg, behind=behind)

    @property
    def passage(self) -> tuple[Showing, ...]:
        """Every time at which the sun shows on its way, and how near it comes to the summit."""
        return self._nearness.passage

    @property
    def nearest(self) -> Nearest | None:
        """The moment of the passage at which the sun is nearest to the summit."""
        return self._nearness.nearest

    @property
    def best(self) -> Best:
        """As it appears behind the hill, or where the sun is nearest, if that is nearer."""
        return self._nearness.best

    def first_within(self, tolerance_deg: float) -> bool:
        """Whether it appears behind the hill, no farther than that from its summit."""
        return self._nearness.first_within(tolerance_deg)

    def within(self, tolerance_deg: float) -> bool:
        """Whether it comes so near to a summit in sight: as it appears behind it, or later.

        Later is no higher than 6 degrees.
        """
        return self._nearness.within(tolerance_deg)


def check_backlight(
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    day: dt.date,
    *,
    mist: Mist | None = None,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    evening: bool = False,
) -> Backlight:
    """Whether the sun first appears behind a hill's own ground, and how far from its summit.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    spot : Spot
        Where the camera stands, and its height over the ground.
    hill : Hill
        The hill that is looked at.
    day : datetime.date
        The local date at the spot.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has, and may make the skyline.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    evening : bool, optional
        Whether it last appears there.

    Returns
    -------
    Backlight
        What was found, with its reason in words.

    Raises
    ------
    NoGround
        Where the spot or the hill is off the known ground.
    NoAnswer
        Where either lies under the mist.
    NoSun
        Where the sun does not appear that day, or in an evening does not go.

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
    >>> terrain.check_backlight(cone, spot, hill, dt.date(2025, 3, 30)).reason
    'the sun appears behind Cone, 0.9 sun widths to the right of its summit'
    """
    scene = Scene(country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy), hill)
    return backlight(scene, look(scene, spot), day, evening=evening)


def backlight(scene: Scene, view: View, day: dt.date, *, evening: bool = False) -> Backlight:
    """The sun's first appearance of a local day, or its last, against a view of a hill.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    view : View
        Of that hill, as `look` gives it.
    day : datetime.date
        The local date at the spot.
    evening : bool, optional
        Its last, of which `sun_contact` says how it belongs to a date.

    Returns
    -------
    Backlight
        As `check_backlight` gives it.

    Raises
    ------
    NoSun
        Where the sun does not appear that day, or in an evening does not go.
    NoGround
        Where the ground toward it is unknown from the spot on.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> view = terrain.look(scene, spot)
    >>> [terrain.backlight(scene, view, dt.date(2025, 3, day)).behind for day in (1, 30)]
    [True, True]
    """
    slope = math.tan(math.radians(np.nan_to_num(view.slope_deg)))
    accuracy = scene.country.accuracy
    contact = sun_contact(view.skyline, day, accuracy=accuracy, spot_slope=slope, evening=evening)
    level = math.cos(math.radians(contact.altitude_deg))
    near = nearness_of(scene, view, contact)
    width = 2.0 * contact.semidiameter_deg
    # the spot's own error aside changes the direction of the summit
    bearing_doubt = math.degrees(math.atan(accuracy.position_m / view.distance_m))
    return Backlight(
        hill=scene.hill,
        view=view,
        contact=contact,
        offset_deg=near.offset_deg,
        offset_widths=near.offset_deg / width,
        uncertainty_deg=math.hypot(contact.uncertainty_deg * level, bearing_doubt),
        behind=near.behind,
        reason=reason_of(scene, view, contact, near.behind, near.offset_deg / width),
    )
