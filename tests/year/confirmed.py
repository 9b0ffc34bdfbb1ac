"""What a full look from chosen cells leaves of the days that an atlas promises them."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pandas as pd

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.year.atlas import Atlas
from terrain.year.confirm import held_days


def confirmed(atlas: Atlas, dem: Dem, rows: Iterable[int], cols: Iterable[int]) -> pd.DataFrame:
    """One row a cell: `row`, `col`; `promised_days`, how many the atlas gives; `sees`, `on_skyline`
    and `held_days` as the full look has them; `best_day` among those, and `away_deg` on it.
    """
    scene = Scene(Country(dem, refraction=atlas.refraction), atlas.hill)
    found = []
    for row, col in zip(rows, cols, strict=True):
        lon, lat = (float(part) for part in atlas.grid.lonlat(row, col))
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=atlas.eye_m))
        held = held_days(atlas, scene, view)
        best = min(held, key=lambda day: held[day], default=None)
        spells = [atlas.north_spell_days[row, col], atlas.south_spell_days[row, col]]
        found.append(
            {
                "row": row,
                "col": col,
                "promised_days": int(np.nansum(spells)),
                "sees": view.visible,
                "on_skyline": view.on_skyline,
                "held_days": len(held),
                "best_day": best,
                "away_deg": math.nan if best is None else held[best],
            }
        )
    return pd.DataFrame(found)
