"""The dip of the sea's horizon, as navigators' tables have it.

Sources: The Nautical Almanac 1998, Explanation, "Methods and formulae for direct computation": dip
in degrees 0.0293 √h, h the height of the eye in metres. Bowditch, American Practical Navigator,
Table 14, Dip of the sea short of the horizon: minutes 60 atan(h / d + β d / 2r), β = 0.8321 for
refraction, r = 3440.1 nautical miles.
"""

from __future__ import annotations

import math

DEGREES_A_ROOT_METRE = 0.0293
REFRACTION = 1.0 - 0.8321
RADIUS_M = 3440.1 * 1852.0


def short_of_the_horizon_deg(height_m: float, distance_m: float) -> float:
    """Degrees below the horizontal of a waterline nearer than the horizon."""
    fall = (1.0 - REFRACTION) * distance_m / (2.0 * RADIUS_M)
    return math.degrees(math.atan(height_m / distance_m + fall))
