"""The hills that stand clear above a mist, and the islands that they stand on.

::

                  _ summit
                 / \\        freeboard = height of the summit above the mist's top
      top ______/___\\_______________/\\____
           mist |   |     strait    |
                 island
"""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
from scipy import ndimage
from scipy.spatial import KDTree

from terrain.arrays import Flags, Floats, Labels, Numbers, Singles
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist

_TOUCHING = np.ones((3, 3), dtype=bool)


def islands(
    dem: Dem,
    mist: Mist,
    summits: gpd.GeoDataFrame,
    *,
    shore_band_m: float = 10.0,
    min_island_km2: float = 0.01,
) -> gpd.GeoDataFrame:
    """The summits that stand above a mist, and what kind of island each stands on.

    Parameters
    ----------
    dem : Dem
        The ground.
    mist : Mist
        Lies over it.
    summits : geopandas.GeoDataFrame
        As `find_summits` gives them (`name`, `height_m`, `prominence_m`, points in EPSG:4326).
    shore_band_m : float, optional
        The rise above the mist that counts as shore, metres.
    min_island_km2 : float, optional
        Smaller islands do not end a strait, square kilometres.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a summit, in the order and with the index of `summits`:

        - `name`, `height_m`, `prominence_m`, `geometry`: those of the summit
        - `freeboard_m`: its height above the mist's top nearest to it
        - `island`: number of its island, 1 the largest of the raster; `island_area_km2`
        - `summits_on_island`: how many of the rows share that island, itself counted
        - `shore_width_m`: how far the shore draws back, on average, when the mist rises by
          `shore_band_m`, reckoned over that rise; NaN on an islet too small to tell
        - `strait_m`: width of the mist to the nearest other island, to about a cell; NaN where the
          raster shows none
        - `touches_edge`: whether the island reaches the raster's edge or unknown ground, so that
        its
          area is a lower bound

    Raises
    ------
    NoAnswer
        Where no summit stands above the mist.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 0, 0, 0, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> mist = terrain.level_mist(dem, 50.0)
    >>> standing = terrain.islands(dem, mist, terrain.find_summits(dem), min_island_km2=0.0)
    >>> standing[["freeboard_m", "island", "summits_on_island"]].values.tolist()
    [[40.0, 1.0, 1.0], [20.0, 2.0, 1.0]]
    """
    if summits.empty:
        raise NoAnswer("there is no summit here that could stand above the mist")
    labels = label_islands(dem, mist)
    top_m = mist.nearest_top_m
    row, col, on_raster = cells_of(dem, summits)
    freeboard_m = summits.height_m.to_numpy() - top_m[row, col]
    # ground that the mist does not reach can lie lower than its top
    stands = on_raster & (labels[row, col] > 0) & (freeboard_m > 0)
    if not stands.any():
        raise _all_under(mist, summits)
    island = labels[row, col][stands]
    table = summits.loc[stands, ["name", "height_m", "prominence_m"]]
    cells = np.bincount(labels.ravel())
    at_edge = ndimage.binary_dilation(np.isnan(dem.heights_m), _TOUCHING, border_value=1)
    return gpd.GeoDataFrame(
        table.assign(
            freeboard_m=freeboard_m[stands],
            island=island,
            island_area_km2=cells[island] * dem.cell_m**2 / 1e6,
            summits_on_island=np.bincount(island)[island],
            shore_width_m=_shore_widths_m(dem, labels, top_m, shore_band_m)[island],
            strait_m=_straits_m(dem, mist, labels, np.unique(island), min_island_km2)[island],
            touches_edge=np.isin(island, labels[at_edge]),
        ),
        geometry=summits.geometry[stands],
        crs=summits.crs,
    )


