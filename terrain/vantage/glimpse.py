"""What cells see of the mist about a hill, quickly: a picture of a few lines from each.

::

      |     |    A    |     |      lines about the summit A, each walked outward once; what each
      |     |   ###   |     |      meets at altitudes in steps is mist, the hill's own ground (#),
    ~~|~~~~~|~~#####~~|~~~~~|~~    or other ground
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats
from terrain.ground.grid import nearest_cells
from terrain.sight.seen import seen_from_cells
from terrain.vantage.limits import Limits
from terrain.view.prospect import FIELD_DEG
from terrain.view.scene import Scene

_LINES, _STEP_DEG, _STEEPEST_DEG = 7, 0.4, 89.0
_AT_ONCE: Final = 4000


def with_glimpse(scene: Scene, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Cells with what each may see of the mist in a frame about the summit; as they are without.

    A few lines show how much of the view is mist, on how many of them mist meets the hill, and how
    high the summit stands over it there: measures to rank by. Cells under the mist have none, NaN.
    """
    if scene.mist is None:
        return cells
    parts = (cells.iloc[at : at + _AT_ONCE] for at in range(0, len(cells), _AT_ONCE))
    seen = np.concatenate([_glimpses(scene, part, limits) for part in parts])
    seen[scene.mist.covers[cells["row"], cells["col"]]] = np.nan
    names = ("mist_share", "waterline", "over_mist_deg")
    return cells.assign(**dict(zip(names, seen.T, strict=True)))


def _glimpses(scene: Scene, cells: pd.DataFrame, limits: Limits) -> Floats:
    """Share of mist, share of lines on which it meets the hill, degrees over it, (n, 3)."""
    wide_deg, high_deg = limits.field_deg or FIELD_DEG
    summit_deg = cells["altitude_deg"].to_numpy(dtype=float)
    low = max(float(summit_deg.min()) - 0.5 * high_deg, -_STEEPEST_DEG)
    high = min(float(summit_deg.max()) + 0.5 * high_deg, _STEEPEST_DEG)
    # on steps that do not hang on which cells are looked at together
    steps = np.arange(math.ceil(low / _STEP_DEG), math.ceil(high / _STEP_DEG), dtype=float)
    altitudes = np.asarray(_STEP_DEG * steps, dtype=float)
    in_frame = np.abs(altitudes[:, np.newaxis] - summit_deg) <= 0.5 * high_deg
    mist, other, meets, owns = np.zeros((4, len(cells)))
    shore_deg = np.full(len(cells), np.nan)
    middle = _LINES // 2
    for number, turn in enumerate(wide_deg * (np.arange(_LINES) - middle) / _LINES):
        is_mist, is_own, is_sky = _line(scene, cells, turn, altitudes, limits.eye_m)
        mist += (is_mist & in_frame).sum(axis=0)
        other += (~is_mist & ~is_sky & in_frame).sum(axis=0)
        foot = is_own[1:] & is_mist[:-1] & in_frame[1:]
        owns += (is_own & in_frame).any(axis=0)
        meets += foot.any(axis=0)
        if number == middle:
            top = foot.shape[0] - 1 - np.argmax(foot[::-1], axis=0)
            shore_deg = np.where(foot.any(axis=0), altitudes[top], np.nan)
    with np.errstate(invalid="ignore"):
        return np.stack([mist / (mist + other), meets / owns, summit_deg - shore_deg], axis=1)


def _line(
    scene: Scene, cells: pd.DataFrame, turn_deg: float, altitudes_deg: Floats, eye_m: float
) -> tuple[Flags, Flags, Flags]:
    """Where one line from each cell meets mist, the hill's own ground, and nothing: (k, n) each."""
    country, mist = scene.country, scene.mist
    row, col = seen_from_cells(
        country.dem,
        cells["row"],
        cells["col"],
        cells["toward_deg"] + turn_deg,
        altitudes_deg,
        eye_m=eye_m,
        lid_m=None if mist is None else mist.lid_m,
        lid_top_m=None if mist is None else mist.highest_m,
        refraction=country.refraction,
    )
    is_sky = np.isnan(row)
    at = nearest_cells(np.nan_to_num(row), np.nan_to_num(col), country.dem.shape)
    covered = np.zeros(is_sky.shape, dtype=bool) if mist is None else mist.covers[at]
    return ~is_sky & covered, ~is_sky & ~covered & scene.own_ground[at], is_sky
