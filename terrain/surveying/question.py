"""What a survey asks of every hill, whole, and what its answers hang on."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.sun.calendar import Span, calendar_year, span_of
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question

BEHIND_M: Final = 10_000.0
"""How far beyond the farthest vantage the ground is read cell by cell, metres: what lies behind a
hill beyond that counts by the highest of its blocks (common practice, no source)."""

BOTH_ENDS: Final = (False, True)
"""Whether the evening is asked for: mornings, then evenings."""


@dataclass(frozen=True, kw_only=True)
class SurveyQuestion:
    """What is asked of every hill of a country.

    Parameters
    ----------
    days : tuple of datetime.date
        The first and the last, both included.
    tops_m : sequence of float, optional
        The heights that the top of a level mist may have, metres; none for no mist.
    limits : Limits, optional
        What a vantage must keep to.
    weights : mapping from str to float, optional
        Of the criteria, by name, as for `find_vantages`.
    count : int, optional
        Vantages of a hill at each end of the day, at most.
    prominence_m : float, optional
        Least of a hill, metres.
    ends : tuple of bool, optional
        The ends of the day that are asked for: False the mornings, True the evenings.
    reach_m : float, optional
        How far about a hill its ground is read cell by cell, metres; as far as vantages may stand
        and 10 km more unless given. Beyond, the highest of each block counts for the skyline.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each.

    Raises
    ------
    TerrainError
        For what makes no sense.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> days = dt.date(2026, 10, 1), dt.date(2026, 10, 31)
    >>> question = terrain.SurveyQuestion(days=days, tops_m=[300, 250], prominence_m=100)
    >>> question.tops_m, question.reach_m
    ((250.0, 300.0), 25000.0)
    """

    days: Span
    tops_m: tuple[float, ...] = ()
    limits: Limits = field(default_factory=Limits)
    weights: Mapping[str, float] | None = None
    count: int = 5
    prominence_m: float = DEFAULT_PROMINENCE_M
    ends: tuple[bool, ...] = BOTH_ENDS
    reach_m: float | None = None
    refraction: float = TERRESTRIAL_REFRACTION
    accuracy: Accuracy = field(default_factory=Accuracy)

    def __post_init__(self) -> None:
        for day in span_of(self.days):
            calendar_year(day.year)
        if not 0.0 < self.prominence_m < math.inf:
            raise TerrainError(
                f"a prominence of {self.prominence_m} m makes no hill: give more than 0 m"
            )
        if not all(math.isfinite(top) for top in self.tops_m):
            raise TerrainError(f"the tops of a mist must be heights, got {list(self.tops_m)}")
        if not self.ends:
            raise TerrainError("a survey of no end of the day has no answer: give one or both")
        farthest_m = self.limits.max_distance_m
        reach_m = farthest_m + BEHIND_M if self.reach_m is None else self.reach_m
        if not farthest_m <= reach_m < math.inf:
            raise TerrainError(
                f"a reach of {reach_m:g} m does not hold vantages {farthest_m:g} m off: give more "
                "reach, or less distance"
            )
        object.__setattr__(self, "reach_m", float(reach_m))
        object.__setattr__(self, "tops_m", tuple(sorted({float(top) for top in self.tops_m})))
        self.at_end(False)

    @property
    def about_m(self) -> float:
        """How far about a hill its ground is read cell by cell, metres."""
        return float(self.reach_m or 0.0)

    @property
    def hoped_m(self) -> float:
        """The top of the mist that is hoped for, metres: the middle one; NaN without a mist."""
        return self.tops_m[(len(self.tops_m) - 1) // 2] if self.tops_m else math.nan

    def at_end(self, evening: bool) -> Question:
        """What is asked of a vantage at one end of the day."""
        return Question(limits=self.limits, weights=self.weights, count=self.count, evening=evening)

    def key(self) -> tuple[Any, ...]:
        """All that the answer for a hill hangs on, beside its ground."""
        limits = tuple(sorted((name, str(value)) for name, value in vars(self.limits).items()))
        weights = tuple(sorted((self.weights or {}).items()))
        return (
            *(day.isoformat() for day in self.days),
            *(self.tops_m, limits, weights, self.count, self.prominence_m, self.ends),
            *(self.about_m, self.refraction, repr(self.accuracy)),
        )
