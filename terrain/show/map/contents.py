"""What lies on the ground of a map, with the keys and the legend that say what it is."""

from __future__ import annotations

import string
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.show.map.extent import map_places, shape_places
from terrain.show.map.keys import pour_key, summit_key, vantage_key
from terrain.show.map.mist import depth_row, mist_row
from terrain.show.map.spread import MOST_SUMMITS
from terrain.show.map.surround import UNKNOWN_HATCH
from terrain.show.map.tree_tops import TreeTops, tree_tops_row
from terrain.show.map.water import water_row
from terrain.show.paper import palette
from terrain.show.paper.key import Key, numbers_to
from terrain.show.paper.legend import Hatch, Row, hatch_row, line_row, mark_row
from terrain.show.paper.marks import HILL_MARK

HIDDEN_HATCH: Final = Hatch("\\" * 4, palette.HIDDEN)
"""Leans the other way than that of unknown ground."""

PATH_LOOK: Final[dict[str, Any]] = {"color": palette.PATH, "linewidth": 1, "dashes": (3.5, 1.8)}
TOWARD_LOOK: Final[dict[str, Any]] = {"color": palette.INK, "linewidth": 0.6, "alpha": 0.45}
CONTOUR_LOOK: Final[dict[str, Any]] = {"color": palette.INK, "linewidth": 0.5, "alpha": 0.4}


