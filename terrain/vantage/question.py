"""What is asked of vantages, whole: every search takes it and passes it on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import geopandas as gpd
import pandas as pd

from terrain.errors import TerrainError
from terrain.ground.places import Spot
from terrain.vantage.access import Access
from terrain.vantage.criteria import Criterion, Limits, add_scores, standard_criteria

__all__ = ["Question"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Question:
    """What is asked of vantages, whatever the hill and the day; see `find_vantages` for each.

    limits: what a vantage must keep to. starts: where a walk can begin. access: how far one will
    walk from a start, or None. passes: as `terrain.passes` gives them, or None where nobody asks.
    count: how many rows, at most. weights: of the criteria, by name. only: values of criteria that
    are judged, all unless given. TerrainError for what makes no sense.
    """

    limits: Limits = field(default_factory=Limits)
    starts: Sequence[Spot] = ()
    access: Access | None = None
    passes: gpd.GeoDataFrame | None = None
    count: int = 10
    weights: Mapping[str, float] | None = None
    only: Sequence[str] | None = None

    def __post_init__(self) -> None:
        if self.count < 1:
            raise TerrainError(f"{self.count} rows are none: ask for 1 or more")
        if self.access is not None and not self.starts:
            raise TerrainError("access is by foot from a start, and none was given: give starts")

    @cached_property
    def criteria(self) -> tuple[Criterion, ...]:
        """What the vantages are judged by."""
        every = standard_criteria(self.limits)
        return tuple(each for each in every if self.only is None or each.value in self.only)

    def scored(self, table: pd.DataFrame) -> pd.DataFrame:
        """The table with its scores."""
        return add_scores(table, self.criteria, self.weights)

    def ranked(self, table: pd.DataFrame) -> pd.DataFrame:
        """The table with its scores, best first."""
        return self.scored(table).sort_values("score", ascending=False)

    def spot_in(self, cell: pd.Series) -> Spot:
        """Where a camera stands in a cell."""
        return Spot(lon_deg=cell["lon_deg"], lat_deg=cell["lat_deg"], eye_m=self.limits.eye_m)
