"""What makes one vantage better than another: each criterion a value and a score from 0 to 1.

To add one: give `find_vantages` another column of values (see `terrain.vantage.day`), and
list a `Criterion` here that says how the value scores. The weights are a matter of taste
(common practice, no source) and can be changed in the call.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.errors import TerrainError

__all__ = ["Criterion", "add_scores", "standard_criteria"]

Score = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One thing that matters about a vantage.

    name: its column of scores, 0 to 1; value: the column of values it judges, with the unit in
    the name; score: from values to scores; weight: its share; means: what it says, in words.
    """

    name: str
    value: str
    score: Score
    weight: float
    means: str


def standard_criteria(*, tolerance_deg: float, max_slope_deg: float) -> tuple[Criterion, ...]:
    """The criteria of `find_vantages`; the limits of the search set where two of them reach 0.

    The last four are about a mist: their values are there where it is, and where they were asked
    for.
    """
    return (
        Criterion(
            name="alignment",
            value="offset_deg",
            score=_falling(tolerance_deg),
            weight=2.5,
            means="how near to the summit the sun appears",
        ),
        Criterion(
            name="stature",
            value="stature_deg",
            score=_rising(1.5),
            weight=2.0,
            means="how tall the hill stands in view over what is in front of it",
        ),
        Criterion(
            name="openness",
            value="open_share",
            score=_as_it_is,
            weight=1.5,
            means="how much of the view about the hill is free of near ground",
        ),
        Criterion(
            name="isolation",
            value="isolation_deg",
            score=_rising(0.5),
            weight=1.5,
            means="how far the summit rises over the ground behind it",
        ),
        Criterion(
            name="freeboard",
            value="freeboard_m",
            score=_rising(50.0),
            weight=1.5,
            means="how safely the vantage stands above the mist",
        ),
        Criterion(
            name="warmth",
            value="altitude_deg",
            score=_fading(2.0, 8.0),
            weight=1.0,
            means="how low the sun still is when it appears: its light is warm below about 6°",
        ),
        Criterion(
            name="nearness",
            value="distance_m",
            score=_band(500.0, 2000.0, 7000.0, 25_000.0),
            weight=1.0,
            means="a distance at which a hill is large and still whole",
        ),
        Criterion(
            name="footing",
            value="slope_deg",
            score=_falling(max_slope_deg),
            weight=1.0,
            means="how level the ground is to stand on",
        ),
        Criterion(
            name="sea",
            value="mist_share",
            score=_rising(0.25),
            weight=1.5,
            means="how much of the view under the skyline is mist",
        ),
        Criterion(
            name="isles",
            value="islands_in_view",
            score=_rising(2.0),
            weight=0.5,
            means="how many islands are seen in the mist about the hill",
        ),
        Criterion(
            name="pouring",
            value="pours_in_view",
            score=_as_it_is,
            weight=0.5,
            means="whether mist is seen to pour over a pass",
        ),
        Criterion(
            name="band",
            value="mist_band_m",
            score=_rising(40.0),
            weight=1.5,
            means="over how many metres of mist top it works",
        ),
    )


def add_scores(
    table: pd.DataFrame,
    criteria: tuple[Criterion, ...],
    weights: Mapping[str, float] | None = None,
) -> pd.DataFrame:
    """A copy of the table with a column for each criterion and `score`, their weighted mean.

    A value that is not known (no mist: no freeboard) is left out of the mean, and a criterion
    whose values the table does not have gets no column. Raises TerrainError for a weight of an
    unknown name, a negative one, or none above 0.
    """
    shares = _shares(criteria, weights)
    known = [criterion for criterion in criteria if criterion.value in table]
    scores = {c.name: c.score(table[c.value].to_numpy(dtype=float)) for c in known}
    matrix = np.stack(list(scores.values()), axis=1)
    share = np.where(np.isnan(matrix), 0.0, [shares[name] for name in scores])
    total = (np.nan_to_num(matrix) * share).sum(axis=1) / np.maximum(share.sum(axis=1), 1e-12)
    return table.assign(**scores, score=total)


def _shares(
    criteria: tuple[Criterion, ...], weights: Mapping[str, float] | None
) -> dict[str, float]:
    shares = {criterion.name: criterion.weight for criterion in criteria}
    for name, weight in (weights or {}).items():
        if name not in shares:
            raise TerrainError(f"no criterion is called {name!r}: choose from {', '.join(shares)}")
        if not 0.0 <= weight < np.inf:
            raise TerrainError(f"the weight of {name} must be 0 or more, got {weight}")
        shares[name] = float(weight)
    if not any(shares.values()):
        raise TerrainError("every criterion has the weight 0: give one of them more")
    return shares


def _as_it_is(value: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.clip(value, 0.0, 1.0)


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


def _band(lowest: float, low: float, high: float, highest: float) -> Score:
    """1 from low to high, falling to 0 at lowest and highest."""
    return lambda value: np.interp(value, [lowest, low, high, highest], [0.0, 1.0, 1.0, 0.0])
