"""A mist whose top is not known for sure, and between which tops a vantage works.

::

    top m                  400 |  x               the vantage itself has too little freeboard
                           380 |  o  mist_to_m
                           360 |  o               o  works: looked at in full at the ends
                           340 |  o  mist_top_m      the hoped-for top, or the nearest that works
                           320 |  o  mist_from_m
                           300 |  x               too little mist is seen about the hill

As the mist rises it only ever hides more and floods more, so a vantage that works at two tops is
taken to work at those between.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, partial
from typing import Any, Final

import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.places import Hill, Spot
from terrain.ground.tables import with_columns
from terrain.mist.level import MistRange
from terrain.sun.sun_line import SunLine
from terrain.vantage.candidates import likely_on, likely_places, with_behind
from terrain.vantage.glimpse import with_glimpse
from terrain.vantage.miss import under_mist
from terrain.vantage.question import Question
from terrain.vantage.sea import Sea, mist_share
from terrain.view.scene import Scene

_KEPT: Final = 3
"""Scenes held in memory at once: each has a surface of the raster's size."""


@dataclass(frozen=True, kw_only=True)
class Seas:
    """A hill over its mist at each of the tops it may have; over a certain mist, or none, once.

    country: under the mist. asked: what is asked of a vantage. NoAnswer where the hill lies under
    the mist at all of the tops. short: shares of mist in the frames that had too little of it.
    """

    country: Country
    hill: Hill
    asked: Question
    short: list[float] = field(default_factory=list, init=False)
    _shares: dict[tuple[float, Spot, float, float], float] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        if not self.tops_m:
            raise under_mist(self.hill, self._mists.tops_m[0])
        self.at(self.tops_m[0])  # says so where the hill lies under a mist that is certain

    @property
    def is_range(self) -> bool:
        """Whether the mist may have any of several tops."""
        return self.country.mists is not None

    @property
    def _mists(self) -> MistRange:
        if self.country.mists is None:
            raise ValueError("this mist has one top and no range of them")
        return self.country.mists

    @cached_property
    def tops_m(self) -> tuple[float, ...]:
        """The tops that the hill stands above, rising; its own of a certain mist, -inf of none."""
        if self.is_range:
            return tuple(top for top in self._mists.tops_m if top < self.hill.height_m)
        return (-math.inf if self.country.mist is None else self.country.mist.stated_top_m,)

    @property
    def lowest(self) -> Scene:
        """The hill over the lowest mist: what is not seen over it is not seen over a higher one."""
        return self.at(self.tops_m[0]).scene

    @cached_property
    def at(self) -> Callable[[float], Sea]:
        """The sea with its top at a height; the last few are kept."""
        # of a method of its own it would keep itself, and all of its ground, when it is done with
        return lru_cache(maxsize=_KEPT)(partial(_sea_of, self.country, self.hill, self.asked))

    def highest_m(self, cells: pd.DataFrame) -> Floats:
        """The top up to which each cell stands clear, with the freeboard to spare, (n,)."""
        at = cells["row"].to_numpy(), cells["col"].to_numpy()
        height = self.country.dem.heights_m[at].astype(float) - self.asked.limits.freeboard_m
        return np.asarray(np.minimum(height, self._mists.levels_m[at]))

    def with_own_tops(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells that stand clear of the lowest mist, each with its own top and the run about it.

        As `with_runs` has it, but as if each promised something at every top it is clear of.
        """
        if not self.is_range:
            return self._with_one_top(cells)
        tops, highest = np.array(self.tops_m), self.highest_m(cells)
        # a cell that is just clear of the lowest may seem not to be, by rounding
        last = np.maximum(np.searchsorted(tops, highest, side="right") - 1, 0)
        hoped = int(np.argmin(np.abs(tops - self._mists.hoped_m)))
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
        away = (cells["mist_top_m"] - self._mists.hoped_m).abs()
        nearest = away.groupby([cells["row"], cells["col"]]).idxmin()
        return cells.loc[nearest].drop(columns="number").reset_index(drop=True)

    def _with_one_top(self, cells: pd.DataFrame) -> pd.DataFrame:
        return with_columns(cells, dict.fromkeys(("mist_top_m", "mist_to_m"), self.tops_m[0]))

    def by_top(self, cells: pd.DataFrame) -> Iterator[tuple[Scene, pd.DataFrame]]:
        """The hill over each of the cells' own tops, with the cells."""
        for top in cells["mist_top_m"].unique():
            yield self.at(float(top)).scene, cells[cells["mist_top_m"] == top]

    @property
    def named(self) -> str:
        """The range of tops, for the begin of a reason why there is nothing; else empty."""
        return f"with mist anywhere from {self._mists.label}: " if self.is_range else ""

    @property
    def also(self) -> str:
        """What a vantage over it has to show beside the sun and the hill, and the nearest miss."""
        if self.lowest.mist is None:
            return ""
        least, best = self.asked.limits.mist_share, max(self.short, default=math.nan)
        shows = f"only {best:.1%} of it" if best > 0.0 else "none of it"
        missed = f", where the best of those without shows {shows}" if self.short else ""
        return f" with mist in {least:.0%} of the view under the sky{missed}"

    @property
    def less_mist(self) -> list[Mapping[str, Any]]:
        """What is asked for the frame with the most mist of those with too little of it."""
        return [{"mist_share": math.floor(100.0 * max(self.short)) / 100.0}] if self.short else []

    def chosen(self, cell: pd.Series, spot: Spot) -> tuple[Sea, float] | None:
        """The sea to look at a cell over, and its top; None where too little mist is seen.

        That of the cell's own top, or the next above it in its run that shows mist.
        """
        for top in self.tops_m:
            if cell["mist_top_m"] <= top <= cell["mist_to_m"] and self._shows(top, cell, spot):
                return self.at(top), top
        return None

    def band(
        self, cell: pd.Series, top_m: float, spot: Spot, works: Callable[[Scene], bool]
    ) -> dict[str, float]:
        """The run of tops about one at which a vantage works, as columns; none of a certain mist.

        works: a full look over a scene.
        """
        if not self.is_range:
            return {}

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
        """Whether enough mist is seen about the hill; a share that is too small is kept in mind."""
        scene, limits = self.at(top_m).scene, self.asked.limits
        if scene.mist is None:
            return True
        aim = float(cell["azimuth_deg"]), float(cell["altitude_deg"])
        # on other days the same places are looked at again
        share = self._shares.get(asked := (top_m, spot, *aim))
        if share is None:
            share = self._shares[asked] = mist_share(scene, spot, *aim, limits.field_deg)
        if share >= limits.mist_share:
            return True
        self.short.append(share)
        return False

    def likely_places(self, lines: Sequence[SunLine]) -> pd.DataFrame:
        """Cells that may be vantages over the lowest mist on one of some days; else NoAnswer."""
        limits = self.asked.limits
        try:
            cells = likely_places(self.lowest, lines, limits)
        except NoAnswer as error:
            raise NoAnswer(f"{self.named}{error}", loosen=error.loosen) from error
        return self.with_glimpse(cells)

    def with_glimpse(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Cells with what each may see of the mist, at the top hoped for or the nearest to it."""
        hoped = self._mists.hoped_m if self.is_range else self.tops_m[0]
        nearest = min(self.tops_m, key=lambda top: abs(top - hoped))
        return with_glimpse(self.at(nearest).scene, cells, self.asked.limits)

    def likely_on(self, cells: pd.DataFrame, line: SunLine) -> pd.DataFrame:
        """Those of the likely places that may be vantages on a day at some top; else NoAnswer.

        With quick values, as `candidates.likely_on` gives them, and the run of their tops.
        """
        limits = self.asked.limits
        if not self.is_range:
            return self._with_one_top(likely_on(self.lowest, cells, line, limits))
        cells = cells.assign(highest_m=self.highest_m(cells))
        height_m = cells["freeboard_m"] + self.tops_m[0]
        kept: list[pd.DataFrame] = []
        why: dict[float, NoAnswer] = {}
        for top in self.tops_m:
            clear = cells[cells["highest_m"] >= top]
            clear = clear.assign(freeboard_m=height_m[clear.index] - top, mist_top_m=top)
            scene = self.at(top).scene
            if clear.empty:
                why[top] = NoAnswer(
                    f"no place stands {limits.freeboard_m:.0f} m above a top of {top:.0f} m"
                )
                continue
            if top > self.tops_m[0]:
                clear = with_behind(scene, clear, limits)
            try:
                kept.append(likely_on(scene, clear, line, limits))
            except NoAnswer as error:
                why[top] = error
        if not kept:
            reason = why.get(self._mists.hoped_m, why[self.tops_m[0]])
            raise NoAnswer(f"{self.named}{reason}", loosen=reason.loosen)
        return self.with_runs(kept)


def _sea_of(country: Country, hill: Hill, asked: Question, top_m: float) -> Sea:
    """The sea about a hill with its top at a height, of those that its mist may have."""
    over = country if country.mists is None else country.under(country.mists.mist(top_m))
    return Sea(
        scene=Scene(over, hill),
        passes=asked.passes,
        field_deg=asked.limits.field_deg,
        trees_m=asked.limits.trees_m,
    )


def _farthest(holds: Callable[[float], bool], own_m: float, tops_m: list[float]) -> float:
    """The last of some tops, in order away from one's own, that holds as all before it do."""
    if not tops_m or holds(tops_m[-1]):
        return tops_m[-1] if tops_m else own_m
    fails = bisect_left(tops_m, True, hi=len(tops_m) - 1, key=lambda top: not holds(top))
    return tops_m[fails - 1] if fails else own_m
