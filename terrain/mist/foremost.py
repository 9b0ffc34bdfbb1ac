"""Which of many passes are worth a look: those that hold back most."""

from __future__ import annotations

import geopandas as gpd
import numpy as np


def foremost_passes(found: gpd.GeoDataFrame, count: int) -> gpd.GeoDataFrame:
    """The passes that hold back most, where there are more than one wants to look at.

    Parameters
    ----------
    found : geopandas.GeoDataFrame
        As `passes` gives them.
    count : int
        How many, at most.

    Returns
    -------
    geopandas.GeoDataFrame
        So many rows of it in the order in which they fill: those that mist pours over before all
        others, and of each the lowest first.

    Notes
    -----
    A pass holds back the more the deeper it is cut between its hills and the larger the lesser of
    its two valleys: they are ranked by depth times breadth, which is the square root of that
    valley's ground (chosen by what it finds, no source). The lowest of a wide raster are gaps
    between fields by the coast, which say nothing of its hills.

    Examples
    --------
    >>> import geopandas as gpd
    >>> import terrain
    >>> valleys = {"valley_a_km2": [300.0, 4.0, 50.0], "valley_b_km2": [2.0, 4.0, 30.0]}
    >>> rows = {"height_m": [9.0, 300.0, 240.0], "depth_m": [31.0, 200.0, 500.0]}
    >>> found = gpd.GeoDataFrame({**rows, **valleys, "pours": [False] * 3})
    >>> terrain.foremost_passes(found, 2)["height_m"].tolist()
    [240.0, 300.0]
    """
    breadth_km = np.sqrt(found[["valley_a_km2", "valley_b_km2"]].min(axis=1))
    ranked = found.assign(held=found["depth_m"] * breadth_km).sort_values(
        ["pours", "held"], ascending=False, kind="stable"
    )
    order = {"by": ["pours", "height_m"], "ascending": [False, True], "kind": "stable"}
    return ranked.head(count).drop(columns="held").sort_values(**order)
