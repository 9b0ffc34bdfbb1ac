"""What summits stand against, seen from many cells at once, near enough to sift them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Flags, Labels
from terrain.country import Country
from terrain.sight.past import past_tops
from terrain.view.backdrop import Backdrop
from terrain.view.look import View
from terrain.view.scene import Scene

_KOSCHMIEDER: Final = -math.log(0.02)
_VISUAL_RANGE_M: Final = 30_000.0
"""Of a clear morning over mist (common practice, no source)."""

SLACK_DEG: Final = 0.15
"""Of lines cell by cell for those of a full look."""


def backdrops(
    country: Country,
    cells: pd.DataFrame,
    owner: Labels,
    label: ArrayLike,
    *,
    eye_m: float,
    over_deg: ArrayLike = 0.0,
) -> NDArray[np.str_]:
    """What lines so far over the rims of hills' tops meet from cells, as `Backdrop`, (n, k).

    cells: with `row`, `col`, the way `toward_deg` to the hill from the grid's north, its
    `distance_m` and `altitude_deg`. owner, label: as in `past_tops`.
    """
    past = past_tops(
        country.seen,
        owner,
        label,
        cells["row"].to_numpy(),
        cells["col"].to_numpy(),
        cells["toward_deg"].to_numpy(dtype=float),
        cells["distance_m"].to_numpy(dtype=float),
        cells["altitude_deg"].to_numpy(dtype=float),
        np.atleast_1d(over_deg),
        eye_m=eye_m,
        refraction=country.refraction,
    )
    ground = np.where(past.is_beyond, Backdrop.GROUND, Backdrop.SKY)
    if country.mist is None:
        return np.where(past.cell >= 0, Backdrop.GROUND, ground)
    kind = np.where(country.mist.covers.ravel()[past.cell], Backdrop.MIST, Backdrop.GROUND)
    return np.where(past.cell >= 0, kind, ground)


def may_stand_against(
    country: Country,
    cells: pd.DataFrame,
    owner: Labels,
    label: ArrayLike,
    against: Backdrop | str,
    *,
    eye_m: float,
) -> Flags:
    """Whether a full look from cells may find summits against a backdrop, (n,).

    Where any of three lines meets it: over the rim of the top, and a little under it and over it.
    """
    lines = np.array([-SLACK_DEG, 0.0, SLACK_DEG])
    met = backdrops(country, cells, owner, label, eye_m=eye_m, over_deg=lines)
    return np.asarray((met == against).any(axis=1))


def contrast(view: View) -> float:
    """How plainly a summit stands out of what is behind it, 1 as before the horizon's sky, to 0.

    Mist is as pale as the sky. Ground is as dark as the hill, and what the air between the two
    pales it is all that tells them apart: of the hill's own contrast with the sky a share of
    1 - exp(-3.912 d / V) is left, d behind it, in a visual range V. NaN where it is hidden.

    Source: Koschmieder's law of the contrast of dark things with the horizon, and his visual
    range, at which 2 % of it are left (WMO Guide to Instruments and Methods of Observation, I.9).
    """
    if view.backdrop != Backdrop.GROUND:
        return 1.0 if view.visible else math.nan
    apart_m = view.backdrop_distance_m - view.distance_m
    return 1.0 - math.exp(-_KOSCHMIEDER * apart_m / _VISUAL_RANGE_M)


def owned(scene: Scene) -> Labels:
    """The hill's own ground as labels: 1 on it, (rows, cols)."""
    return scene.own_ground.astype(np.int32)
