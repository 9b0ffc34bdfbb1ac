"""Which passes a mist pours over as it stands, which way, and how deep it lies on them.

::

    level, from one valley        sloping
    ______________                ____
     side a      /\\ ___ side b    side a\\____ over the pass, thinner
     full       pass                     /\\  \\____
    \\__________/    \\__________/   _____/pass    \\___ side b, lower
"""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.mist.passes import name_in_words, pour_path

JUST_OVER_M: Final = 60.0
"""How far above a pass the top may stand for the pass still to be seen as one (no source)."""

_OTHER_SIDE: Final = {"a": "b", "b": "a", "from": "to", "to": "from"}


def pouring(
    mist: Mist, passes: gpd.GeoDataFrame, *, within_m: float = JUST_OVER_M
) -> gpd.GeoDataFrame:
    """The passes that mist pours over, those it stands least above first.

    Parameters
    ----------
    mist : Mist
        Lies over the ground of the passes.
    passes : geopandas.GeoDataFrame
        As `passes` gives them for the ground of the mist and, where it is level, its seeds.
    within_m : float, optional
        How far its top may stand above a pass, metres; deeper under it nothing is seen.

    Returns
    -------
    geopandas.GeoDataFrame
        The columns are those of `passes`, side a now being the one it comes from, and `over_m`: its
        depth on the pass, metres.

    Notes
    -----
    Level mist pours where one side alone fills the other (column `pours`); mist with a sloping top
    where it stands over the pass and lower, or not at all, at the floor beyond.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(60, 61))
    >>> row, col = np.mgrid[-30:30, -30:31]
    >>> wall = 400.0 - 8.0 * abs(col) + 0.05 * row**2 - 2.0 * (col > 0) * abs(col)
    >>> dem = terrain.Dem(wall, grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> west = terrain.Spot(lon_deg=lon, lat_deg=lat)
    >>> found = terrain.passes(dem, seeds=[west])
    >>> poured = terrain.pouring(terrain.level_mist(dem, 405.0, seeds=[west]), found)
    >>> poured[["height_m", "side_b", "over_m"]].values.tolist()
    [[400.0, 'east', 5.0]]
    """
    over_m = _top_m(mist, passes.geometry.x, passes.geometry.y) - passes["height_m"].to_numpy()
    lowest_m, highest_m = mist.range_m
    if lowest_m == highest_m:
        flows, turned = passes["pours"].to_numpy(dtype=bool), np.zeros(len(passes), dtype=bool)
    else:
        flows, turned = _by_slope(mist, passes)
    kept = flows & (over_m > 0) & (over_m <= within_m)
    table = pd.concat([_turned(passes[kept & turned]), passes[kept & ~turned]], ignore_index=False)
    # an empty table would take on the index of a whole series
    table = table.assign(over_m=pd.Series(over_m, index=passes.index).reindex(table.index))
    return gpd.GeoDataFrame(table, geometry="geometry", crs=passes.crs).sort_values(
        "over_m", kind="stable"
    )


def pouring_paths(dem: Dem, poured: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The ways that mist takes down the far sides of the passes it pours over.

    By steepest descent, through hollows where they must.

    Parameters
    ----------
    dem : Dem
        The ground.
    poured : geopandas.GeoDataFrame
        As `pouring` gives it.

    Returns
    -------
    geopandas.GeoDataFrame
        One line a row of `poured`, EPSG:4326, that begins at the pass.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(60, 61))
    >>> row, col = np.mgrid[-30:30, -30:31]
    >>> wall = 400.0 - 8.0 * abs(col) + 0.05 * row**2 - 2.0 * (col > 0) * abs(col)
    >>> dem = terrain.Dem(wall, grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> west = terrain.Spot(lon_deg=lon, lat_deg=lat)
    >>> found = terrain.passes(dem, seeds=[west])
    >>> poured = terrain.pouring(terrain.level_mist(dem, 405.0, seeds=[west]), found)
    >>> ways = terrain.pouring_paths(dem, poured)
    >>> ways.geom_type.tolist(), bool((ways.to_crs(32628).length > 1000.0).all())
    (['LineString'], True)
    """
    lines = [pour_path(dem, row) for _, row in poured.iterrows()]
    return gpd.GeoDataFrame(
        {"name": poured["name"].to_numpy(), "height_m": poured["height_m"].to_numpy()},
        geometry=lines,
        crs="EPSG:4326",
    )


def describe_pouring(row: Any) -> str:
    """What mist does at a pass now, one line; row: of `pouring`."""
    return (
        f"the mist in the valley to the {row['side_a']} pours over {name_in_words(row)}, "
        f"{row['height_m']:.0f} m, into the valley to the {row['side_b']}, "
        f"{max(row['over_m'], 1):.0f} m deep on the pass"
    )


def _by_slope(mist: Mist, passes: gpd.GeoDataFrame) -> tuple[Flags, Flags]:
    """Whether a sloping mist pours over each pass, and whether it comes from side b."""
    top_a, top_b = (
        np.nan_to_num(_top_m(mist, passes[f"lon_{side}_deg"], passes[f"lat_{side}_deg"]), nan=-1e9)
        for side in "ab"
    )
    height = passes["height_m"].to_numpy()
    return (np.minimum(top_a, top_b) < height) & (top_a != top_b), top_b > top_a


def _turned(rows: gpd.GeoDataFrame) -> pd.DataFrame:
    """The rows with their sides exchanged."""
    names = {name: _other_side(name) for name in rows.columns if not name.startswith("summit_")}
    return pd.DataFrame(rows.rename(columns=names))[list(rows.columns)]


def _other_side(name: str) -> str:
    return "_".join(_OTHER_SIDE.get(part, part) for part in name.split("_"))


def _top_m(mist: Mist, lon_deg: Any, lat_deg: Any) -> Floats:
    return mist.top_at(np.asarray(lon_deg), np.asarray(lat_deg))
