"""How bright the sky is at each stage of a plan, as a tint: one ramp from night to day.

::

    level ground under the sky   0.01    0.1     1      10     100    1000   10 000 lux
    tint                         ink  ->  ->  ->  ->  ->  ->  ->  ->  ->  ->  paper
    sun, about                   -12°            -7°    -5°    -3°      0°      +10°

Eyes and cameras take light by its logarithm, so each step of it is as much lighter as the last.
The ends of the ramp are chosen by their look, no source.
"""

from __future__ import annotations

import datetime as dt
import math
from functools import partial
from typing import Final

import numpy as np
from matplotlib.colors import to_hex

from terrain.glow.sky import sky
from terrain.glow.spectrum import LUMINANCE
from terrain.plan.morning import Plan
from terrain.show.paper import palette
from terrain.show.view.moment import moment_at

_DARK_LUX, _LIGHT_LUX = 0.01, 10_000.0
_COARSE: Final = (24, 13)
"""Of the table of a sky: how bright it is comes out within half a per cent."""


def sky_lux(plan: Plan, at: dt.datetime) -> float:
    """Light of the whole sky on level ground at the spot of a plan, the sun's own left out, lux."""
    path = plan.backlight.sun_path
    moment = moment_at(plan.backlight, float(np.clip(path.seconds(at), 0.0, path.length_s)))
    above = sky(
        moment.air,
        sun_altitude_deg=moment.true_deg,
        eye_height_m=moment.eye_m,
        shape=_COARSE,
    )
    return float(above.irradiance() @ LUMINANCE)


def tint(lux: float) -> str:
    """The tint of so much light, as a colour of a page.

    >>> tint(0.0) == palette.INK, tint(1e5) == palette.PAPER
    (True, True)
    """
    share = math.log(max(lux, _DARK_LUX) / _DARK_LUX) / math.log(_LIGHT_LUX / _DARK_LUX)
    return to_hex(palette.mixed(palette.INK, palette.PAPER, np.array(share)).tolist())


def tints(plan: Plan) -> list[str]:
    """The tint of each stage of a plan."""
    return [tint(lux) for lux in map(partial(sky_lux, plan), (stage.at for stage in plan.stages))]
