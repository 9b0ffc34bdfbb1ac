"""A mist of any kind: where it lies, how deep, and its top as a surface over the ground."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import geopandas as gpd
import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from terrain.arrays import Flags, Floats, Singles, frozen_arrays, sealed
from terrain.ground.dem import Dem
from terrain.ground.glance import figure_of, picture_of
from terrain.ground.grid import Grid, corner_shares
from terrain.ground.places import Spot
from terrain.ground.relief.outlines import areas_below


@dataclass(frozen=True, eq=False)
@frozen_arrays()
class Mist:
    """Where mist lies, and how high its top.

    Parameters
    ----------
    top_m : (rows, cols) array, metres
        Height of the mist's top above the ground's datum, NaN where there is no mist, but not
        everywhere; kept as float32, read-only.
    grid : Grid
        Where the cells lie; that of the ground.
    raised_by : callable, optional
        Makes the same mist from some ground, so many metres higher; None where nobody knows what it
        was made from.

    Raises
    ------
    ValueError
        For tops of another shape than the grid, and for a mist that lies nowhere.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(1, 5))
    >>> dem = terrain.Dem([[0, 20, 40, 60, 80]], grid)
    >>> mist = terrain.level_mist(dem, 30.0)
    >>> mist.covers[0].tolist(), mist.depth(dem)[0, :2].tolist(), mist.label
    ([True, True, False, False, False], [30.0, 10.0], '30 m')
    """

    top_m: Singles
    grid: Grid
    raised_by: Callable[[Dem, float], Mist] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        top = np.asarray(self.top_m, dtype=np.float32)
        if top.shape != self.grid.shape:
            raise ValueError(f"a mist of shape {top.shape} on a grid of {self.grid.shape}")
        object.__setattr__(self, "top_m", top)
        if not self.covers.any():
            raise ValueError("a mist must lie somewhere, and this one has no top anywhere")

    def __repr__(self) -> str:
        return f"<Mist with its top at {self.label}, over {self.area_km2:.1f} km²>"

    def _repr_html_(self) -> str:
        return figure_of(repr(self)[1:-1], picture_of(self.top_m, self.covers))

    def raised(self, dem: Dem, by_m: float) -> Mist:
        """The same mist, its top higher by so many metres; lower by them where they are below 0.

        Of a level mist the sources stay and the top rises; a mist along valley floors lies deeper
        by so much, under a ceiling higher by as much. dem: the ground it was made from.

        Raises NoAnswer where it would cover no ground, or all of it; ValueError for other ground,
        and for a mist of bare heights, whose sources nobody knows.
        """
        self._check_grid(dem)
        if self.raised_by is None:
            raise ValueError("a mist of bare heights cannot rise: make it from its sources")
        return self.raised_by(dem, by_m)

    @cached_property
    def covers(self) -> Flags:
        """Which cells lie under mist, (rows, cols); read-only."""
        return sealed(~np.isnan(self.top_m))

    @cached_property
    def range_m(self) -> tuple[float, float]:
        """The lowest and the highest top, metres; the two are one where the mist is level."""
        return float(np.nanmin(self.top_m)), float(np.nanmax(self.top_m))

    @property
    def label(self) -> str:
        """The height of its top in words."""
        lowest_m, highest_m = self.range_m
        if lowest_m == highest_m:
            return in_metres(lowest_m)
        return f"{lowest_m:.0f} to {in_metres(round(highest_m))}"

    @property
    def stated_top_m(self) -> float:
        """The one height that stands for its top, metres: the highest of one that slopes."""
        # the shortest decimal, as it was given before it was rounded
        return float(str(np.nanmax(self.top_m)))

    @cached_property
    def nearest_top_m(self) -> Singles:
        """The top carried on over the islands from the mist nearest to each cell, (rows, cols)."""
        lowest_m, highest_m = self.range_m
        if lowest_m == highest_m:
            return np.broadcast_to(np.float32(lowest_m), self.grid.shape)
        nearest = ndimage.distance_transform_edt(
            ~self.covers, return_distances=False, return_indices=True
        )
        return np.asarray(self.top_m[tuple(nearest)])

    @property
    def highest_m(self) -> float:
        """The highest of the top, and of `lid_m`, metres."""
        return self.range_m[1]

    @cached_property
    def lid_m(self) -> Singles:
        """The top carried on one cell beyond its shore, (rows, cols) metres, else NaN; read-only.

        With it the ground and the mist can be compared between the last cell under mist and the
        first one out of it, which is where the shore lies (see `seen_ground`).
        """
        wide = ndimage.maximum_filter(self.covers, size=3)
        return sealed(np.where(wide, self.nearest_top_m, np.float32(np.nan)))

    def surface(self, dem: Dem) -> Dem:
        """The ground lifted to the mist's top where there is mist, the same ground elsewhere.

        A line of sight over it passes over ground and mist alike. An eye stands above the true
        ground, so its height belongs to `dem`, not to this surface.
        """
        self._check_grid(dem)
        heights = np.where(self.covers, np.maximum(self.top_m, dem.heights_m), dem.heights_m)
        return Dem(sealed(heights), dem.grid, sea_m=dem.sea_m, far=dem.far)

    def depth(self, dem: Dem) -> Singles:
        """How deep the mist lies, metres, (rows, cols) float32, NaN where there is none."""
        self._check_grid(dem)
        return np.asarray(np.maximum(self.top_m - dem.heights_m, np.float32(0)))

    @cached_property
    def area_km2(self) -> float:
        """Area of the ground under mist, square kilometres."""
        return float(np.count_nonzero(self.covers)) * self.grid.cell_m**2 / 1e6

    def volume_m3(self, dem: Dem) -> float:
        """Volume between the ground and the mist's top, cubic metres."""
        return float(np.nansum(self.depth(dem), dtype=float)) * self.grid.cell_m**2

    def height_over(self, dem: Dem) -> Singles:
        """Height of the ground over the mist's top: below 0 exactly where there is mist, metres.

        (rows, cols) float32, NaN where the ground is unknown. Ground that lies lower than the
        top but that the mist does not reach counts as if it rose as far above it, so that the
        level 0 is the shore and nothing else is.
        """
        self._check_grid(dem)
        over = dem.heights_m - self.nearest_top_m
        thin = np.float32(0.01)
        clear = np.maximum(np.abs(over), thin)
        return np.asarray(np.where(self.covers, np.minimum(over, -thin), clear))

    def shoreline(self, dem: Dem, *, min_area_km2: float = 0.0) -> gpd.GeoDataFrame:
        """The mist as polygons, largest first; the rings inside them are its islands.

        Columns: area_km2 (without the islands), islands (how many), geometry (EPSG:4326). The
        shore runs between the cells, where the ground meets the top. min_area_km2: leave out
        smaller patches of mist.
        """
        areas = areas_below(self.height_over(dem), self.grid).rename(columns={"holes": "islands"})
        return areas[areas.area_km2 >= min_area_km2]

    def top_at(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
        """Height of the mist's top at places (any shape), metres.

        Bilinear between the cell centres that lie under mist, NaN where none of the four about
        a place does, and off the raster. At the shore the ground may stand out of it.
        """
        row, col = self.grid.rowcol(lon_deg, lat_deg)
        inside = self.grid.contains(row, col)
        tops = _among_covered(self.top_m, np.where(inside, row, 0), np.where(inside, col, 0))
        return np.where(inside, tops, np.nan)

    def depth_at(self, dem: Dem, spot: Spot) -> float:
        """How deep the ground of a spot lies under the mist, metres, NaN where it is clear.

        Raises NoGround where the spot is off the raster or on unknown ground.
        """
        self._check_grid(dem)
        ground_m = dem.height_at(spot.lon_deg, spot.lat_deg)
        depth_m = float(self.top_at(spot.lon_deg, spot.lat_deg)) - ground_m
        return depth_m if depth_m > 0 else math.nan

    def _check_grid(self, dem: Dem) -> None:
        if dem.grid != self.grid:
            raise ValueError("the mist lies on another grid than the ground: make it from this one")


def clear_hollows(dem: Dem, mist: Mist, *, min_area_km2: float = 0.01) -> gpd.GeoDataFrame:
    """The hollows and valleys below a mist's top that stay clear of it, deepest first.

    Parameters
    ----------
    dem : Dem
        The ground.
    mist : Mist
        Lies over it; of a sloping one the top nearest to each place counts.
    min_area_km2 : float, optional
        Smaller ones are left out, square kilometres.

    Returns
    -------
    geopandas.GeoDataFrame
        `depth_m` (how far the lowest place lies below the top), `floor_m` (its height), `area_km2`
        (of all the ground below the top), `geometry` (the lowest place, EPSG:4326).

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid, corner_shares
    >>> from terrain.mist.level import level_mist
    >>> placing = Affine(100.0, 0.0, 0.0, 0.0, -100.0, 0.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(3, 5))
    >>> dem = Dem(np.array([[9, 9, 9, 9, 9], [1, 8, 2, 7, 4], [9, 9, 9, 9, 9]]), grid)
    >>> clear_hollows(dem, level_mist(dem, 5.0)).drop(columns="geometry").values.tolist()
    [[3.0, 2.0, 0.01]]
    """
    below_m = np.where(mist.covers, 0, np.nan_to_num(mist.nearest_top_m - dem.heights_m))
    number, count = ndimage.label(below_m > 0, np.ones((3, 3)))
    area_km2 = np.bincount(number.ravel(), minlength=count + 1)[1:] * dem.cell_m**2 / 1e6
    kept = 1 + np.flatnonzero(area_km2 >= min_area_km2)
    deepest = ndimage.maximum_position(below_m, number, kept) if kept.size else []
    row, col = np.array(deepest, dtype=np.int64).reshape(-1, 2).T
    table = gpd.GeoDataFrame(
        {
            "depth_m": below_m[row, col].astype(float),
            "floor_m": dem.heights_m[row, col].astype(float),
            "area_km2": area_km2[kept - 1],
        },
        geometry=gpd.points_from_xy(*dem.grid.lonlat(row, col)),
        crs="EPSG:4326",
    )
    return table.sort_values("depth_m", ascending=False, kind="stable", ignore_index=True)


def in_metres(height_m: float) -> str:
    """A height in words, to a tenth of a metre."""
    return f"{round(height_m, 1):.10g} m"


def _among_covered(top_m: Singles, row: Floats, col: Floats) -> Floats:
    total, shares = np.zeros(row.shape), np.zeros(row.shape)
    for share, *cell in corner_shares(row, col, top_m.shape):
        top = top_m[tuple(cell)]
        share *= ~np.isnan(top)
        total += share * np.nan_to_num(top)
        shares += share
    # a place without a share has no sum either, and 0 / 0 is the NaN that is wanted there
    with np.errstate(invalid="ignore"):
        return np.asarray(total / shares)
