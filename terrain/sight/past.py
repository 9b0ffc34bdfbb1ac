"""What lines past the tops of hills meet behind them, from many cells at once."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Floats, Labels, Numbers
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.sight._past_kernels import past_rays
from terrain.sight.beyond import floored
from terrain.sight.rays import far_toward, rays_toward

TOP_CELLS: Final = 2.0
"""So near a summit cells cannot tell what is its top."""


class Past(NamedTuple):
    """What lines over the rims of tops meet, for n eyes and k lines each.

    cell: (n, k) row times columns plus column of the ground on the Dem, -1 where none of it is met;
    is_beyond: (n, k) whether what lies beyond the Dem, or the horizon of the sea, is met then.
    """

    cell: Numbers
    is_beyond: NDArray[np.bool_]


def past_tops(
    dem: Dem,
    owner: Labels,
    label: ArrayLike,
    row: ArrayLike,
    col: ArrayLike,
    grid_azimuth_deg: ArrayLike,
    target_m: ArrayLike,
    top_deg: ArrayLike,
    over_deg: ArrayLike,
    *,
    eye_m: float,
    refraction: float,
) -> Past:
    """What lines from cells past the tops of hills meet.

    owner: (rows, cols), whose hill's own ground it is; label: (n,) of the hill that each looks at.
    row, col, grid_azimuth_deg: as in `terrain.sight.rays.altitudes_toward`. target_m, top_deg: (n,)
    how far off the summit is, and its altitude. over_deg: (k,) rising, how far over the rim of the
    top each line passes: own ground that goes on in view behind the summit is top as well.
    """
    rays = rays_toward(dem, row, col, grid_azimuth_deg, eye_m=eye_m, refraction=refraction)
    count = rays.row.size
    top = np.broadcast_to(np.asarray(top_deg, dtype=float), count)
    rims, over = np.tan(np.radians(top)), np.radians(np.asarray(over_deg, dtype=float))
    labels = np.broadcast_to(np.asarray(label, dtype=np.int32), count).copy()
    away_m = np.broadcast_to(np.asarray(target_m, dtype=float), count).copy()
    cell = np.empty((count, over.size), dtype=np.int64)
    share_out(
        count,
        lambda first, end: past_rays(
            first, end, rays, owner, labels, away_m, over, TOP_CELLS, rims, cell
        ),
    )
    far_deg, _ = far_toward(
        dem, row, col, grid_azimuth_deg, rays.eye, away_m, refraction=refraction
    )
    beyond_deg = floored(dem, far_deg, rays.eye, refraction)
    return Past(cell=cell, is_beyond=_over(beyond_deg, rims) >= over)


def _over(altitude_deg: Floats, rims: Floats) -> Floats:
    """How much steeper than rims something stands, (n, 1)."""
    return np.asarray(np.tan(np.radians(altitude_deg)) - rims)[:, np.newaxis]
