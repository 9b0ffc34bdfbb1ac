"""Maps of what stands above a mist, of one or of one that rises, and of what it pours over.

In a series marks, columns and pages keep their places from one map to the next, so that they can
be turned over like leaves.
"""

from __future__ import annotations

import itertools
import string
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np

from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.mist.pouring import pouring_paths
from terrain.show.map.contents import MOST_SUMMITS, MapContents, island_key, pass_key, pour_key
from terrain.show.map.map import map_figure
from terrain.show.map.mist import MOST_PASSES, Pours, lettered
from terrain.show.paper.key import aligned, numbers_to
from terrain.show.paper.legend import Room

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["MistSeries", "RisenMist", "islands_map", "passes_map"]


def islands_map(
    dem: Dem,
    mist: Mist,
    islands: gpd.GeoDataFrame,
    *,
    title: str,
    poured: gpd.GeoDataFrame | None = None,
    notes: Sequence[str] = (),
) -> Figure:
    """A map of one mist, and of what stands above it.

    Parameters
    ----------
    dem : Dem
        The ground.
    mist : Mist
        Lies over it.
    islands : geopandas.GeoDataFrame
        As `islands` gives it for this mist.
    title : str
        What it shows, one line.
    poured : geopandas.GeoDataFrame, optional
        As `pouring` gives it for this mist.
    notes : sequence of str, optional
        Lines under the key.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> mist = terrain.level_mist(cone, 100.0)
    >>> standing = terrain.islands(cone, mist, terrain.find_summits(cone))
    >>> page = terrain.islands_map(cone, mist, standing, title="The cone in mist")
    >>> len(page.axes) > 0
    True
    """
    pours, room = None, MOST_SUMMITS
    if poured is not None:
        shown = lettered(poured)
        pours = Pours(passes=shown, ways=pouring_paths(dem, shown))
        room -= MOST_PASSES
    return map_figure(
        dem,
        MapContents(mist=mist, summits=islands.head(room), pours=pours),
        title=title,
        subtitle=_subtitle(mist),
        key=island_key(islands.head(room)),
        notes=notes,
    )


def passes_map(dem: Dem, found: gpd.GeoDataFrame, *, title: str) -> Figure:
    """A map of the first of some passes, with the ways that mist pours.

    Parameters
    ----------
    dem : Dem
        The ground.
    found : geopandas.GeoDataFrame
        As `passes` gives it.
    title : str
        What it shows, one line.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

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
    >>> page = terrain.passes_map(dem, found, title="The pass")
    >>> len(page.axes) > 0
    True
    """
    shown = found.head(MOST_SUMMITS)
    ways = pouring_paths(dem, shown[shown["pours"]])
    pouring_first = "Passes that mist pours over, then the lowest"
    order = pouring_first if found["pours"].any() else "The lowest passes between them"
    return map_figure(
        dem,
        MapContents(summits=shown, pours=Pours(ways=ways) if len(ways) else None),
        title=title,
        subtitle=f"{order}, and the side that fills first",
        key=pass_key(shown),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class RisenMist:
    """One height of a series: who stands clear of it, and the passes that it pours over, if any."""

    mist: Mist
    standing: gpd.GeoDataFrame
    poured: gpd.GeoDataFrame | None


@dataclass(frozen=True, kw_only=True, eq=False)
class MistSeries:
    """The heights of a rising mist that are to be drawn.

    dem: the ground. summits: all of them, highest first; passes: all of them, None without any;
    `standing` and `poured` of each height keep their row labels.
    """

    dem: Dem
    summits: gpd.GeoDataFrame
    passes: gpd.GeoDataFrame | None
    heights: Sequence[RisenMist]

    def figures(self, title: str, notes: Sequence[str] = ()) -> Iterator[Figure]:
        """A map for each height, one after the other."""
        keys = aligned([island_key(self._marked(one.standing), whole=True) for one in self.heights])
        pours = [self._pours(one) for one in self.heights]
        tables = [pour_key(at.passes) for at in pours if at is not None and at.passes is not None]
        room = Room(keys=keys, passes=tables)
        everyone = self.summits.loc[list(self._numbers)]
        for one, key, at in zip(self.heights, keys, pours, strict=True):
            clear = everyone.index.isin(one.standing.index)
            marks = np.where(clear, list(self._numbers.values()), "")
            yield map_figure(
                self.dem,
                MapContents(mist=one.mist, summits=everyone.assign(mark=marks), pours=at),
                title=title,
                subtitle=_subtitle(one.mist),
                key=key,
                notes=notes,
                room=room,
            )

    @cached_property
    def _numbers(self) -> dict[Any, str]:
        """The number of each summit on all the maps, by its row label: highest first."""
        most = MOST_SUMMITS - (MOST_PASSES if self._letters else 0)
        ever = set().union(*(one.standing.index for one in self.heights))
        first = [label for label in self.summits.index if label in ever][:most]
        return dict(zip(first, numbers_to(len(first)), strict=True))

    @cached_property
    def _letters(self) -> dict[Any, str]:
        """The letter of each pass on all the maps, by its row label: lowest first."""
        heights_m: dict[Any, float] = {}
        for one in self.heights:
            if one.poured is not None:
                heights_m |= one.poured.head(MOST_PASSES)["height_m"].to_dict()
        letters = list(string.ascii_lowercase)
        pairs = ("".join(two) for two in itertools.product(letters, repeat=2))
        lowest_first = sorted(heights_m, key=heights_m.__getitem__)
        return dict(zip(lowest_first, itertools.chain(letters, pairs), strict=False))

    def _marked(self, standing: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        kept = standing.loc[[label for label in self._numbers if label in standing.index]]
        return kept.assign(mark=kept.index.map(self._numbers))

    def _pours(self, one: RisenMist) -> Pours | None:
        """Where the mist pours at a height; none of the maps has it, or all, if in the legend."""
        if not self._letters or self.passes is None:
            return None
        if one.poured is None:
            return Pours(ways=pouring_paths(self.dem, self.passes.iloc[:0]))
        table = lettered(one.poured, self._letters)
        return Pours(passes=table, ways=pouring_paths(self.dem, table))


def _subtitle(mist: Mist) -> str:
    return f"Summits that stand above mist with its top at {mist.label}"
