"""What summits stand against, seen from many cells at once, near enough to sift them."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Flags, Labels
from terrain.country import Country
from terrain.sight.past import past_tops
from terrain.view.backdrop import Backdrop
from terrain.view.scene import Scene

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


def owned(scene: Scene) -> Labels:
    """The hill's own ground as labels: 1 on it, (rows, cols)."""
    return scene.own_ground.astype(np.int32)
