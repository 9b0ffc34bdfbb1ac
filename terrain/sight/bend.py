"""How far the ground sinks under a ray of light: the earth's curve, less that of the ray."""

from __future__ import annotations

from terrain.constants import EARTH_RADIUS_M


def bend_per_m(refraction: float) -> float:
    """How far ground at distance d sinks below the horizontal, divided by d²: (1 - k) / 2R.

    With a coefficient of 1 the rays follow the earth, as if it were flat. ValueError beyond 1.

    >>> round(bend_per_m(0.13) * 10_000.0**2, 2)
    6.83
    """
    if not -2.0 <= refraction <= 1.0:
        raise ValueError(f"a coefficient of refraction of {refraction} is not within -2 to 1")
    return (1.0 - refraction) / (2.0 * EARTH_RADIUS_M)
