"""Which of the summits in view a picture has room to number, and the key to their numbers."""

from __future__ import annotations

from typing import NamedTuple

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.show.paper.key import Key, numbers_to
from terrain.show.paper.text import compass
from terrain.show.view.window import Window
from terrain.sight.seen import summits_in_view

__all__ = ["HillRow", "sight_key", "striking_summits"]

_SAME_HILL_M = 300.0
_EDGE_DEG = 0.2


class HillRow(NamedTuple):
    """What a key says of the hill itself, which comes before the summits."""

    mark: str
    name: str
    height_m: float
    distance_m: float
    azimuth_deg: float


def sight_key(summits: gpd.GeoDataFrame, *, first: HillRow | None = None) -> Key:
    """Name, height, distance and direction of each numbered summit of a view, after the hill."""
    rows = [
        HillRow(number, *row)
        for number, row in zip(
            numbers_to(len(summits)),
            summits[["name", "height_m", "distance_m", "azimuth_deg"]].itertuples(
                index=False, name=None
            ),
            strict=True,
        )
    ]
    rows = rows if first is None else [first, *rows]
    columns = {
        "summit": [row.name or "–" for row in rows],
        "height\nm": [f"{row.height_m:.0f}" for row in rows],
        "away\nkm": [f"{row.distance_m / 1000.0:.1f}" for row in rows],
        "toward": [f"{compass(row.azimuth_deg)} {row.azimuth_deg:.0f}°" for row in rows],
    }
    if not any(row.name for row in rows):
        del columns["summit"]
    return Key(marks=[row.mark for row in rows], columns=columns)


def striking_summits(
    dem: Dem,
    spot: Spot,
    summits: gpd.GeoDataFrame | None,
    window: Window,
    *,
    count: int,
    refraction: float,
    hill: Hill | None = None,
) -> gpd.GeoDataFrame:
    """At most `count` summits that are seen within a window, from left to right.

    dem: the ground, with mist on it where there is some. summits: a table from `find_summits`;
    those without a name count only where none has one. Preferred are those whose fall to their
    key col looks largest from the spot. hill: has a mark of its own and gets no number.
    """
    if summits is None or summits.empty:
        return _none()
    named = summits[summits["name"] != ""]
    asked = named if len(named) else summits
    lon, lat = asked.geometry.x.to_numpy(), asked.geometry.y.to_numpy()
    bearing, _ = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    wanted = window.holds(bearing, sum(window.altitude_deg) / 2.0, 0.0) & _apart(hill, lon, lat)
    seen = summits_in_view(dem, spot, asked[wanted], refraction=refraction)
    seen = seen[window.holds(seen["azimuth_deg"], seen["altitude_deg"], _EDGE_DEG)]
    striking = (seen["prominence_m"] / seen["distance_m"]).sort_values(ascending=False)
    seen = seen.loc[striking.index[:count]]
    return seen.iloc[np.argsort(window.turned(seen["azimuth_deg"]))]


def _apart(
    hill: Hill | None, lon: NDArray[np.float64], lat: NDArray[np.float64]
) -> NDArray[np.bool_]:
    if hill is None:
        return np.ones(lon.shape, dtype=bool)
    _, distance_m = azimuth_and_distance(hill.lon_deg, hill.lat_deg, lon, lat)
    return np.asarray(distance_m > _SAME_HILL_M)


def _none() -> gpd.GeoDataFrame:
    columns = ("name", "height_m", "prominence_m", "azimuth_deg", "altitude_deg", "distance_m")
    return gpd.GeoDataFrame({column: [] for column in columns})
