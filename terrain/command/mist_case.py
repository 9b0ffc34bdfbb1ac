"""What a command line asks of a mist, and the ground, levels and passes that follow from it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from terrain.command.area import Area
from terrain.command.load import Sources, mist_of

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    from numpy.typing import NDArray

    from terrain.ground.dem import Dem
    from terrain.ground.places import Hill, Spot
    from terrain.mist.mist import Mist

__all__ = ["MistAsked", "on_islands", "outline_of", "straits_of"]

_LEAST_OUTLINE_KM2 = 0.001


@dataclass(frozen=True, kw_only=True)
class MistAsked:
    """What a command line asks of a mist: its ground and summits, its height or depth, its sources.

    spot: from where straits are measured, or none. least_pass_m: how deep a pass is at least.
    """

    area: Area
    dem: Dem
    summits: gpd.GeoDataFrame
    sources: Sources
    tops_m: list[float]
    depth_m: float | None
    ceiling_m: float | None
    hollow_m: float | None
    spot: Spot | None
    least_pass_m: float

    @property
    def seeds(self) -> list[Spot | Hill] | None:
        """The places that the mist comes from, None for everywhere."""
        return [spot for spot, _ in self.sources] or None

    @property
    def is_level(self) -> bool:
        """Whether its top is level."""
        return bool(self.tops_m)

    @property
    def least_hollow_m(self) -> float:
        """Least depth of a hollow that the mist wells up in by itself."""
        from terrain.mist.flood import MIN_HOLLOW_M

        return MIN_HOLLOW_M if self.hollow_m is None else self.hollow_m

    @cached_property
    def levels_m(self) -> NDArray[np.float32]:
        """The flood levels of its sources."""
        from terrain.mist.flood import flood_levels

        return flood_levels(self.dem, seeds=self.seeds, min_hollow_m=self.least_hollow_m)

    @cached_property
    def passes(self) -> gpd.GeoDataFrame | None:
        """The passes of the ground; None where there is none."""
        from terrain.errors import NoAnswer
        from terrain.mist.passes import passes

        try:
            return passes(
                self.dem,
                summits=self.summits,
                min_depth_m=self.least_pass_m,
                levels=self.levels_m,
            )
        except NoAnswer:
            return None

    @cached_property
    def mist(self) -> Mist:
        """The one mist: level with the first of the tops, or along the valley floors."""
        from terrain.mist.level import level_mist

        if self.is_level:
            return level_mist(self.dem, self.tops_m[0], levels=self.levels_m)
        sloping = mist_of(
            self.area,
            self.dem,
            None,
            depth_m=self.depth_m,
            ceiling_m=self.ceiling_m,
            sources=self.sources,
        )
        assert sloping is not None
        return sloping

    def poured(self, mist: Mist) -> gpd.GeoDataFrame | None:
        """The passes that a mist pours over as it stands; None where it pours over none."""
        from terrain.mist.pouring import pouring

        if self.passes is None:
            return None
        poured = pouring(mist, self.passes)
        return None if poured.empty else poured


def on_islands(asked: MistAsked, mist: Mist) -> gpd.GeoDataFrame:
    """The islands of a mist."""
    from terrain.mist.islands import islands

    return islands(asked.dem, mist, asked.summits)


def straits_of(asked: MistAsked, mist: Mist, found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The islands with the widths of the mist from the spot that is asked about: from_spot_m.

    Raises NoAnswer where the spot lies under the mist.
    """
    from terrain.mist.islands import straits_from

    if asked.spot is None:
        return found
    return found.assign(from_spot_m=straits_from(asked.dem, mist, asked.spot, found))


def outline_of(asked: MistAsked, mist: Mist) -> gpd.GeoDataFrame:
    """The mist as polygons, without the patches that no one would draw."""
    return mist.shoreline(asked.dem, min_area_km2=_LEAST_OUTLINE_KM2)
