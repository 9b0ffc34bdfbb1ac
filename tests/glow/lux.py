"""How bright it is on level ground, by sun and sky together."""

from __future__ import annotations

import numpy as np

import terrain
from terrain.glow.spectrum import LUMINANCE

# what the air of the tables was is not told: ordinary haze, an optical depth of 0.2 at 550 nm
HAZY = terrain.ClearAir(aerosol_optical_depth=0.2)


def lux(air: terrain.ClearAir, sun_deg: float, height_m: float = 0.0) -> float:
    """Sun and sky on level ground."""
    sky = terrain.sky(air, sun_altitude_deg=sun_deg, eye_height_m=height_m)
    sun = terrain.sunlight(air, sun_altitude_deg=sun_deg, height_m=height_m)
    total = sky.irradiance() + sun * max(np.sin(np.radians(sky.sun_deg)), 0.0)
    return float(total @ LUMINANCE)
