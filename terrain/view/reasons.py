"""Whether the sun stands behind a hill where it appears, and what is said of it, in one line."""

from __future__ import annotations

import numpy as np

from terrain.ground.geodesy import destination
from terrain.ground.places import Hill
from terrain.sight.line import profile
from terrain.view.backdrop import ground_on
from terrain.view.contact import Contact
from terrain.view.look import View
from terrain.view.scene import Scene
from terrain.view.touch import Touch


def is_behind(scene: Scene, view: View, contact: Touch) -> bool:
    """Whether the hill, its summit in sight, stands under the sun where it appears."""
    if not view.visible:
        return False
    if view.on_skyline:
        return bool(scene.is_own(contact.lon_deg, contact.lat_deg))
    way = profile(scene.seen, view.spot, contact.azimuth_deg, refraction=scene.refraction)
    place = destination(view.spot.lon_deg, view.spot.lat_deg, contact.azimuth_deg, way.distance_m)
    altitude = np.nan_to_num(way.altitude_deg, nan=-90.0)
    in_view = altitude >= np.maximum.accumulate(altitude)
    return bool((in_view & scene.is_own(*place)).any())


def reason_of(scene: Scene, view: View, contact: Contact, behind: bool, widths: float) -> str:
    """What was found of the sun where it appears, in one line."""
    name, where = scene.hill.label, f"{_where(widths)} of its summit"
    sun = "the sun goes down" if contact.evening else "the sun appears"
    if not view.visible:
        return f"{hidden_by(view, scene.hill)}; {sun} {where}"
    side = f"{sun} {'behind' if behind else 'beside'} {name}, {where}"
    if behind and view.on_skyline:
        return side
    return f"{side}, over {ground_on(scene, view.spot, contact.azimuth_deg, contact.distance_m)}"


def hidden_by(view: View, hill: Hill) -> str:
    """What hides the summit of a hill, on any day, in words; "" where it is in sight."""
    return "" if view.visible else f"{hill.label} is hidden by {view.obstacle}"


def _where(widths: float) -> str:
    if abs(widths) < 0.05:
        return "within a twentieth of its own width"
    return f"{abs(widths):.1f} sun widths to the {'right' if widths > 0 else 'left'}"
