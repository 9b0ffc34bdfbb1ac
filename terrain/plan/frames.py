"""The frames of a morning: with the rising sun, and without it.

Up to the moment at which all of its disc stands free the rising sun belongs in the picture. From
then on it is too bright, and left out (common practice, no source): then the hill, the mist and
the light on them are framed, and the sun may be just out of the frame, or still in it. Of an
evening it is left out up to the moment at which it touches the ground, and then framed.
"""

from __future__ import annotations

from dataclasses import dataclass

from terrain.frame.framing import Framing, frame_view
from terrain.frame.lens import Kit
from terrain.plan.valley_light import ValleyLight
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene


@dataclass(frozen=True, kw_only=True)
class Aims:
    """The framings of a morning: with the rising sun, after it, and with the lit valley's floor.

    Of an evening with the setting sun, and before it.
    """

    scene: Scene
    answer: Backlight
    rising: Framing
    after: Framing
    valley: Framing


def aims_for(scene: Scene, answer: Backlight, valley: ValleyLight | None, kit: Kit) -> Aims:
    """What the kit makes of a morning; errors as in `frame_view`."""
    after = on_floor = frame_view(scene, answer, kit=kit, with_sun=False)
    if valley is not None and valley.seen and not valley.on_mist:
        floor_deg = valley.azimuth_deg, valley.altitude_deg
        on_floor = frame_view(scene, answer, kit=kit, with_sun=False, also_deg=[floor_deg])
    rising = frame_view(scene, answer, kit=kit)
    return Aims(scene=scene, answer=answer, rising=rising, after=after, valley=on_floor)
