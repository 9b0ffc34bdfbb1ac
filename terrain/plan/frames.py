"""The frame of each stage of a morning, and where the sun is to it at that moment.

Up to the moment at which all of its disc stands free the rising sun belongs in the picture. From
then on it is too bright, and left out (common practice, no source): then the hill, the mist and
the light on them are framed, and the sun may be just out of the frame, or still in it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial

from terrain.frame.framing import Framing, frame_view
from terrain.frame.lens import Frame, Kit, Lens, Orientation
from terrain.frame.shade import SunInFrame, sun_in_frame
from terrain.plan.valley_light import ValleyLight
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene

__all__ = ["Aims", "StageFrame", "aims_for"]


@dataclass(frozen=True, kw_only=True)
class StageFrame:
    """How to frame one stage.

    frame: aim, focal length and sensor as held. lens: of the kit. takes_all: it takes in all it
    should; if not, it is the widest there is. with_sun: the place where the sun rises is part of
    that. sun: where the sun is at this moment.
    """

    frame: Frame
    lens: Lens
    takes_all: bool
    with_sun: bool
    sun: SunInFrame

    @property
    def orientation(self) -> Orientation:
        """How the camera is held."""
        return self.frame.sensor.orientation

    @property
    def expect_to_bracket(self) -> bool:
        """Whether the sun is in the frame while most of the near ground in it is in shade."""
        return self.sun.expect_to_bracket


@dataclass(frozen=True, kw_only=True)
class Aims:
    """The framings of a morning: with the rising sun, after it, and with the lit valley's floor."""

    scene: Scene
    answer: Backlight
    rising: Framing
    after: Framing
    valley: Framing

    def framed(self, framing: Framing, moment: dt.datetime, *, with_sun: bool) -> StageFrame:
        """One of the framings at a moment."""
        contact = self.answer.contact
        (sun,) = sun_in_frame(
            self.scene,
            self.answer.view,
            framing.frame,
            [moment],
            contacts=[contact, *contact.later],
        )
        return StageFrame(
            frame=framing.frame,
            lens=framing.lens,
            takes_all=framing.takes_all,
            with_sun=with_sun,
            sun=sun,
        )


def aims_for(scene: Scene, answer: Backlight, valley: ValleyLight | None, kit: Kit) -> Aims:
    """What the kit makes of a morning; errors as in `frame_view`."""
    view_with = partial(
        frame_view,
        scene,
        answer.view,
        answer.contact,
        lenses_mm=kit.lenses_mm,
        sensor=kit.sensor,
    )
    after = on_floor = view_with(with_sun=False)
    if valley is not None and valley.seen and not valley.on_mist:
        floor_deg = valley.azimuth_deg, valley.altitude_deg
        on_floor = view_with(with_sun=False, also_deg=[floor_deg])
    return Aims(scene=scene, answer=answer, rising=view_with(), after=after, valley=on_floor)
