"""What is measured: each kernel of the package, and other software that answers the same."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from terrain.ground.dem import Dem
from terrain.ground.relief.summits import find_summits
from terrain.light.day import day_atlas, light_arrival
from terrain.mist.flood import flood_levels
from terrain.mist.valley import valley_mist
from terrain.sight.horizon import horizon, horizon_and_distance
from terrain.sight.skyline import skyline
from terrain.sight.viewshed import margin, viewshed
from terrain.year.atlas import backlight_atlas
from tests.benchmarks import peers
from tests.benchmarks.ground import hill, middle

__all__ = ["AZIMUTH_DEG", "CONTENDERS", "Call", "Contender"]

AZIMUTH_DEG: Final = 118.0
"""A direction along none of the grid's axes."""

YEAR: Final = 2026
DAY: Final = dt.date(YEAR, 10, 9)

Call = Callable[[], object]


def _never() -> str:
    return ""


@dataclass(frozen=True, kw_only=True)
class Contender:
    """One row of the table.

    question: the kernel whose question it answers; prepare: from ground and a folder to scratch
    in, the call to be timed and, if it is a program, one that only starts, reads and writes, to
    be subtracted. missing: why it cannot run here, "" if it can. rounds: how often, the best
    counts.
    """

    name: str
    question: str
    prepare: Callable[[Dem, Path], tuple[Call, Call | None]]
    missing: Callable[[], str] = _never
    rounds: int = 30

    @property
    def is_peer(self) -> bool:
        """Whether it is other software."""
        return self.name != self.question


def _own(name: str, run: Callable[[Dem], object], rounds: int = 30) -> Contender:
    def prepare(dem: Dem, scratch: Path) -> tuple[Call, None]:
        return lambda: run(dem), None

    return Contender(name=name, question=name, prepare=prepare, rounds=rounds)


CONTENDERS: Final = (
    _own("viewshed", lambda dem: viewshed(dem, middle(dem))),
    Contender(
        name="GDAL viewshed",
        question="viewshed",
        prepare=peers.gdal_viewshed,
        missing=peers.no_gdal,
    ),
    Contender(
        name="xarray-spatial viewshed",
        question="viewshed",
        prepare=peers.xarray_spatial_viewshed,
        missing=peers.no_xarray_spatial,
        rounds=1,
    ),
    _own("margin", lambda dem: margin(dem, middle(dem))),
    _own("skyline", lambda dem: skyline(dem, middle(dem))),
    _own("horizon", lambda dem: horizon(dem, AZIMUTH_DEG)),
    Contender(
        name="topocalc horizon",
        question="horizon",
        prepare=peers.topocalc_horizon,
        missing=peers.no_topocalc,
        rounds=1,
    ),
    _own("horizon_and_distance", lambda dem: horizon_and_distance(dem, AZIMUTH_DEG)),
    _own("flood_levels", lambda dem: flood_levels(dem), rounds=5),
    _own("valley_mist", lambda dem: valley_mist(dem, 60.0), rounds=1),
    _own("find_summits", lambda dem: find_summits(dem), rounds=5),
    _own("backlight_atlas", lambda dem: backlight_atlas(dem, hill(dem), YEAR), rounds=3),
    _own("light_arrival", lambda dem: light_arrival(dem, DAY), rounds=1),
    _own("day_atlas", lambda dem: day_atlas(dem, DAY), rounds=1),
)
