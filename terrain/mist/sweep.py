"""Which summits stand clear, and on whose islands, as the mist rises: every level at once.

Dry land at a top T is the ground with a flood level of T or more. As T sinks, islands appear at
the tops of the flood levels and join at their cols, so the heights of these alone say what
happens to each summit::

    height_m       drowned above      /\\  B
                   ^ alone           /  \\        A and B share an island up to the col between
    alone_from_m   |                /    \\  /\\ C   them; B and C up to theirs. B is alone from
    own_from_m     | shared  __/\\__/      \\/  \\    the higher of the two, and an island of its
                   | ringed    A           col  \\   own, with no higher top on it, from the
    ringed_from_m  | part of the land beyond     \\  lower, if that leads to a higher hill
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats, Numbers, Singles
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.tops import Tops, find_tops, owners, shared_and_ringed
from terrain.mist.flood import flood_levels
from terrain.mist.islands import cells_of, straits_from
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist

# higher than any ground: where no mist comes the land stays dry
_NEVER_M = 1e5
# a summit's given place may lie on a knoll beside the raster's highest cell, that falls less
_SLIGHT_M = 10.0


@dataclass(frozen=True, eq=False)
class MistSweep:
    """A mist that rises through several levels, and what it makes of the summits.

    Attributes
    ----------
    dem : Dem
        The ground.
    levels_m : (rows, cols) float32 array, metres
        Its flood levels.
    tops_m : (tops,) float array, metres
        Rising.
    summits : geopandas.GeoDataFrame
        One row a summit of the raster, highest first, with the index of the table given:

        - `name`, `height_m`, `prominence_m` (if given), `geometry`: those of the summit
        - `drowns_m`: the top that covers its summit; infinite where no mist ever comes
        - `alone_from_m`: above this top no other summit of the table stands on its island; the
          lowest level where none ever does
        - `own_from_m`: above this top no higher ground does; the lowest level for the highest
        ground
        - `ringed_from_m`: above this top its island does not reach the raster's edge or unknown
          ground, so that mist lies all round it; -inf where it never does
        - `joins`: row label of the highest summit on the island that it becomes part of at
          `own_from_m`; None where the table holds none

        Where `own_from_m` or `alone_from_m` is `drowns_m` itself, the summit is never that.
    islands : pandas.DataFrame
        One row for each top and each summit that stands clear of it:

        - `top_m`, `summit` (row label), `name`, `freeboard_m`
        - `island` (row label of the highest summit of the table on it), `summits_on_island`
        - `island_area_km2`, `ringed` (whether mist lies all round it: else the area is a lower
        bound)

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> sweep = terrain.mist_sweep(dem, terrain.find_summits(dem), [20, 75])
    >>> sweep.islands[["top_m", "freeboard_m", "ringed"]].values.tolist()
    [[20.0, 70.0, True], [20.0, 50.0, True], [75.0, 15.0, True]]
    """

    dem: Dem
    levels_m: Singles
    tops_m: Floats
    summits: gpd.GeoDataFrame
    islands: pd.DataFrame

    def mist(self, top_m: float) -> Mist:
        """The mist at any top, by one comparison."""
        return level_mist(self.dem, top_m, levels=self.levels_m)

    @cached_property
    def shared(self) -> pd.DataFrame:
        """The top, metres, up to which each two summits share an island; NaN never.

        Square, with the index of `summits` both ways; of a summit with itself where it drowns.
        """
        index = self.summits.index
        return pd.DataFrame(self.summits.attrs["shared_m"], index=index, columns=index)


def mist_sweep(
    dem: Dem,
    summits: gpd.GeoDataFrame,
    tops_m: Sequence[float],
    *,
    seeds: Sequence[Spot | Hill] | None = None,
    levels: Singles | None = None,
) -> MistSweep:
    """A level mist at each of several tops, and the levels at which each summit fares otherwise.

    The levels of the summits follow from the flood levels exactly, whatever the tops are.

    Parameters
    ----------
    dem : Dem
        The ground.
    summits : geopandas.GeoDataFrame
        As `find_summits` gives them (`name`, `height_m`, points).
    tops_m : sequence of float
        Metres, one or more.
    seeds : sequence of Spot or Hill, optional
        As for `flood_levels`.
    levels : (rows, cols) float32 array, metres, optional
        What `flood_levels` gave for this ground and these seeds.

    Returns
    -------
    MistSweep
        Of all the tops.

    Raises
    ------
    NoAnswer
        Where no summit lies on known ground.
    TerrainError
        Where a top is no number.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> sweep = terrain.mist_sweep(dem, terrain.find_summits(dem), [20, 75])
    >>> sweep.summits[["height_m", "drowns_m", "alone_from_m"]].values.tolist()
    [[90.0, 90.0, 40.0], [70.0, 70.0, 40.0]]
    """
    tops = np.unique(np.asarray(tops_m, dtype=float))
    if not tops.size or not np.isfinite(tops).all():
        raise TerrainError(f"a sweep needs heights in metres for the mist's top, got {tops_m}")
    if levels is None:
        levels = flood_levels(dem, seeds=seeds)
    dry = np.where(np.isinf(levels), np.float32(_NEVER_M), levels)
    land = find_tops(Dem(dry, dem.grid))
    row, col, on_raster = cells_of(dem, summits)
    on_raster &= ~np.isnan(levels[row, col])
    if not on_raster.any():
        raise NoAnswer("there is no summit here that could stand above the mist")
    height = summits.height_m.to_numpy(dtype=float)
    order = np.argsort(-height, kind="stable")
    order = order[on_raster[order]]
    cells = row[order], col[order]
    hill_of = owners(land, land.drop_m >= _SLIGHT_M)
    own_top = hill_of[land.top_of[cells]]
    dry_to = dry[cells].astype(float)
    drowns = np.maximum(height[order], levels[cells].astype(float))
    fates = _fates(summits.iloc[order], land, own_top, drowns, float(np.nanmin(dry)))
    area = _areas_km2(land, dry, tops, dem.cell_m)
    rows = [_at_top(top, area[:, at], land, own_top, dry_to, fates) for at, top in enumerate(tops)]
    return MistSweep(dem, levels, tops, fates, pd.concat(rows, ignore_index=True))


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


def _fates(
    summits: gpd.GeoDataFrame, land: Tops, own_top: Numbers, drowns_m: Floats, lowest_m: float
) -> gpd.GeoDataFrame:
    """The summits, highest first, with the levels at which each fares otherwise.

    land: tops of the dry land; own_top: (summits,) that on which each stands.
    """
    shared, ringed = shared_and_ringed(land, own_top)
    shared = np.minimum(shared, np.minimum.outer(drowns_m, drowns_m))
    others = np.where(np.eye(drowns_m.size, dtype=bool), np.nan, shared)
    alone = np.fmax.reduce(others, axis=1, initial=lowest_m)
    own = np.fmax(land.col_height_m[own_top], lowest_m)
    # a summit that is no top of the dry land itself stands on that of another
    same = own_top[:, np.newaxis] == own_top
    lesser = np.tril(same, -1).any(axis=1)
    own = np.where(lesser, drowns_m, np.minimum(own, drowns_m))
    with np.errstate(invalid="ignore"):
        higher = np.tril(shared >= own[:, np.newaxis], -1)
    joins = [summits.index[row.argmax()] if row.any() else None for row in higher]
    columns = [name for name in ("name", "height_m", "prominence_m") if name in summits]
    fates = gpd.GeoDataFrame(
        summits[columns].assign(
            drowns_m=drowns_m,
            alone_from_m=np.minimum(alone, drowns_m),
            own_from_m=own,
            ringed_from_m=ringed,
            joins=pd.Series(joins, index=summits.index, dtype=object),
        ),
        geometry=summits.geometry,
        crs=summits.crs,
    )
    fates.attrs["shared_m"] = shared
    return fates


def _areas_km2(land: Tops, dry_m: Singles, tops_m: Floats, cell_m: float) -> Floats:
    """(tops of the land, tops of the mist): area of the ground of each that is dry at each."""
    known = land.top_of >= 0
    band = np.searchsorted(tops_m, dry_m[known], side="right")
    slots = tops_m.size + 1
    number = land.top_of[known].astype(np.int64) * slots + band
    cells = np.bincount(number, minlength=land.cell.size * slots).reshape(-1, slots)
    # dry at a top is what lies in its band and in all higher ones
    dry = np.cumsum(cells[:, :0:-1], axis=1)[:, ::-1]
    return np.asarray(dry * (cell_m**2 / 1e6), dtype=np.float64)


def _at_top(
    top_m: float,
    area_km2: Floats,
    land: Tops,
    own_top: Numbers,
    dry_to_m: Floats,
    summits: gpd.GeoDataFrame,
) -> pd.DataFrame:
    # islands that have joined by then are one
    island = owners(land, ~(land.col_height_m >= top_m))
    area = np.bincount(island, area_km2, minlength=island.size)
    clear = (dry_to_m >= top_m) & (summits.height_m.to_numpy() > top_m)
    on = island[own_top[clear]]
    # rows run from the highest summit down, so the first on an island is its highest
    _, first, which, count = np.unique(
        on, return_index=True, return_inverse=True, return_counts=True
    )
    stand = summits[clear]
    return pd.DataFrame(
        {
            "top_m": np.full(len(stand), top_m),
            "summit": stand.index,
            "name": stand["name"].to_numpy(),
            "freeboard_m": stand.height_m.to_numpy() - top_m,
            "island": stand.index.to_numpy()[first[which]] if len(stand) else stand.index,
            "summits_on_island": count[which],
            "island_area_km2": area[on],
            "ringed": stand.ringed_from_m.to_numpy() < top_m,
        }
    )
