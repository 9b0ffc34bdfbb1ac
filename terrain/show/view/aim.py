"""Where the camera of a view is aimed, and with which lens of the kit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.errors import NoAnswer
from terrain.frame.framing import frame_view
from terrain.frame.lens import Frame, Kit, Orientation, aim_at
from terrain.show.view.moments import Suns
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene

_MARGIN_DEG = 1.5
_WIDER = 1.15


def aim(
    scene: Scene,
    answer: Backlight,
    suns: Suns,
    *,
    kit: Kit | None = None,
    held: Orientation | None = None,
) -> Frame:
    """The frame with hill, mist and the sun that is up at some moments, held as asked or as suits.

    Where the summit makes no skyline it is about the summit and the sun, as wide as the kit has a
    lens for.
    """
    kit = kit or Kit()
    rims = _rims(suns)
    try:
        frame = frame_view(scene, answer, kit=kit, also_deg=rims, minutes=(0, 0)).frame
    except NoAnswer:
        frame = _about(answer, rims, kit)
    if held is not None and frame.sensor.orientation is not held:
        frame = replace(frame, sensor=frame.sensor.turned)
    return frame


def _rims(suns: Suns) -> list[tuple[float, float]]:
    """The edges of the disc at the moments at which it is up, a width of it farther out."""
    reach = 3.0 * suns.path.semidiameter_deg
    return [
        (float(azimuth) + aside, float(altitude) + up)
        for azimuth, altitude in zip(*suns.at_deg, strict=True)
        if altitude > 0.0
        for aside, up in ((-reach, 0.0), (reach, 0.0), (0.0, reach))
    ]


def _about(answer: Backlight, rims: list[tuple[float, float]], kit: Kit) -> Frame:
    view, contact = answer.view, answer.contact
    places = [
        (view.azimuth_deg + aside, view.altitude_deg + up)
        for aside, up in ((-_MARGIN_DEG, 0.0), (_MARGIN_DEG, 0.0), (0.0, -_MARGIN_DEG))
    ]
    places += [(contact.azimuth_deg, contact.altitude_deg), *rims]
    azimuths, altitudes = np.array(places).T
    around = aim_at(azimuths, altitudes, kit.sensor)
    ends = [lens for each in kit.lenses_mm for lens in np.atleast_1d(each).tolist()]
    fits = [mm for mm in ends if mm * _WIDER <= around.focal_mm]
    return replace(around, focal_mm=float(max(fits, default=min(ends))))
