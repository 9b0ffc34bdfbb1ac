"""What a vantage must keep to."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.constants import EYE_HEIGHT_M
from terrain.errors import TerrainError

__all__ = ["Limits"]


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a vantage must keep to.

    Parameters
    ----------
    tolerance_deg : float, optional
        How far from the summit the sun may appear, degrees.
    freeboard_m : float, optional
        Least height above the mist, metres.
    max_slope_deg : float, optional
        Of the ground, degrees.
    min_distance_m, max_distance_m : float, optional
        To the summit, metres.
    apart_m : float, optional
        Between two vantages, metres.
    clearance_m : float, optional
        How far the lines to the summit and to where the sun appears must pass over the ground
        before the hill, metres, lest a little error of the raster belie them.
    eye_m : float, optional
        Height of the camera over the ground, metres.

    Raises
    ------
    TerrainError
        For one that is below 0 or not finite, and for some that leave no vantage.

    Examples
    --------
    >>> import terrain
    >>> terrain.Limits(tolerance_deg=0.5, max_slope_deg=15.0).apart_m
    300.0
    """

    tolerance_deg: float = 1.0
    freeboard_m: float = 20.0
    max_slope_deg: float = 25.0
    min_distance_m: float = 800.0
    max_distance_m: float = 15_000.0
    apart_m: float = 300.0
    clearance_m: float = 3.0
    eye_m: float = EYE_HEIGHT_M

    def __post_init__(self) -> None:
        for name in (field.name for field in fields(self)):
            if not 0.0 <= getattr(self, name) < np.inf:
                raise TerrainError(f"{name} must be 0 or more, got {getattr(self, name)}")
        if self.tolerance_deg == 0.0 or self.min_distance_m >= self.max_distance_m:
            raise TerrainError(
                f"a tolerance of {self.tolerance_deg} degrees and distances from "
                f"{self.min_distance_m:.0f} to {self.max_distance_m:.0f} m leave no vantage"
            )

    def holds_distance(self, distance_m: NDArray[np.floating[Any]]) -> NDArray[np.bool_]:
        """Whether distances to a summit (any shape) are neither too short nor too long."""
        return (distance_m >= self.min_distance_m) & (distance_m <= self.max_distance_m)
