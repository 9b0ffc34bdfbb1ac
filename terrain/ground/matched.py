"""Names of a list given to summits of the ground: each to the nearest, if that is near."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats
from terrain.constants import EARTH_RADIUS_M
from terrain.ground.features import Features, read_names
from terrain.ground.geodesy import azimuth_and_distance

MATCH_M: Final = 300.0
"""Farthest a name may lie from its summit: places in lists are rounded, cells are wide."""


class Matched(NamedTuple):
    """What a list says of some summits: the name of each, "" for none, and its height, NaN."""

    names: list[str]
    heights_m: Floats


def match_names(lon_deg: Floats, lat_deg: Floats, names: Features | None) -> Matched:
    """What a list says of summits; lon_deg, lat_deg: (summits,) WGS 84 degrees.

    names: as for `read_names`, with its errors. Each name goes to the summit nearest to it if that
    lies within 300 m; where several names go to one summit, the nearest is kept.
    """
    from scipy.spatial import cKDTree

    matched = Matched([""] * len(lon_deg), np.full(len(lon_deg), np.nan))
    if names is None:
        return matched
    places = read_names(names)
    if not len(lon_deg) or places.empty:
        return matched
    lon, lat = places.geometry.x.to_numpy(), places.geometry.y.to_numpy()
    tree = cKDTree(_on_the_globe(lon_deg, lat_deg))
    summit = np.asarray(tree.query(_on_the_globe(lon, lat))[1])
    _, distance_m = azimuth_and_distance(lon, lat, lon_deg[summit], lat_deg[summit])
    # nearest last, so that it has the last word
    for place in np.argsort(-distance_m, kind="stable"):
        if distance_m[place] <= MATCH_M:
            matched.names[summit[place]] = str(places["name"].iloc[place])
            if "height_m" in places:
                matched.heights_m[summit[place]] = places["height_m"].iloc[place]
    return matched


def _on_the_globe(lon_deg: Floats, lat_deg: Floats) -> Floats:
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    axes = (np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat))
    return EARTH_RADIUS_M * np.stack(axes, axis=-1)
