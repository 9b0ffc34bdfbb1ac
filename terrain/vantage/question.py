"""What is asked of vantages, whole: every search takes it and passes it on.

What a vantage must keep to (`Limits`), and what makes one better than another: each criterion a
value and a score from 0 to 1. To add one: give `find_vantages` another column of values (see
`terrain.vantage.search`), and list a `Criterion` here that says how the value scores. The weights
are a matter of taste (common practice, no source) and can be changed in the call.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.arrays import Floats
from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.ground.tables import with_columns
from terrain.vantage.limits import Limits

if TYPE_CHECKING:
    from terrain.vantage.access import Access

Score = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Criterion:
    """One thing that matters about a vantage.

    name: its column of scores, 0 to 1; value: the column of values it judges, with the unit in
    the name; weight: its share; score: from values to scores; over_ground, behind: whether it hangs
    on the ground on the way to the hill, and on that behind it; instead: the column it judges where
    there is no such.
    """

    name: str
    value: str
    weight: float
    score: Score
    over_ground: bool = False
    instead: str = ""
    behind: bool = False

    def column_in(self, names: Container[str]) -> str | None:
        """Which of some columns it judges; None where it can judge none."""
        return next((name for name in (self.value, self.instead) if name in names), None)

    def scores(self, table: pd.DataFrame) -> Floats:
        """The scores of the rows of a table, NaN where the value is not known.

        What hangs on the ground on the way to the hill, or behind it, scores 0, the least it can
        be, where some of that is unknown (`known_between`, `known_behind` is False): what may stand
        there cannot be ruled out.
        """
        scores = self.score(table[self.column_in(table)].to_numpy(dtype=float))
        for hangs, known in ((self.over_ground, "known_between"), (self.behind, "known_behind")):
            if hangs and known in table:
                scores = np.where(table[known].to_numpy(dtype=bool), scores, 0.0)
        return scores


def standard_criteria(limits: Limits) -> tuple[Criterion, ...]:
    """The criteria of `find_vantages`; the limits of the search set where two of them reach 0.

    - alignment: how near to the summit the sun is at its best moment
    - togetherness: how near to the summit itself the sun is then, whatever sky or ground between
    - stature: how tall the hill stands in view over what is in front of it
    - openness: how much of the view about the hill is free of near ground
    - isolation: how far the summit rises over the ground behind it
    - contrast: how plainly the summit stands out of what is behind it
    - freeboard: how safely the vantage stands above the mist
    - warmth: how low the sun is at its best: its light is warm below about 6 degrees
    - level: whether the summit is seen level or from above rather than from below
    - nearness: a distance at which a hill is large and still whole
    - footing: how level the ground is to stand on
    - sea: how much of the view under the skyline is mist
    - waterline: how much of the hill's outline meets mist rather than ground
    - over_mist: how high the summit stands over the mist at its foot
    - island: whether mist is all round it in the view
    - isles: how many other islands are seen in the mist about the hill
    - shallows: how much of the view is shallows with tree tops that lie whole in it
    - pouring: whether mist is seen to pour over a pass
    - band: over how many metres of mist top it works
    - frame: how much of hill, mist and sun the lens takes in

    Those from the sea to the band are about a mist, the frame about a lens: their values are there
    where it is, and where they were asked for. With unknown ground on the way to the hill those of
    a mist score 0, and so do alignment, togetherness and stature; where a gap behind it may hold
    ground that stands over it, what hangs on that. Unknown near ground is not open.
    """
    near = _falling(limits.tolerance_deg)
    return (
        Criterion("alignment", "best_deg", 1.5, near, True, "offset_deg", behind=True),
        Criterion("togetherness", "sun_from_summit_deg", 1.5, _fading(1.0, 5.0), True, behind=True),
        Criterion("stature", "stature_deg", 1.5, _rising(1.5), True),
        Criterion("openness", "open_share", 1.5, _as_it_is),
        Criterion("isolation", "isolation_deg", 1.0, _rising(0.5), behind=True),
        Criterion("contrast", "contrast", 1.5, _as_it_is, behind=True),
        Criterion("freeboard", "freeboard_m", 1.0, _rising(50.0)),
        Criterion("warmth", "sun_deg", 1.0, _fading(2.0, 8.0), instead="altitude_deg", behind=True),
        Criterion("level", "altitude_deg", 1.0, _fading(1.0, 8.0)),
        Criterion("nearness", "distance_m", 1.0, _between(500.0, 2000.0, 7000.0, 25_000.0)),
        Criterion("footing", "slope_deg", 1.0, _falling(limits.max_slope_deg)),
        Criterion("sea", "mist_share", 1.5, _rising(0.25), True),
        Criterion("waterline", "waterline", 2.5, _none_is_least(_as_it_is), True),
        Criterion("over_mist", "over_mist_deg", 1.5, _none_is_least(_rising(1.0)), True),
        Criterion("island", "is_island", 0.5, _as_it_is, True),
        Criterion("isles", "islands_in_view", 0.5, _rising(2.0), True),
        Criterion("shallows", "shallows_deg2", 0.5, _rising(0.5), True),
        Criterion("pouring", "pours_in_view", 0.5, _as_it_is, True),
        Criterion("band", "mist_band_m", 1.5, _rising(40.0), True),
        Criterion("frame", "fits_share", 2.0, _mostly),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Question:
    """What is asked of vantages, whatever the hill and the day; see `find_vantages` for each.

    limits: what a vantage must keep to. starts: where a walk can begin. access: how far one will
    walk from a start, or None. passes: as `terrain.passes` gives them, or None where nobody asks.
    count: how many rows, at most. weights: of the criteria, by name. only: values of criteria that
    are judged, all unless given. evening: the sun as it goes down. TerrainError for what makes no
    sense.
    """

    limits: Limits = field(default_factory=Limits)
    starts: Sequence[Spot] = ()
    access: Access | None = None
    passes: gpd.GeoDataFrame | None = None
    count: int = 10
    weights: Mapping[str, float] | None = None
    only: Sequence[str] | None = None
    evening: bool = False

    def __post_init__(self) -> None:
        if self.count < 1:
            raise TerrainError(f"{self.count} rows are none: ask for 1 or more")
        if self.access is not None and not self.starts:
            raise TerrainError("access is by foot from a start, and none was given: give starts")

    def __getstate__(self) -> dict[str, Any]:
        """What another process needs; the criteria are functions, which it makes itself."""
        return {each.name: vars(self)[each.name] for each in fields(self)}

    @cached_property
    def criteria(self) -> tuple[Criterion, ...]:
        """What the vantages are judged by."""
        every = standard_criteria(self.limits)
        return tuple(each for each in every if self.only is None or each.column_in(self.only))

    @cached_property
    def _shares(self) -> dict[str, float]:
        """The weight of each criterion, by its name."""
        shares = {criterion.name: criterion.weight for criterion in self.criteria}
        for name, weight in (self.weights or {}).items():
            if name not in shares:
                known = ", ".join(shares)
                raise TerrainError(f"no criterion is called {name!r}: choose from {known}")
            if not 0.0 <= weight < np.inf:
                raise TerrainError(f"the weight of {name} must be 0 or more, got {weight}")
            shares[name] = float(weight)
        if not any(shares.values()):
            raise TerrainError("every criterion has the weight 0: give one of them more")
        return shares

    def scored(self, table: pd.DataFrame) -> pd.DataFrame:
        """A copy of the table with a column for each criterion and `score`, their weighted mean.

        A value that there is not (no mist: no freeboard) is left out of the mean, and a criterion
        whose values the table does not have gets no column; what unknown ground on the way to the
        hill leaves open counts as 0. Raises TerrainError for a weight of
        an unknown name, a negative one, or none above 0.
        """
        scores, total = self._scores(table)
        return with_columns(table, scores | {"score": total})

    def _scores(self, table: pd.DataFrame) -> tuple[dict[str, Floats], Floats]:
        known = [criterion for criterion in self.criteria if criterion.column_in(table)]
        scores = {criterion.name: criterion.scores(table) for criterion in known}
        matrix = np.stack(list(scores.values()), axis=1)
        share = np.where(np.isnan(matrix), 0.0, [self._shares[name] for name in scores])
        total = (np.nan_to_num(matrix) * share).sum(axis=1) / np.maximum(share.sum(axis=1), 1e-12)
        return scores, total

    def in_order(self, table: pd.DataFrame) -> pd.DataFrame:
        """As `ranked`, with no other score than `score`."""
        best_first = with_columns(table, {"score": self._scores(table)[1]})
        return best_first.sort_values("score", ascending=False)

    def ranked(self, table: pd.DataFrame) -> pd.DataFrame:
        """The table with its scores, best first."""
        return self.scored(table).sort_values("score", ascending=False)

    def spot_in(self, cell: pd.Series) -> Spot:
        """Where a camera stands in a cell."""
        return Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=self.limits.eye_m)


def _none_is_least(score: Score) -> Score:
    """A score that is 0 where there is no value."""
    return lambda value: np.nan_to_num(score(value))


def _as_it_is(value: Floats) -> Floats:
    return np.clip(value, 0.0, 1.0)


def _mostly(value: Floats) -> Floats:
    """1 where all is there, 0 where half of it is not."""
    return np.interp(value, [0.5, 1.0], [0.0, 1.0])


def _falling(limit: float) -> Score:
    """1 at a value of 0, 0 at the limit either way; with a limit of 0 nothing but 0 scores."""
    if limit == 0.0:
        return lambda value: np.where(np.isnan(value), np.nan, value == 0.0)
    return lambda value: np.clip(1.0 - np.abs(value) / limit, 0.0, 1.0)


def _rising(half: float) -> Score:
    """0 at 0, a half at `half`, toward 1 beyond."""
    return lambda value: 1.0 - 0.5 ** (np.maximum(value, 0.0) / half)


def _fading(low: float, high: float) -> Score:
    """1 up to low, falling to 0 at high."""
    return lambda value: np.interp(value, [low, high], [1.0, 0.0])


def _between(lowest: float, low: float, high: float, highest: float) -> Score:
    """1 from low to high, falling to 0 at lowest and highest."""
    return lambda value: np.interp(value, [lowest, low, high, highest], [0.0, 1.0, 1.0, 0.0])