def label_islands(dem: Dem, mist: Mist) -> Labels:
    """Number of the island that each cell is part of, (rows, cols) int32.

    1 is the largest island of the raster, 2 the next; 0 is mist and unknown ground. Cells that
    touch at a corner are one island, as they are one hill where prominence is reckoned.
    """
    clear = ~mist.covers & ~np.isnan(dem.heights_m)
    found, count = ndimage.label(clear, _TOUCHING)
    of_clear = found[clear]
    largest_first = 1 + np.argsort(-np.bincount(of_clear)[1:], kind="stable")
    number = np.zeros(count + 1, dtype=np.int32)
    number[largest_first] = np.arange(1, count + 1)
    labels = np.zeros(dem.shape, dtype=np.int32)
    labels[clear] = number[of_clear]
    return labels


def strait_between(dem: Dem, mist: Mist, place_a: Spot | Hill, place_b: Spot | Hill) -> float:
    """Width of the mist between the islands of two places, metres, to about a cell.

    The shortest way from shore to shore, over what lies between; 0 where both stand on one
    island, NaN where unknown ground alone lies round one of them. Raises NoAnswer where a place
    lies under the mist, NoGround where it is off the raster or on unknown ground.
    """
    labels = label_islands(dem, mist)
    numbers = [_island_of(dem, mist, labels, place) for place in (place_a, place_b)]
    return float(_widths_m(dem, mist, labels, numbers[0], np.array(numbers[1:]))[0])


def straits_from(dem: Dem, mist: Mist, place: Spot | Hill, summits: gpd.GeoDataFrame) -> Floats:
    """Width of the mist between the island of a place and that of each summit, (summits,) metres.

    summits: points in EPSG:4326, as `islands` gives them. To about a cell; 0 on the same island,
    NaN for a summit under the mist. Raises NoAnswer where the place lies under the mist,
    NoGround where it is off the raster or on unknown ground.
    """
    labels = label_islands(dem, mist)
    own = _island_of(dem, mist, labels, place)
    row, col, on_raster = cells_of(dem, summits)
    return _widths_m(dem, mist, labels, own, np.where(on_raster, labels[row, col], 0))


def _island_of(dem: Dem, mist: Mist, labels: Labels, place: Spot | Hill) -> int:
    ground_m = dem.height_at(place.lon_deg, place.lat_deg)
    number = int(labels[dem.grid.cell_of(place.lon_deg, place.lat_deg)])
    if number == 0:
        raise NoAnswer(
            f"{place.lat_deg:.4f}, {place.lon_deg:.4f} stands on no island: the ground there, "
            f"{ground_m:.0f} m, lies under the mist with its top at {mist.label}"
        )
    return number


def cells_of(dem: Dem, summits: gpd.GeoDataFrame) -> tuple[Numbers, Numbers, Flags]:
    """Row and column of the cell of each summit, and whether it lies on the raster at all."""
    points = summits.geometry.to_crs("EPSG:4326")
    row, col = dem.grid.rowcol(points.x, points.y)
    on_raster = dem.grid.contains(row, col)
    return *nearest_cells(row, col, dem.shape), on_raster


def _all_under(mist: Mist, summits: gpd.GeoDataFrame) -> NoAnswer:
    highest = summits.loc[summits.height_m.idxmax()]
    name = f"{highest['name']}, " if highest["name"] else ""
    return NoAnswer(
        f"no summit stands above the mist with its top at {mist.label}: "
        f"the highest is {name}{highest.height_m:.0f} m; try a lower top",
        loosen=[{"mist_top_m": 10.0 * math.ceil(highest.height_m / 10.0 - 2.0)}],
    )


