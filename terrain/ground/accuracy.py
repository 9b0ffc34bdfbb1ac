"""How wrong the inputs may be, and what that makes of an altitude on the skyline."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.constants import EARTH_RADIUS_M, TERRESTRIAL_REFRACTION_SPREAD

_ASTRONOMICAL_SHARE = 0.1


@dataclass(frozen=True, kw_only=True)
class Accuracy:
    """One standard deviation of each input that a time or an angle depends on.

    Parameters
    ----------
    raster_m : float, optional
        Vertical error (RMSE) of the raster, metres; open rasters state 2 to 10.
    position_m : float, optional
        Horizontal error of the spot, metres, each way.
    refraction : float, optional
        Spread of the coefficient of terrestrial refraction, dimensionless.

    Raises
    ------
    ValueError
        For one that is below 0 or not finite.

    Examples
    --------
    >>> import terrain
    >>> terrain.Accuracy(raster_m=2.0).position_m
    5.0
    """

    raster_m: float = 5.0
    position_m: float = 5.0
    refraction: float = TERRESTRIAL_REFRACTION_SPREAD

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not 0.0 <= value < math.inf:
                raise ValueError(f"{name} must be a length or a spread of 0 or more, got {value}")

    def of_altitude(
        self, distance_m: float, *, slope: float, refraction_deg: float, hidden_deg: float = 0.0
    ) -> AngleDoubt:
        """Standard deviations of the sun's altitude over ground at a distance.

        distance_m: to the ground that makes the skyline. slope: rise over run of the ground
        under the spot and of the skyline across the view, together, dimensionless; a step aside
        changes the eye's height and the ground ahead by it. refraction_deg: astronomical
        refraction there, taken to vary by a tenth (common practice, no source; at level horizons
        Sampson and others, 2003, PASP 115, 1256, found 0.58 degrees at sunset with a standard
        deviation of 0.11, and at sunrise 0.71 with 0.18). hidden_deg: by how much ordinary hidden
        ground would stand higher.

        >>> doubt = Accuracy(raster_m=5.0).of_altitude(5000.0, slope=0.2, refraction_deg=0.4)
        >>> round(doubt.raster_deg, 3), round(doubt.position_deg, 3), round(doubt.refraction_deg, 3)
        (0.081, 0.011, 0.04)
        """
        bending = math.degrees(distance_m * self.refraction / (2.0 * EARTH_RADIUS_M))
        return AngleDoubt(
            # the eye's own ground and the far ground err independently
            raster_deg=math.degrees(math.atan(math.sqrt(2.0) * self.raster_m / distance_m)),
            position_deg=math.degrees(math.atan(slope * self.position_m / distance_m)),
            refraction_deg=math.hypot(bending, _ASTRONOMICAL_SHARE * refraction_deg),
            hidden_deg=hidden_deg,
        )


@dataclass(frozen=True, kw_only=True)
class AngleDoubt:
    """The parts of an angle's standard deviation, degrees."""

    raster_deg: float
    position_deg: float
    refraction_deg: float
    hidden_deg: float = 0.0

    @property
    def total_deg(self) -> float:
        """The parts together, as independent errors add."""
        return math.hypot(self.raster_deg, self.position_deg, self.refraction_deg, self.hidden_deg)
