"""The frames of a morning: with the rising sun, and without it.

Up to the moment at which all of its disc stands free the rising sun belongs in the picture. From
then on it is too bright, and left out (common practice, no source): then the hill, the mist and
the light on them are framed, and the sun may be just out of the frame, or still in it. Of an
evening it is left out up to the moment at which it touches the ground, and then framed. Where it
comes to stand over the summit at another moment, that moment has a frame with the sun in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from terrain.frame.framing import Framing, frame_view
from terrain.frame.lens import Kit
from terrain.frame.shade import rims_at
from terrain.plan.valley_light import ValleyLight
from terrain.view.backlight import Backlight
from terrain.view.nearness import Best, BestAt
from terrain.view.scene import Scene

NEAR_DEG: Final = 1.0
"""So near to the summit the sun is over it (common practice, no source)."""
_SAME_S: Final = 60.0


@dataclass(frozen=True, kw_only=True)
class Aims:
    """The framings of a morning: with the rising sun, after it, and with the lit valley's floor.

    Of an evening with the setting sun, and before it. over: with the sun over the summit, where it
    comes to stand there at another moment than its first.
    """

    scene: Scene
    answer: Backlight
    rising: Framing
    after: Framing
    valley: Framing
    over: Framing | None = None


def over_summit(answer: Backlight) -> Best | None:
    """The best moment, where it is not the sun's appearance: within a degree of the summit.

    A minute apart is the same moment to a photographer (common practice, no source).
    """
    best = answer.best
    apart_s = abs((best.at - answer.contact.appears).total_seconds())
    is_other = best.which == BestAt.PASSAGE and apart_s >= _SAME_S
    return best if is_other and answer.within(NEAR_DEG) else None


def aims_for(scene: Scene, answer: Backlight, valley: ValleyLight | None, kit: Kit) -> Aims:
    """What the kit makes of a morning; errors as in `frame_view`."""
    after = on_floor = frame_view(scene, answer, kit=kit, with_sun=False)
    if valley is not None and valley.seen and not valley.on_mist:
        floor_deg = valley.azimuth_deg, valley.altitude_deg
        on_floor = frame_view(scene, answer, kit=kit, with_sun=False, also_deg=[floor_deg])
    rising = frame_view(scene, answer, kit=kit)
    over = _with_sun_over(scene, answer, rising, kit)
    return Aims(scene=scene, answer=answer, rising=rising, after=after, valley=on_floor, over=over)


def _with_sun_over(scene: Scene, answer: Backlight, rising: Framing, kit: Kit) -> Framing | None:
    """The frame with the sun over the summit, or that with the rising sun, if it does as well.

    None where the sun does not come to stand there later.
    """
    best = over_summit(answer)
    if best is None:
        return None
    rim = rims_at(answer, [best.at])
    over = frame_view(scene, answer, kit=kit, with_sun=False, also_deg=list(zip(*rim, strict=True)))
    does = rising.takes_all and bool(rising.frame.takes_in(*rim).all())
    return rising if does and rising.frame.focal_mm >= over.frame.focal_mm else over
