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
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.figure import Figure

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.foremost import foremost_passes
from terrain.mist.mist import Mist
from terrain.mist.pouring import pouring_paths
from terrain.mist.trees import TREES_M
from terrain.show.map.contents import MapContents
from terrain.show.map.keys import island_key, pass_key
from terrain.show.map.map import map_figure
from terrain.show.map.mist import MOST_PASSES, lettered
from terrain.show.map.spread import MOST_SUMMITS, spread_tops, unnumbered_notes, without_hill
from terrain.show.paper.key import aligned, numbers_to
from terrain.show.paper.legend import Room
from terrain.show.paper.marks import PASS
from terrain.show.paper.style import own_style


@own_style()
def islands_map(
    dem: Dem,
    mist: Mist,
    islands: gpd.GeoDataFrame,
    *,
    title: str,
    poured: gpd.GeoDataFrame | None = None,
    hill: Hill | None = None,
    spots: Sequence[Spot] = (),
    trees_m: tuple[float, float] = TREES_M,
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
    hill : Hill, optional
        The hill that is looked at, which has a mark of its own.
    spots : sequence of Spot, optional
        Where one would stand, lettered.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres: in mist as shallow their tops are shown.
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
    passes = None if poured is None else lettered(poured)
    ways = None if passes is None else pouring_paths(dem, passes)
    others = without_hill(islands, hill)
    most = MOST_SUMMITS if passes is None else MOST_SUMMITS - MOST_PASSES
    numbered = spread_tops(dem, others, most)
    return map_figure(
        dem,
        MapContents(
            mist=mist,
            trees_m=trees_m,
            hill=hill,
            starts=spots,
            summits=numbered,
            passes=passes,
            ways=ways,
        ),
        title=title,
        subtitle=_subtitle(mist),
        key=island_key(numbered),
        notes=(*unnumbered_notes(len(numbered), len(others)), *notes),
    )


_NO_POUR: Final = (
    "Mist that rises everywhere at once meets on a pass; where it comes from one side it pours "
    "over as the arrow shows."
)


_DEEP: Final = "Deep: below the lower of the hills on either side, or over the hollow it closes."


@own_style()
def passes_map(dem: Dem, found: gpd.GeoDataFrame, *, title: str) -> Figure:
    """A map of the foremost of some passes, with the ways that mist pours.

    Parameters
    ----------
    dem : Dem
        The ground.
    found : geopandas.GeoDataFrame
        As `passes` gives it; numbered in the order in which they fill. Of more than twenty the
        `foremost_passes` are drawn, with the numbers that they have among all.
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
    filling = foremost_passes(found, len(found))
    marked = filling.assign(mark=[PASS + number for number in numbers_to(len(filling))])
    shown = foremost_passes(marked, MOST_SUMMITS)
    pours = found["pours"].any()
    ways = pouring_paths(dem, shown[shown["pours"]] if pours else shown)
    order = "Those that mist pours over" if pours else "As rising mist comes to them"
    return map_figure(
        dem,
        MapContents(summits=shown, ways=ways if len(ways) else None),
        title=title,
        subtitle=f"{order}, the first first; arrows lead from the valley that fills first",
        key=pass_key(shown),
        notes=(*(() if pours else (_NO_POUR,)), _DEEP),
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
    `standing` and `poured` of each height keep their row labels. trees_m: how high trees are.
    hill, spots: what has a mark of its own, on every map.
    """

    dem: Dem
    summits: gpd.GeoDataFrame
    passes: gpd.GeoDataFrame | None
    heights: Sequence[RisenMist]
    trees_m: tuple[float, float] = TREES_M
    hill: Hill | None = None
    spots: Sequence[Spot] = ()

    def figures(self, title: str, notes: Sequence[str] = ()) -> Iterator[Figure]:
        """A map for each height, one after the other."""
        keys = aligned([island_key(self._marked(one.standing), whole=True) for one in self.heights])
        shown = [self._contents(one) for one in self.heights]
        tables = [table for contents in shown if (table := contents.passes_key())]
        room = Room(keys=keys, passes=tables)
        for one, contents, key in zip(self.heights, shown, keys, strict=True):
            yield map_figure(
                self.dem,
                contents,
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
        others = without_hill(self.summits, self.hill)
        first = spread_tops(self.dem, others[others.index.isin(ever)], most).index
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

    def _contents(self, one: RisenMist) -> MapContents:
        """What the map of a height shows: ways that mist pours are in all the legends, or in none.

        A summit that drowned keeps its room, and has no number.
        """
        asked: dict[str, Any] = {"mist": one.mist, "trees_m": self.trees_m, "hill": self.hill}
        asked["starts"] = self.spots
        everyone = self.summits.loc[list(self._numbers)]
        clear = everyone.index.isin(one.standing.index)
        marked = everyone.assign(mark=np.where(clear, list(self._numbers.values()), ""))
        if not self._letters or self.passes is None:
            return MapContents(**asked, summits=marked)
        passes = lettered(self.passes[:0] if one.poured is None else one.poured, self._letters)
        ways = pouring_paths(self.dem, passes)
        return MapContents(**asked, summits=marked, passes=passes, ways=ways)


def _subtitle(mist: Mist) -> str:
    return f"Summits that stand above mist with its top at {mist.label}"
