"""Which tops of a map get a number: the highest, with room on the page between their marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np

from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Hill, Spot
from terrain.show.map.extent import shape_places

MOST_SUMMITS: Final = 20

_APART: Final = 0.034
"""Least distance of two numbered tops as a share of the map's longer side: about a mark."""

_SAME_HILL_M: Final = 300.0


def spread_tops(dem: Dem, tops: gpd.GeoDataFrame, most: int = MOST_SUMMITS) -> gpd.GeoDataFrame:
    """At most so many tops of a table (highest first), none so near to a higher one as to crowd it.

    For a map of all of the raster.
    """
    places = shape_places(dem.grid, tops.geometry)
    apart_m = _APART * max(dem.shape) * dem.cell_m
    kept: list[int] = []
    for number, place in enumerate(places):
        if len(kept) == most:
            break
        if not kept or np.hypot(*(places[kept] - place).T).min() >= apart_m:
            kept.append(number)
    return tops.iloc[kept]


def without_hill(tops: gpd.GeoDataFrame, hill: Hill | None) -> gpd.GeoDataFrame:
    """The tops but for that of a hill, which needs no second mark."""
    if hill is None:
        return tops
    lon, lat = tops.geometry.x.to_numpy(), tops.geometry.y.to_numpy()
    _, apart_m = azimuth_and_distance(hill.lon_deg, hill.lat_deg, lon, lat)
    return tops[apart_m > _SAME_HILL_M]


def without_place(places: Sequence[Spot], hill: Hill) -> list[Spot]:
    """Places but for those at a hill."""
    return [
        place
        for place in places
        if azimuth_and_distance(hill.lon_deg, hill.lat_deg, place.lon_deg, place.lat_deg)[1]
        > _SAME_HILL_M
    ]


def unnumbered_notes(shown: int, among: int) -> tuple[str, ...]:
    """What a map that numbers some tops only must say; nothing where it numbers all."""
    if shown == among:
        return ()
    return (
        f"Numbered: {shown} of {among} tops, the highest first, "
        "but none whose mark would lie on a higher one's.",
    )
