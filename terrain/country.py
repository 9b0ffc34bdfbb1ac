"""A piece of country: the ground, what lies on it, and all that follows from it, worked out once.

::

    Dem ------ Country ------ Country under a mist       what is kept of the ground is kept once,
               tops, slope,      seen, freeboard         for the country with mist and without
               water, drainage,
               flood levels, hills' own ground
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final, TypeVar

import geopandas as gpd
import numpy as np

from terrain.arrays import Flags, Labels, Singles, sealed
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.features import Features
from terrain.ground.places import Hill
from terrain.ground.relief.hills import hill_ground
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.ground.relief.slope import slope_deg
from terrain.ground.relief.summits import find_summits
from terrain.ground.relief.tops import Tops, find_tops
from terrain.ground.relief.water import level_water
from terrain.mist.drainage import Drainage, drain
from terrain.mist.flood import flood_levels
from terrain.mist.islands import label_islands
from terrain.mist.level import AnyMist, MistRange, hoped_mist, level_mist
from terrain.mist.mist import Mist
from terrain.mist.shallows import label_shallows

_HILLS_KEPT: Final = 4

Kept = TypeVar("Kept")


@dataclass(frozen=True, eq=False)
class Country:
    """The ground and everything derived from it; each is worked out when first asked for, and kept.

    Tops, slopes, water, drainage, flood levels and the own ground of the hills asked for last are
    kept; the same country under another mist shares them.

    Parameters
    ----------
    dem : Dem
        The ground.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, 0 to 1.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each.
    mist : Mist, optional
        Lies over the ground; none unless given.
    mists : MistRange, optional
        The range of tops that `mist` is the hoped one of, None where its top is known; `under` sets
        both.

    Raises
    ------
    TerrainError
        For a refraction that is not from 0 to 1.
    ValueError
        For a mist on another grid.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> country = terrain.Country(cone)
    >>> misty = country.under(terrain.level_mist(cone, 100.0))
    >>> misty.slope_deg is country.slope_deg, float(misty.freeboard_m.max())
    (True, 200.0)
    """

    dem: Dem
    refraction: float = field(default=TERRESTRIAL_REFRACTION, kw_only=True)
    accuracy: Accuracy = field(default_factory=Accuracy, kw_only=True)
    mist: Mist | None = field(default=None, kw_only=True)
    mists: MistRange | None = field(default=None, kw_only=True)
    _kept: dict[Any, Any] = field(default_factory=dict, kw_only=True, repr=False)
    _shallows: dict[tuple[float, float], Labels] = field(
        default_factory=dict, init=False, repr=False
    )

    def __post_init__(self) -> None:
        if not 0.0 <= self.refraction <= 1.0:
            raise TerrainError(
                f"a coefficient of refraction of {self.refraction} is not from 0 to 1: "
                "0.13 is the usual one"
            )
        if self.mist is not None and self.mist.grid != self.dem.grid:
            raise ValueError("the mist lies on another grid than the ground: make it from this one")

    def under(self, mist: AnyMist | None) -> Country:
        """The same country under a mist (of a range of tops the hoped one), or without any."""
        mists = mist if isinstance(mist, MistRange) else None
        return replace(self, mist=hoped_mist(mist), mists=mists)

    def under_level(self, top_m: float) -> Country:
        """The same country under a level mist with its top at a height; errors of `level_mist`."""
        return self.under(level_mist(self.dem, top_m, levels=self.levels_m))

    @cached_property
    def seen(self) -> Dem:
        """The ground with the mist on it: what lines of sight pass over."""
        return self.dem if self.mist is None else self.mist.surface(self.dem)

    @cached_property
    def freeboard_m(self) -> Singles:
        """Height of every cell above the mist's top beside it, (rows, cols); NaN without mist."""
        if self.mist is None:
            return np.full(self.dem.shape, np.nan, dtype=np.float32)
        return self.dem.heights_m - self.mist.nearest_top_m

    @cached_property
    def islands(self) -> Labels:
        """The islands in its mist by number, (rows, cols), as `label_islands` has them.

        ValueError without a mist.
        """
        if self.mist is None:
            raise ValueError("without a mist there are no islands")
        return sealed(label_islands(self.dem, self.mist))

    def shallows(self, trees_m: tuple[float, float]) -> Labels:
        """The shallows of its mist by number, (rows, cols), where trees are so high, metres.

        As `label_shallows` has them, water left out. ValueError without a mist.
        """
        if self.mist is None:
            raise ValueError("without a mist there are no shallows")
        if trees_m not in self._shallows:
            found = label_shallows(self.dem, self.mist, trees_m=trees_m, water=self.water)
            self._shallows[trees_m] = sealed(found)
        return self._shallows[trees_m]

    @property
    def tops(self) -> Tops:
        """Every top of the ground as delivered."""
        return self.once("tops", lambda: find_tops(self.dem))

    @property
    def slope_deg(self) -> Singles:
        """Slope of every cell, degrees, (rows, cols); NaN where the ground is unknown."""
        return self.once("slope", lambda: slope_deg(self.dem))

    @property
    def water(self) -> Flags:
        """Where the ground lies level over a large area, (rows, cols): lakes and the sea."""
        return self.once("water", lambda: level_water(self.dem))

    @property
    def drainage(self) -> Drainage:
        """Where water on the ground runs."""
        return self.once("drainage", lambda: drain(self.dem))

    @property
    def levels_m(self) -> Singles:
        """Flood levels of a level mist from everywhere, (rows, cols) metres."""
        return self.once("levels", lambda: flood_levels(self.dem))

    def own_ground(self, hill: Hill) -> Flags:
        """The hill's own ground above the mist, (rows, cols); NoGround where it is not known.

        Read-only; kept of the hills asked for last, since a mask is as large as the raster.
        """
        own = self.once(("own ground", hill), lambda: hill_ground(self.dem, hill))
        # asked for last, it is the last to go; another thread may have let it go meanwhile
        self._kept.pop(("own ground", hill), None)
        self._kept[("own ground", hill)] = own
        hills = [key for key in list(self._kept) if key[0] == "own ground"]
        for key in hills[:-_HILLS_KEPT]:
            self._kept.pop(key, None)
        return own if self.mist is None else sealed(own & ~self.mist.covers)

    def summits(
        self, *, min_prominence_m: float = DEFAULT_PROMINENCE_M, names: Features | None = None
    ) -> gpd.GeoDataFrame:
        """Its summits, as `find_summits` gives them; arguments and errors as there."""
        return find_summits(
            self.dem, min_prominence_m=min_prominence_m, names=names, tops=self.tops
        )

    def once(self, key: Hashable, make: Callable[[], Kept]) -> Kept:
        """What follows from the ground alone, kept under a key; made when it is first asked for.

        A room above keeps here what is dear to work out, such as how far one gets on foot.
        """
        if (kept := self._kept.get(key)) is None:
            kept = self._kept[key] = make()
        return kept


def country_of(
    ground: Dem | Country,
    *,
    mist: AnyMist | None = None,
    mist_top_m: float | None = None,
    refraction: float | None = None,
    accuracy: Accuracy | None = None,
) -> Country:
    """The country of some ground: a `Country` as it is, or a `Dem` made into one.

    What is given besides takes the place of what the country has. mist_top_m: of a level mist;
    TerrainError for one beside a mist.
    """
    country = ground if isinstance(ground, Country) else Country(ground)
    if refraction is not None or accuracy is not None:
        country = replace(
            country,
            refraction=country.refraction if refraction is None else refraction,
            accuracy=country.accuracy if accuracy is None else accuracy,
        )
    if mist_top_m is None:
        return country if mist is None else country.under(mist)
    if mist is not None:
        raise TerrainError(f"a mist and a mist_top_m of {mist_top_m:g} were given: give one")
    return country.under_level(mist_top_m)
