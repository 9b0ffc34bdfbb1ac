"""The likely cells that see a hill against the backdrop that was asked for."""

from __future__ import annotations

import pandas as pd

from terrain.errors import NoAnswer
from terrain.ground.places import Hill
from terrain.vantage.limits import Limits
from terrain.view.backdrops import may_stand_against, owned
from terrain.view.scene import Scene


def with_backdrop(scene: Scene, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Cells with `may_stand`, whether the summit may stand against the backdrop asked for.

    As they are where none is asked for.
    """
    if limits.against is None:
        return cells
    hill = owned(scene), 1
    may = may_stand_against(scene.country, cells, *hill, limits.against, eye_m=limits.eye_m)
    return cells.assign(may_stand=may)


def against_backdrop(hill: Hill, cells: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Those of cells that may see it so, by `may_stand`; NoAnswer where none may."""
    if limits.against is None:
        return cells
    kept = cells[cells["may_stand"]]
    if kept.empty:
        raise NoAnswer(
            f"of the places from which the low sun passes {hill.label} ({len(cells)}) none sees "
            f"its summit against {limits.against}: ask for another backdrop, or for any",
            loosen=[{"against": None}],
        )
    return kept
