"""What gaps in the raster behind a hill leave open of its vantages: never a better score for them.

::

                    /\\            :     :  as high as the highest known ground?
    eye o----___   /  \\           :     :
             ----_/    \\__________: gap :______   to the raster's edge

A gap is unknown ground with known ground all round it; what lies at the edge and beyond is told of
by `terrain.sight.left_out`.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.ndimage import binary_dilation, binary_fill_holes

from terrain.arrays import Singles
from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.sight.rays import highest_behind


def with_gaps_behind(
    country: Country, cells: pd.DataFrame, sky_deg: ArrayLike, eye_m: float
) -> pd.DataFrame:
    """Cells with `known_behind`, whether no gap behind the hill may hold what stands over it.

    That is, over where the sky begins over the summit, `sky_deg` (n,), and with ground no higher
    than the highest that is known. A gap leaves no more `isolation_deg` than such ground would.
    """
    gaps = country.once(("gaps",), lambda: _gaps_filled(country.dem))
    if gaps is None:
        return cells.assign(known_behind=True)
    at = cells["row"].to_numpy(), cells["col"].to_numpy()
    way = cells["toward_deg"].to_numpy(dtype=float), cells["distance_m"].to_numpy(dtype=float)
    k = country.refraction
    gap_deg = highest_behind(country.dem, gaps, *at, *way, eye_m=eye_m, refraction=k)
    cells = cells.assign(known_behind=gap_deg <= np.asarray(sky_deg, dtype=float))
    if "isolation_deg" not in cells:
        return cells
    over_deg = cells["altitude_deg"].to_numpy(dtype=float) - gap_deg
    return cells.assign(isolation_deg=np.fmin(cells["isolation_deg"], over_deg))


def _gaps_filled(dem: Dem) -> Singles | None:
    """The highest known height in gaps and by their rims, NaN elsewhere; None without a gap."""
    known = ~np.isnan(dem.heights_m)
    gaps = binary_fill_holes(known) & ~known
    if not gaps.any():
        return None
    wide = binary_dilation(gaps, np.ones((3, 3), dtype=bool))
    return np.where(wide, np.nanmax(dem.heights_m), np.float32(np.nan)).astype(np.float32)
