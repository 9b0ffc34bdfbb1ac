"""Which of the summits in view a picture has room to number, and the key to their numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Hill
from terrain.show.paper.key import Columns, Key, key_of, numbers_to
from terrain.show.paper.text import compass
from terrain.show.view.window import Window
from terrain.sight.seen import summits_in_view
from terrain.sight.skyline import Skyline
from terrain.words.figures import top_name

_SAME_HILL_M = 300.0
_EDGE_DEG = 0.2
_COLUMNS: Columns = {
    "summit": ("name", str),
    "height\nm": ("height_m", "{:.0f}".format),
    "away\nkm": ("distance_m", lambda metres: f"{metres / 1000.0:.1f}"),
    "toward": ("azimuth_deg", lambda degrees: f"{compass(degrees)} {degrees:.0f}°"),
}


def sight_key(summits: gpd.GeoDataFrame, *first: Mapping[str, Any]) -> Key:
    """Name, height, distance and direction of each numbered summit of a view, after other rows."""
    tops = zip(summits["name"], summits["height_m"], strict=True)
    named = [top_name(name, height_m) for name, height_m in tops]
    numbered = summits.assign(name=named, mark=numbers_to(len(summits))).to_dict("records")
    return key_of(pd.DataFrame([*first, *numbered]), _COLUMNS)


def striking_summits(
    dem: Dem,
    sky: Skyline,
    summits: gpd.GeoDataFrame | None,
    window: Window,
    *,
    count: int,
    hill: Hill | None = None,
    apart_deg: float = 0.0,
) -> gpd.GeoDataFrame:
    """At most `count` summits that are seen within a window, from left to right.

    dem: the ground, with mist on it where there is some, and `sky` its skyline. summits: a table
    from `find_summits`; those without a name count only where none has one. Preferred are those
    whose fall to their key col looks largest from the spot. hill: has a mark of its own and gets no
    number. apart_deg: what stands nearer than that to a more striking one is left out.
    """
    if summits is None or summits.empty:
        columns = ("name", "height_m", "prominence_m", "azimuth_deg", "altitude_deg", "distance_m")
        return gpd.GeoDataFrame(columns=list(columns))
    spot, named = sky.spot, summits[summits["name"] != ""]
    asked = named if len(named) else summits
    lon, lat = asked.geometry.x.to_numpy(), asked.geometry.y.to_numpy()
    bearing, _ = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    wanted = window.holds(bearing, sum(window.altitude_deg) / 2.0, 0.0)
    if hill is not None:
        _, apart_m = azimuth_and_distance(hill.lon_deg, hill.lat_deg, lon, lat)
        wanted &= apart_m > _SAME_HILL_M
    seen = summits_in_view(dem, spot, asked[wanted], refraction=sky.refraction)
    seen = seen[window.holds(seen["azimuth_deg"], seen["altitude_deg"], _EDGE_DEG)]
    striking = (seen["prominence_m"] / seen["distance_m"]).sort_values(ascending=False)
    seen = _apart(seen.loc[striking.index], apart_deg).iloc[:count]
    return seen.iloc[np.argsort(window.turned(seen["azimuth_deg"]))]


def _apart(summits: gpd.GeoDataFrame, apart_deg: float) -> gpd.GeoDataFrame:
    """Those that stand so far from all the kept ones before them, by azimuth."""
    kept: list[int] = []
    azimuths = summits["azimuth_deg"].to_numpy(dtype=float)
    for at, azimuth in enumerate(azimuths):
        if not kept or np.abs(wrap_deg(azimuths[kept] - azimuth)).min() >= apart_deg:
            kept.append(at)
    return summits.iloc[kept]
