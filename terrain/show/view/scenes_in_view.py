"""The small scenes in a mist on a view: their letters, and the table that says which lens suits."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.show.paper.key import Columns, Key, key_of
from terrain.show.paper.text import compass
from terrain.show.view.window import Window
from terrain.words.scenes import LETTERS, scene_lens, scene_name, scene_wide

_COLUMNS: Columns = {
    "small\nscene": ("name", str),
    "toward": ("azimuth_deg", lambda degrees: f"{compass(degrees)} {degrees:.0f}°"),
    "away\nkm": ("distance_m", lambda metres: f"{metres / 1000.0:.1f}"),
    "wide": ("wide", str),
    "in the lens": ("in_lens", str),
}


def scenes_keys(scenes: gpd.GeoDataFrame | None) -> list[Key]:
    """Direction, distance, width and lens of each scene of a table from `small_scenes`, if any."""
    if scenes is None or scenes.empty:
        return []
    rows = scenes.to_dict("records")
    told = scenes.assign(
        mark=list(LETTERS[: len(rows)]),
        name=[scene_name(row) for row in rows],
        wide=[scene_wide(row) for row in rows],
        in_lens=[scene_lens(row) for row in rows],
    )
    return [key_of(told, _COLUMNS)]


def scenes_within(scenes: gpd.GeoDataFrame | None, window: Window) -> pd.DataFrame:
    """Those of the scenes whose middle is within a window, with their letters as `mark`."""
    if scenes is None or scenes.empty:
        return pd.DataFrame({"azimuth_deg": [], "altitude_deg": [], "mark": []})
    lettered = scenes.assign(mark=list(LETTERS[: len(scenes)]))
    held = window.holds(scenes["azimuth_deg"], scenes["altitude_deg"], 0.0)
    return pd.DataFrame(lettered[np.asarray(held, dtype=bool)])
