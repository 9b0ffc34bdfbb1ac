"""The islands of a rising mist as places, with the width of the mist to them from a spot."""

from __future__ import annotations

from contextlib import suppress

import geopandas as gpd
import numpy as np

from terrain.errors import NoAnswer
from terrain.ground.places import Spot
from terrain.mist.islands import straits_from
from terrain.mist.sweep import MistSweep

__all__ = ["placed_islands"]


def placed_islands(sweep: MistSweep, spot: Spot | None = None) -> gpd.GeoDataFrame:
    """The rows of a sweep's `islands` with the places of their summits (EPSG:4326).

    The row label of an island is `island_of` in it. spot: with one, the width of the mist
    between its island and that of each summit too, from_spot_m, NaN where it lies under mist.
    """
    rows = gpd.GeoDataFrame(
        sweep.islands.rename(columns={"island": "island_of"}),
        geometry=sweep.summits.geometry.loc[sweep.islands["summit"]].to_numpy(),
        crs=sweep.summits.crs,
    )
    if spot is None:
        return rows
    rows["from_spot_m"] = np.nan
    for top_m, standing in rows.groupby("top_m"):
        with suppress(NoAnswer):
            straits = straits_from(sweep.dem, sweep.mist(top_m), spot, standing)
            rows.loc[standing.index, "from_spot_m"] = straits
    return rows