@dataclass(frozen=True, kw_only=True, eq=False)
class MapContents:
    """What a map shows on its ground.

    Parameters
    ----------
    mist : Mist, optional
        Lies over the ground; none unless given.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres: where the mist is as shallow their tops
        are shown; not at all unless given.
    hill : Hill, optional
        The hill that is looked at.
    vantages : geopandas.GeoDataFrame, optional
        Points, numbered in their order, or as a column `mark` says.
    summits : geopandas.GeoDataFrame, optional
        The same, at most 20; they have no numbers beside vantages.
    starts : sequence of Spot, optional
        Lettered.
    paths : geopandas.GeoDataFrame, optional
        Lines.
    hidden : (rows, cols) bool array, optional
        Ground to hatch.
    passes : geopandas.GeoDataFrame, optional
        Rows of `pouring` with a letter each in a column `mark`.
    ways : geopandas.GeoDataFrame, optional
        Lines that mist pours down, as `pouring_paths` has them.
    contour_m : float, optional
        Height between two contours, metres; none unless given.
    named : sequence of Spot, optional
        Places whose names are written as far as there is room, the first first.

    Examples
    --------
    >>> import terrain
    >>> hill = terrain.Hill(lon_deg=-24.0, lat_deg=54.4, height_m=312.0, name="Cone")
    >>> stile = terrain.Spot(lon_deg=-24.1, lat_deg=54.4, name="the stile")
    >>> terrain.MapContents(hill=hill, starts=[stile]).letters
    {'the stile': 'A'}
    """

    mist: Mist | None = None
    trees_m: tuple[float, float] | None = None
    hill: Hill | None = None
    vantages: gpd.GeoDataFrame | None = None
    summits: gpd.GeoDataFrame | None = None
    starts: Sequence[Spot] = ()
    paths: gpd.GeoDataFrame | None = None
    hidden: Flags | None = None
    passes: gpd.GeoDataFrame | None = None
    ways: gpd.GeoDataFrame | None = None
    contour_m: float | None = None
    named: Sequence[Spot] = ()

    @property
    def numbered(self) -> gpd.GeoDataFrame | None:
        """The table whose rows are numbered: of summits as many as the map has room for."""
        if self.vantages is not None or self.summits is None:
            return self.vantages
        return self.summits.iloc[:MOST_SUMMITS]

    @property
    def marks(self) -> list[str]:
        """What is written on the marks of the numbered places, and then of the starts."""
        table = self.numbered
        numbers = [] if table is None else list(table.get("mark", numbers_to(len(table))))
        return [*numbers, *string.ascii_uppercase[: len(self.starts)]]

    @property
    def letters(self) -> dict[str, str]:
        """The letter of each start, by its name or else its place; there are letters for 26."""
        labels = [start.label for start in self.starts]
        return dict(zip(labels, string.ascii_uppercase, strict=False))

    @property
    def shows_directions(self) -> bool:
        """Whether strokes show the way from each vantage to the hill."""
        return self.hill is not None and self.vantages is not None

    def marked_places(self, grid: Grid) -> Floats:
        """Where the numbered places lie, and then the starts, (n, 2) in map coordinates."""
        lettered = self.starts[: len(string.ascii_uppercase)]
        starts = [map_places(grid, start.lon_deg, start.lat_deg) for start in lettered]
        numbered = [] if self.numbered is None else [shape_places(grid, self.numbered.geometry)]
        return np.concatenate([np.empty((0, 2)), *numbered, *starts])

    def summit(self, grid: Grid) -> Floats:
        """The hill, (1, 2) in map coordinates; (0, 2) without one."""
        if self.hill is None:
            return np.empty((0, 2))
        return map_places(grid, self.hill.lon_deg, self.hill.lat_deg)

    def wanted_places(self, grid: Grid) -> Floats:
        """What the map must show, (n, 2) in map coordinates; none where it is of summits."""
        if self.vantages is None and self.summits is not None:
            return np.empty((0, 2))
        some = MapContents(vantages=self.vantages, starts=self.starts)
        return np.concatenate([self.summit(grid), some.marked_places(grid)])

    def key(self) -> Key | None:
        """That of the vantages, or else of the summits."""
        if self.vantages is not None:
            return vantage_key(self.vantages, letters=self.letters)
        return None if self.numbered is None else summit_key(self.numbered)

    def passes_key(self) -> Key | None:
        """That of the lettered passes, where there are some."""
        return None if self.passes is None or self.passes.empty else pour_key(self.passes)

    def tree_tops(self, dem: Dem) -> TreeTops | None:
        """The tree tops to show on a ground, if any."""
        if self.mist is None or self.trees_m is None:
            return None
        return TreeTops(dem=dem, mist=self.mist, trees_m=self.trees_m)

    def legend(self, *, unknown: bool, tree_tops: bool = False, water: bool = False) -> list[Row]:
        """The rows of the legend.

        unknown: whether the map shows ground that is not known; tree_tops: and any tree tops;
        water: and any water.
        """
        rows = [] if self.hill is None else [hill_row(self.hill)]
        if self.shows_directions:
            rows.append(line_row("from a place toward the hill", TOWARD_LOOK))
        rows += [mark_row(letter, words) for words, letter in self.letters.items()]
        if self.mist is not None:
            rows += [mist_row(self.mist), depth_row()]
        if tree_tops and self.trees_m is not None:
            rows.append(tree_tops_row(self.trees_m))
        if water:
            rows.append(water_row(misty=self.mist is not None))
        if self.contour_m:
            rows.append(line_row(f"height, a line every {self.contour_m:g} m", CONTOUR_LOOK))
        if self.ways is not None:
            rows.append(Row(words="the way mist pours down", sign=_draw_pour))
        if self.hidden is not None:
            rows.append(hatch_row("ground that is hidden", HIDDEN_HATCH))
        if unknown:
            rows.append(hatch_row("no heights in the raster", UNKNOWN_HATCH))
        if self.paths is not None:
            rows.append(line_row("path", PATH_LOOK))
        return rows


def hill_row(hill: Hill) -> Row:
    """The hill with its height."""
    return mark_row(HILL_MARK, f"{hill.label}, {hill.height_m:.0f} m")


def _draw_pour(side: Axes, at: float) -> None:
    side.plot([0.5, 15.5], [at, at], color=palette.SHORE, linewidth=1.3)
    side.plot([14.0], [at], marker=">", markersize=4.5, color=palette.SHORE)
