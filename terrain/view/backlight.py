"""Whether the sun comes up behind a hill, seen from one spot on one morning."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from terrain.country import Country, country_of
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.view.contact import Contact, sun_contact
from terrain.view.scene import Scene, View, ground_on, look, own_at

__all__ = ["Backlight", "backlight", "check_backlight", "columns_of"]


@dataclass(frozen=True, kw_only=True)
class Backlight:
    """How the sun's first appearance lies to a hill.

    offset_deg: from the summit to the point where the sun appears, along the circle of equal
    altitude, positive to the right; offset_widths: the same in widths of the sun;
    uncertainty_deg: one standard deviation of it. behind: the summit is on the skyline and the
    ground at that point is the hill's own. reason: one plain line that says what was found.
    """

    hill: Hill
    view: View
    contact: Contact
    offset_deg: float
    offset_widths: float
    uncertainty_deg: float
    behind: bool
    reason: str


def check_backlight(
    ground: Dem | Country,
    spot: Spot,
    hill: Hill,
    day: dt.date,
    *,
    mist: Mist | None = None,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
) -> Backlight:
    """Whether the sun first appears behind a hill's own ground, and how far from its summit.

    ground: with the spot and the hill on it. day: the local date at the spot. mist: lies over the
    ground, and may make the skyline. accuracy, refraction: as for `Country`, in place of its own.

    Raises NoGround where the spot or the hill is off the known ground, NoAnswer where either lies
    under the mist, NoSun where the sun does not appear that day.
    """
    scene = Scene(country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy), hill)
    return backlight(scene, look(scene, spot), day)


def backlight(scene: Scene, view: View, day: dt.date) -> Backlight:
    """The sun's first appearance of a local day against a view of a hill; NoSun without one."""
    slope = math.tan(math.radians(np.nan_to_num(view.slope_deg)))
    accuracy = scene.country.accuracy
    contact = sun_contact(view.skyline, day, accuracy=accuracy, spot_slope=slope)
    level = math.cos(math.radians(contact.altitude_deg))
    offset = float(wrap_deg(contact.azimuth_deg - view.azimuth_deg)) * level
    on_own = bool(own_at(scene, contact.lon_deg, contact.lat_deg))
    width = 2.0 * contact.semidiameter_deg
    return Backlight(
        hill=scene.hill,
        view=view,
        contact=contact,
        offset_deg=offset,
        offset_widths=offset / width,
        uncertainty_deg=math.hypot(
            contact.uncertainty_deg * level, _bearing_doubt_deg(view, accuracy)
        ),
        behind=on_own and view.on_skyline,
        reason=_reason(scene, view, contact, on_own, offset / width),
    )


def _bearing_doubt_deg(view: View, accuracy: Accuracy) -> float:
    """The spot's own error aside changes the direction of the summit."""
    return math.degrees(math.atan(accuracy.position_m / view.distance_m))


def _reason(scene: Scene, view: View, contact: Contact, on_own: bool, widths: float) -> str:
    name = scene.hill.label
    where = _where(widths)
    if not view.visible:
        return f"{name} is hidden by {view.obstacle}; the sun appears {where} of its summit"
    if view.obstacle is not None:
        return f"{name} does not reach the skyline: {view.obstacle} stands behind it"
    if on_own:
        return f"the sun appears behind {name}, {where} of its summit"
    other = ground_on(scene, view.spot, contact.azimuth_deg, contact.distance_m)
    return f"the sun appears beside {name}, {where} of its summit, over {other}"


def _where(widths: float) -> str:
    if abs(widths) < 0.05:
        return "within a twentieth of its own width"
    return f"{abs(widths):.1f} sun widths to the {'right' if widths > 0 else 'left'}"


def columns_of(answer: Backlight) -> dict[str, Any]:
    """What was found of a spot, a hill and a day, as the columns that tables of them share."""
    view, contact = answer.view, answer.contact
    return {
        "lon_deg": view.spot.lon_deg,
        "lat_deg": view.spot.lat_deg,
        "height_m": view.spot_height_m,
        "appears": contact.appears,
        "clears": contact.clears,
        "uncertainty_s": contact.uncertainty_s,
        "azimuth_deg": view.azimuth_deg,
        "altitude_deg": view.altitude_deg,
        "distance_m": view.distance_m,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "uncertainty_deg": answer.uncertainty_deg,
        "freeboard_m": view.freeboard_m,
        "clearance_m": view.clearance_m,
        "slope_deg": view.slope_deg,
        "known_to_m": contact.known_to_m,
        "beyond_height_m": contact.beyond_height_m,
    }