def _shore_widths_m(dem: Dem, labels: Labels, top_m: Singles, band_m: float) -> Floats:
    """Mean horizontal width of the shore of each island, metres, by number (0 is unused).

    Area of the ground within a band above the mist, over the mean length of the contours in
    that band. The coarea formula (Federer 1959) gives the latter without tracing a line: it is
    the integral of the slope over the band's area, divided by the band's height. No staircase
    of cells is measured, so a round island has no more shore than a square one.
    """
    above_m = dem.heights_m - top_m
    count = int(labels.max()) + 1
    peak_m = np.zeros(count, dtype=np.float32)
    np.maximum.at(peak_m, labels.ravel(), np.nan_to_num(above_m).ravel())
    fall, rise = np.gradient(above_m, dem.cell_m)
    # heights within a cell run half its rise to either side of the centre's
    half_m = np.maximum((np.abs(fall) + np.abs(rise)) * dem.cell_m / 2, 1e-3)
    inside_m = np.minimum(above_m + half_m, band_m) - np.maximum(above_m - half_m, 0)
    share = np.clip(inside_m / (2 * half_m), 0, 1)
    shore = (labels > 0) & (share > 0)
    area = np.bincount(labels[shore], share[shore], count)
    slope = np.bincount(labels[shore], (share * np.hypot(fall, rise))[shore], count)
    widths = np.full(count, np.nan)
    np.divide(area * np.minimum(band_m, peak_m), slope, out=widths, where=slope > 0)
    return widths


def _straits_m(
    dem: Dem, mist: Mist, labels: Labels, wanted: Labels, min_island_km2: float
) -> Floats:
    """Width of the mist from each wanted island to the nearest large one, metres, by number."""
    cells = np.bincount(labels.ravel())
    large = 1 + np.flatnonzero(cells[1:] * dem.cell_m**2 >= min_island_km2 * 1e6)
    coasts = _coasts(dem, mist, labels, np.union1d(wanted, large))
    straits = np.full(len(cells), np.nan)
    for number in wanted.tolist():
        straits[number] = _width_m(dem, coasts, number, large[large != number].tolist())
    return straits


def _widths_m(dem: Dem, mist: Mist, labels: Labels, own: int, others: Numbers) -> Floats:
    """Width of the mist from an island to each of others, by their numbers; 0 to itself."""
    coasts = _coasts(dem, mist, labels, np.union1d(others, own))
    width_m = {other: _width_m(dem, coasts, own, [other]) for other in np.unique(others).tolist()}
    return np.array([0.0 if other == own else width_m[other] for other in others.tolist()])


def _width_m(dem: Dem, coasts: dict[int, KDTree], own: int, others: list[int]) -> float:
    """Width of the mist from an island to the nearest of others; NaN where one has no coast."""
    trees = [coasts[other] for other in others if other in coasts]
    # the shore lies half a cell off the outermost dry centre, on both sides
    return _nearest_m(coasts[own], trees) - dem.cell_m if own in coasts and trees else np.nan


def _coasts(dem: Dem, mist: Mist, labels: Labels, numbers: Numbers) -> dict[int, KDTree]:
    """The outermost dry cells of each numbered island that has mist beside it, metres."""
    wet = ndimage.binary_dilation(mist.covers, _TOUCHING)
    row, col = np.nonzero((labels > 0) & wet)
    island = labels[row, col]
    order = np.argsort(island, kind="stable")
    points, island = np.column_stack((row, col))[order] * dem.cell_m, island[order]
    starts = np.searchsorted(island, numbers)
    ends = np.searchsorted(island, numbers, side="right")
    bounds = zip(numbers.tolist(), starts, ends, strict=True)
    return {number: KDTree(points[start:end]) for number, start, end in bounds if end > start}


def _nearest_m(coast: KDTree, others: list[KDTree]) -> float:
    """Least distance from one coast to others; the boxes round them spare most comparisons."""
    low, high = (np.array([getattr(o, side) for o in others]) for side in ("mins", "maxes"))
    apart = np.maximum(np.maximum(low - coast.maxes, coast.mins - high), 0)
    apart_m = np.hypot(apart[:, 0], apart[:, 1])
    nearest_m = np.inf
    for at in np.argsort(apart_m):
        if apart_m[at] >= nearest_m:
            break
        few, many = sorted((coast, others[at]), key=lambda tree: tree.n)
        nearest_m = min(nearest_m, float(many.query(few.data)[0].min()))
    return nearest_m
