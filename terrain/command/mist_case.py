"""A mist over some ground: its levels, islands, passes and outline, for one height or several."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

import terrain
from terrain.command.area import Area, hill_on
from terrain.command.mist_asked import MistAsked
from terrain.errors import NoAnswer, TerrainError
from terrain.mist.islands import straits_from

_LEAST_OUTLINE_KM2 = 0.001


@dataclass(frozen=True, kw_only=True, eq=False)
class MistCase:
    """The mist that a command line asks for, over its country and about its summits.

    spot: from where straits are measured, or none. least_pass_m: how deep a pass is at least.
    trees_m: how high trees are, the low and the high.
    """

    area: Area
    country: terrain.Country
    summits: gpd.GeoDataFrame
    wanted: MistAsked
    spot: terrain.Spot | None
    least_pass_m: float
    trees_m: tuple[float, float]

    @property
    def dem(self) -> terrain.Dem:
        """The ground."""
        return self.country.dem

    @cached_property
    def hill(self) -> terrain.Hill | None:
        """The hill of the area, where it names one that lies on this ground."""
        if "hill" not in self.area.defaults:
            return None
        with suppress(TerrainError):
            return hill_on(self.country, self.area.hill_place(None))
        return None

    @property
    def spots(self) -> list[terrain.Spot]:
        """Where one would stand, if that was asked."""
        return [] if self.spot is None else [self.spot]

    @cached_property
    def levels_m(self) -> NDArray[np.float32]:
        """The flood levels of its sources."""
        return self.wanted.levels_m(self.country)

    @cached_property
    def passes(self) -> gpd.GeoDataFrame | None:
        """The passes of the ground; None where there is none."""
        with suppress(NoAnswer):
            return terrain.passes(
                self.dem, summits=self.summits, min_depth_m=self.least_pass_m, levels=self.levels_m
            )
        return None

    @cached_property
    def mist(self) -> terrain.Mist:
        """The one mist: level with the first of the tops, or along the valley floors."""
        if self.wanted.is_along_floors:
            return self.wanted.along_floors(self.dem)
        return terrain.level_mist(self.dem, self.wanted.tops_m[0], levels=self.levels_m)

    @cached_property
    def sweep(self) -> terrain.MistSweep:
        """The mist as it rises through all of the tops."""
        return terrain.mist_sweep(self.dem, self.summits, self.wanted.tops_m, levels=self.levels_m)

    @cached_property
    def islands(self) -> gpd.GeoDataFrame:
        """The islands of the one mist; NoAnswer where the spot lies under it."""
        return self.with_straits(self.mist, terrain.islands(self.dem, self.mist, self.summits))

    @cached_property
    def hollows(self) -> gpd.GeoDataFrame | None:
        """Ground below its top that stays clear, where that can be said: if level, or of seeds."""
        if self.wanted.is_along_floors and self.wanted.seeds is None:
            return None
        hollows = terrain.clear_hollows(self.dem, self.mist)
        return None if hollows.empty else hollows

    @cached_property
    def poured(self) -> gpd.GeoDataFrame | None:
        """The passes that it pours over."""
        return self.poured_by(self.mist)

    @cached_property
    def amounts(self) -> dict[str, float]:
        """How much of it there is."""
        return {
            "area_km2": self.mist.area_km2,
            "volume_m3": self.mist.volume_m3(self.dem),
            "deepest_m": float(np.nanmax(self.mist.depth(self.dem))),
        }

    def poured_by(self, mist: terrain.Mist) -> gpd.GeoDataFrame | None:
        """The passes that a mist pours over as it stands; None where it pours over none."""
        if self.passes is None:
            return None
        poured = terrain.pouring(mist, self.passes)
        return None if poured.empty else poured

    def with_straits(self, mist: terrain.Mist, found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        """Islands with the width of the mist from the spot that is asked about: from_spot_m.

        Raises NoAnswer where the spot lies under the mist.
        """
        if self.spot is None:
            return found
        return found.assign(from_spot_m=straits_from(self.dem, mist, self.spot, found))

    def with_straits_if_any(self, mist: terrain.Mist, found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        """The same, NaN where the spot lies under the mist."""
        try:
            return self.with_straits(mist, found)
        except NoAnswer:
            return found.assign(from_spot_m=math.nan)

    def outline(self, mist: terrain.Mist) -> gpd.GeoDataFrame:
        """The mist as polygons, without the patches that no one would draw."""
        return mist.shoreline(self.dem, min_area_km2=_LEAST_OUTLINE_KM2)
