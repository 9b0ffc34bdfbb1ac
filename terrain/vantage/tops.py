"""A mist whose top is not known for sure, and between which tops a vantage works.

::

    top m                  400 |  x               the vantage itself has too little freeboard
                           380 |  o  mist_to_m
                           360 |  o               o  works: looked at in full at the ends
                           340 |  o  mist_top_m      the hoped-for top, or the nearest that works
                           320 |  o  mist_from_m
                           300 |  x               no mist is seen about the hill

As the mist rises it only ever hides more and floods more, so a vantage that works at two tops is
taken to work at those between.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.level import MistRange
from terrain.sun.sun_line import SunLine
from terrain.vantage.candidates import (
    open_cells,
    passes_near,
    sift_day,
    with_behind,
    with_skyline,
)
from terrain.vantage.question import Question
from terrain.vantage.sea import Sea
from terrain.view.scene import Scene

__all__ = ["Seas", "sift_range"]

_KEPT: Final = 3
"""Scenes held in memory at once: each has a surface of the raster's size."""


@dataclass(frozen=True, kw_only=True)
class Seas:
    """A hill over a mist at each of its tops.

    mists: the tops. asked: what is asked of a vantage. NoAnswer where the hill lies under all of
    the tops, ValueError for mists of other ground.
    """

    country: Country
    hill: Hill
    mists: MistRange
    asked: Question

    def __post_init__(self) -> None:
        if self.mists.dem.grid != self.dem.grid:
            raise ValueError("the mist lies on another grid than the ground: make it from this one")
        if not self.tops_m:
            hill, mists = self.hill, self.mists
            raise NoAnswer(
                f"{hill.label} ({hill.height_m:.0f} m) lies under a mist with its top at "
                f"{mists.tops_m[0]:.0f} m or more: choose a higher hill or a lower mist"
            )

    @property
    def dem(self) -> Dem:
        """The true ground."""
        return self.country.dem

    @cached_property
    def tops_m(self) -> tuple[float, ...]:
        """The tops that the hill stands above, rising."""
        return tuple(top for top in self.mists.tops_m if top < self.hill.height_m)

    @property
    def lowest(self) -> Scene:
        """The hill over the lowest mist: what is not seen over it is not seen over a higher one."""
        return self.at(self.tops_m[0]).scene

    @cached_property
    def at(self) -> Callable[[float], Sea]:
        """The sea with its top at a height; the last few are kept."""
        return lru_cache(maxsize=_KEPT)(self._sea)

    def _sea(self, top_m: float) -> Sea:
        scene = Scene(self.country.under(self.mists.mist(top_m)), self.hill)
        return Sea(scene=scene, passes=self.asked.passes)

    def highest_m(self, cells: pd.DataFrame) -> NDArray[np.float64]:
        """The top up to which each cell stands clear, with the freeboard to spare, (n,)."""
        at = cells["row"].to_numpy(), cells["col"].to_numpy()
        height = self.dem.heights_m[at].astype(float) - self.asked.limits.freeboard_m
        return np.asarray(np.minimum(height, self.mists.levels_m[at]))

    def with_own_tops(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells that stand clear of the lowest mist, each with its own top and the run about it.

        As `with_runs` has it, but as if each promised something at every top it is clear of.
        """
        tops, highest = np.array(self.tops_m), self.highest_m(cells)
        # a cell that is just clear of the lowest may seem not to be, by rounding
        last = np.maximum(np.searchsorted(tops, highest, side="right") - 1, 0)
        hoped = int(np.argmin(np.abs(tops - self.mists.hoped_m)))
        own, high = tops[np.minimum(last, hoped)], tops[last]
        return cells.assign(
            highest_m=highest,
            freeboard_m=cells["freeboard_m"] + tops[0] - own,
            mist_top_m=own,
            mist_from_m=tops[0],
            mist_to_m=high,
            mist_band_m=high - tops[0],
        )

    def with_runs(self, kept: list[pd.DataFrame]) -> pd.DataFrame:
        """One row a cell of the tables of all tops: that of its own top, with the run about it.

        kept: with `mist_top_m` and the cells that promise something at it. The run, from
        `mist_from_m` to `mist_to_m`, is of neighbouring tops.
        """
        cells = pd.concat(kept, ignore_index=True)
        number = np.searchsorted(self.tops_m, cells["mist_top_m"])
        cells["number"] = number
        cells = cells.sort_values(["row", "col", "number"], ignore_index=True)
        gap = (cells["number"].diff() != 1) | cells[["row", "col"]].diff().ne(0).any(axis=1)
        run = cells.groupby(gap.cumsum())["mist_top_m"]
        low, high = run.transform("min"), run.transform("max")
        cells = cells.assign(mist_from_m=low, mist_to_m=high, mist_band_m=high - low)
        away = (cells["mist_top_m"] - self.mists.hoped_m).abs()
        nearest = away.groupby([cells["row"], cells["col"]]).idxmin()
        return cells.loc[nearest].drop(columns="number").reset_index(drop=True)

    @property
    def also(self) -> str:
        """What a vantage over it has to show beside the sun and the hill."""
        return " with mist in view"

    def chosen(self, cell: pd.Series, spot: Spot) -> tuple[Sea, float] | None:
        """The sea to look at a cell over, and its top; None where no mist is seen about the hill.

        That of the cell's own top, or the next above it in its run that shows mist.
        """
        for top in self.tops_m:
            if cell["mist_top_m"] <= top <= cell["mist_to_m"] and self._shows(top, cell, spot):
                return self.at(top), top
        return None

    def band(
        self, cell: pd.Series, top_m: float, spot: Spot, works: Callable[[Scene], bool]
    ) -> dict[str, float]:
        """The run of tops about one at which a vantage works; works: a full look over a scene."""

        def holds(top: float) -> bool:
            return self._shows(top, cell, spot) and works(self.at(top).scene)

        above = [top for top in self.tops_m if top_m < top <= cell["highest_m"]]
        below = [top for top in reversed(self.tops_m) if top < top_m]
        low, high = (_farthest(holds, top_m, away) for away in (below, above))
        return {
            "mist_top_m": top_m,
            "mist_from_m": low,
            "mist_to_m": high,
            "mist_band_m": high - low,
        }

    def _shows(self, top_m: float, cell: pd.Series, spot: Spot) -> bool:
        return self.at(top_m).shows_mist(spot, cell["azimuth_deg"], cell["altitude_deg"])


def sift_range(seas: Seas, line: SunLine) -> pd.DataFrame:
    """The cells that may be vantages at some top, as `sift` gives them, with the run of their tops.

    What holds over the lowest mist is found once, and then looked at over each of the others.
    """
    limits, lowest = seas.asked.limits, seas.lowest
    cells = open_cells(lowest, limits)
    near = cells[passes_near(cells, line, limits)]
    cells = cells if near.empty else with_skyline(lowest, near, limits.eye_m)
    return sift_tops(seas, cells, line)


def sift_tops(seas: Seas, cells: pd.DataFrame, line: SunLine) -> pd.DataFrame:
    """Those of the cells that stand clear of the lowest mist that may be vantages at some top."""
    limits = seas.asked.limits
    cells = cells.assign(highest_m=seas.highest_m(cells))
    height_m = cells["freeboard_m"] + seas.tops_m[0]
    kept: list[pd.DataFrame] = []
    why: dict[float, str] = {}
    for top in seas.tops_m:
        clear = cells[cells["highest_m"] >= top]
        clear = clear.assign(freeboard_m=height_m[clear.index] - top, mist_top_m=top)
        scene = seas.at(top).scene
        if clear.empty:
            why[top] = f"no place stands {limits.freeboard_m:.0f} m above a top of {top:.0f} m"
            continue
        if top > seas.tops_m[0] and "behind_deg" in clear:
            clear = with_behind(scene, clear, limits.eye_m)
        try:
            kept.append(sift_day(scene, clear, line, limits))
        except NoAnswer as error:
            why[top] = str(error)
    if not kept:
        raise NoAnswer(
            f"with mist anywhere from {seas.mists.label}: "
            f"{why.get(seas.mists.hoped_m, why[seas.tops_m[0]])}"
        )
    return seas.with_runs(kept)


def _farthest(holds: Callable[[float], bool], own_m: float, tops_m: list[float]) -> float:
    """The last of some tops, in order away from one's own, that holds as all before it do."""
    if not tops_m or holds(tops_m[-1]):
        return tops_m[-1] if tops_m else own_m
    # it holds at `first` tops for sure, and not at `last`
    first, last = 0, len(tops_m) - 1
    while first < last:
        middle = (first + last) // 2
        if holds(tops_m[middle]):
            first = middle + 1
        else:
            last = middle
    return tops_m[first - 1] if first else own_m
