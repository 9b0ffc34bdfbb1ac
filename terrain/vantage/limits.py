"""What a vantage must keep to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags
from terrain.constants import EYE_HEIGHT_M
from terrain.errors import TerrainError
from terrain.mist.trees import TREES_M, checked_trees

if TYPE_CHECKING:
    from terrain.view.backdrop import Backdrop


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a vantage must keep to.

    Parameters
    ----------
    tolerance_deg : float, optional
        How far from the summit the sun may be at its best, degrees: as it first appears, or later
        while it stands low.
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
    mist_share : float, optional
        Where there is a mist: least share of it in all of the frame that is not sky, 0 to 1
        (common practice, no source).
    against : Backdrop, optional
        What the summit is to be seen against, "sky", "mist" or "ground"; any unless given.
    field_deg : (float, float), optional
        Width and height of the field of the lens that will be used, degrees, in place of 16 by 16:
        mist is looked for in it, and hill, mist and sun are to fit in.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres: in mist as deep as that their tops stand
        out of it.

    Raises
    ------
    TerrainError
        For one that is below 0 or not finite, for another backdrop, for heights of trees that
        cannot be, and for some that leave no vantage.

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
    mist_share: float = 0.05
    against: Backdrop | None = None
    field_deg: tuple[float, float] | None = None
    trees_m: tuple[float, float] = TREES_M

    def __post_init__(self) -> None:
        _check_against(self.against)
        checked_trees(self.trees_m)
        for name, value in vars(self).items():
            if name not in ("against", "field_deg", "trees_m") and not 0.0 <= value < np.inf:
                raise TerrainError(f"{name} must be 0 or more, got {value}")
        if self.tolerance_deg == 0.0 or self.min_distance_m >= self.max_distance_m:
            raise TerrainError(
                f"a tolerance of {self.tolerance_deg} degrees and distances from "
                f"{self.min_distance_m:.0f} to {self.max_distance_m:.0f} m leave no vantage"
            )

    def accepts(self, backdrop: Backdrop | None) -> bool:
        """Whether a summit may be seen against that."""
        return self.against is None or self.against == backdrop

    def holds_distance(self, distance_m: NDArray[np.floating[Any]]) -> Flags:
        """Whether distances to a summit (any shape) are neither too short nor too long."""
        return (distance_m >= self.min_distance_m) & (distance_m <= self.max_distance_m)


def _check_against(backdrop: Backdrop | None) -> None:
    if backdrop is None:
        return
    from terrain.view.backdrop import Backdrop

    if backdrop not in set(Backdrop):
        raise TerrainError(f"against is {', '.join(Backdrop)}, not {backdrop!r}")
