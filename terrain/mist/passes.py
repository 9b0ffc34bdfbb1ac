"""Passes between valleys: where mist that fills one valley pours over into the next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString

from terrain.arrays import Floats, Numbers, Singles
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.features import Features
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.grid import Grid
from terrain.ground.matched import match_names
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.ground.relief.summits import find_summits
from terrain.ground.relief.tops import Tops, find_tops, owners
from terrain.mist._drainage_kernels import run_down
from terrain.mist.drainage import CHANNEL_KM2, Drainage, drain, rim_cell, rim_lonlat, with_rim
from terrain.mist.flood import flood_levels
from terrain.mist.islands import cells_of
from terrain.mist.saddles import NONE, basins_of, drained_km2, saddles_of, sides_of

_POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"]

_BY_ONE: Final = "pass by "


def passes(
    dem: Dem,
    *,
    summits: gpd.GeoDataFrame | None = None,
    names: Features | None = None,
    min_depth_m: float = DEFAULT_PROMINENCE_M,
    seeds: Sequence[Spot | Hill] | None = None,
    levels: Singles | None = None,
    valley_km2: float = CHANNEL_KM2,
    tops: Tops | None = None,
    drainage: Drainage | None = None,
) -> gpd.GeoDataFrame:
    """The passes between neighbouring valleys, lowest first, and which way mist pours over them.

    Parameters
    ----------
    dem : Dem
        The ground.
    summits : geopandas.GeoDataFrame, optional
        As `find_summits` gives them, for the names of the passes; unless given, those of this
        ground.
    names : path or geopandas.GeoDataFrame, optional
        Named places, as for `read_names`; each name goes to the nearest pass within 300 m.
    min_depth_m : float, optional
        How far at least a pass lies below the lower of the hills on either side, or over the floor
        of the hollow it closes, metres.
    seeds : sequence of Spot or Hill, optional
        The sources of the mist, as for `flood_levels`.
    levels : (rows, cols) float32 array, metres, optional
        What `flood_levels` gave for this ground and these seeds.
    valley_km2 : float, optional
        Least ground that drains to the floor of a valley, square kilometres.
    tops : Tops, optional
        What `find_tops` gave for this ground; it serves where the ground was not warped.
    drainage : Drainage, optional
        What `drain` gave for this ground.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a pass (points, EPSG:4326), side a being the one that fills first:

        - `name` (else that of the hills on either side, "pass by ..." where that of one is known,
        ""
          where none is), `height_m`, `depth_m`, `summit_a`, `summit_b` (row labels in `summits` of
          those hills, the lower first; None where the table has none), `geometry` (the pass)
        - `valley_a`, `valley_b`: numbers of the valleys, 1 the largest; `side_a`, `side_b`: towards
          which they lie, as points of the compass; `valley_a_km2`, `valley_b_km2`: how much ground
          drains to the mouth of each, or to its hollow
        - `floor_a_m`, `floor_b_m`: the nearest floor down each side; `lon_a_deg`, `lat_a_deg`,
          `lon_b_deg`, `lat_b_deg`: where that is; `fills_a_m`, `fills_b_m`: the top of the mist
          that reaches it
        - `pours`: whether the mist that fills a is what fills b, over this pass; `pours_at_m`: at
          which top it begins to; NaN where it does not
        - `from_lon_deg`, `from_lat_deg`, `to_lon_deg`, `to_lat_deg`: the first cells down sides a,
        b
        - `lowest`: whether no pass between the same two valleys is lower

        Passes whose sides are not both on the raster are left out.

    Raises
    ------
    TerrainError
        For a depth that is not above 0.
    NoAnswer
        Where there is no pass.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(60, 61))
    >>> row, col = np.mgrid[-30:30, -30:31]
    >>> wall = 400.0 - 8.0 * abs(col) + 0.05 * row**2 - 2.0 * (col > 0) * abs(col)
    >>> found = terrain.passes(terrain.Dem(wall, grid))
    >>> found[["height_m", "side_a", "side_b", "pours"]].values.tolist()
    [[400.0, 'east', 'west', False]]
    """
    if not 0 < min_depth_m < np.inf:
        raise TerrainError(f"a pass {min_depth_m} m deep is none: give more than 0 m")
    if summits is None:
        summits = find_summits(dem, min_prominence_m=min_depth_m)
    if levels is None:
        levels = flood_levels(dem, seeds=seeds)
    drainage = drain(dem) if drainage is None else drainage
    if tops is None or dem.delivered is not None:
        tops = find_tops(Dem(dem.heights_m, dem.grid))
    hill_of = owners(tops, tops.drop_m >= min_depth_m)
    basins = basins_of(drainage, min_depth_m)
    floor = drainage.channels(valley_km2).astype(bool) | (basins.pit_of != NONE)
    level_m = with_rim(levels).reshape(-1)
    rows = []
    for saddle in saddles_of(drainage, tops, basins, hill_of, min_depth_m):
        sides = sides_of(saddle, drainage, basins, floor)
        if sides is None:
            continue
        # a is the side that fills first
        a, b = sorted(sides, key=lambda side: (level_m[side.floor], drainage.ground_m[side.floor]))
        rows.append(
            {
                **asdict(saddle),
                "height_m": float(drainage.ground_m[saddle.cell]),
                **{"a": a.floor, "b": b.floor, "from": a.start, "to": b.start},
                **{"mouth_a": a.mouth, "mouth_b": b.mouth},
            }
        )
    if not rows:
        raise _none_deep(min_depth_m, tops.drop_m)
    table = _table(drainage, drained_km2(drainage, basins), pd.DataFrame(rows), level_m)
    _name(table, summits, _owners(dem, tops, hill_of, summits), names)
    return table.drop(columns="hills")


def _none_deep(min_depth_m: float, drop_m: Floats) -> NoAnswer:
    """That no pass is so deep, and how deep the deepest is: that to the second of the hills."""
    said = f"there is no pass here at least {min_depth_m:.10g} m deep"
    deepest_m = math.floor(np.sort(drop_m)[-2]) if len(drop_m) > 1 else 0
    if not 0 < deepest_m < min_depth_m:
        return NoAnswer(said)
    return NoAnswer(f"{said}: the deepest is {deepest_m} m", loosen=[{"min_depth_m": deepest_m}])


def describe_pass(pass_row: Any) -> str:
    """What mist does at a pass, one line; pass_row: a row of `passes`."""
    name = name_in_words(pass_row)
    if pass_row["pours"]:
        return (
            f"at {pass_row['pours_at_m']:.0f} m the mist in the valley to the "
            f"{pass_row['side_a']} pours over {name} into the valley to the {pass_row['side_b']}"
        )
    return (
        f"at {pass_row['height_m']:.0f} m the mists to the {pass_row['side_a']} and to the "
        f"{pass_row['side_b']} meet at {name}"
    )


def name_in_words(pass_row: Any) -> str:
    """The name of a pass, or else its place, as it stands in a sentence."""
    place = pass_row["geometry"]
    name = pass_row["name"] or f"pass at {place.y:.4f}, {place.x:.4f}"
    return f"the {name}" if name.startswith(("pass at ", _BY_ONE)) else str(name)


def pour_path(dem: Dem, pass_row: Any) -> LineString:
    """The way that what pours over a pass takes down the far side to the valley's floor.

    pass_row: a row of `passes` for this ground. By steepest descent, through hollows where it
    must. A line in EPSG:4326 that begins at the pass.
    """
    heights = with_rim(dem.heights_m)
    cols, flat = heights.shape[1], heights.reshape(-1)
    start, end = (
        rim_cell(dem.grid, float(pass_row[lon]), float(pass_row[lat]))
        for lon, lat in (("to_lon_deg", "to_lat_deg"), ("lon_b_deg", "lat_b_deg"))
    )
    floor = np.zeros(flat.size, dtype=bool)
    floor[end] = True
    way = run_down(flat, ~np.isnan(flat), start, float(pass_row["height_m"]), floor, cols)
    lon, lat = rim_lonlat(dem.grid, way)
    place = pass_row["geometry"]
    return LineString([(place.x, place.y), *zip(lon.tolist(), lat.tolist(), strict=True)])


def _table(
    drainage: Drainage, drained: Singles, rows: pd.DataFrame, level_m: Singles
) -> gpd.GeoDataFrame:
    """The rows with places for cells and numbers for valleys."""
    rows = rows.sort_values("height_m", kind="stable", ignore_index=True)
    mouths = rows[["mouth_a", "mouth_b"]].to_numpy()
    each = np.unique(mouths)
    largest_first = np.argsort(-drained[each], kind="stable")
    valleys = 1 + np.argsort(largest_first)[np.searchsorted(each, mouths)]
    sides = _side_words(drainage.grid, rows)
    table = rows[["hills", "height_m", "depth_m"]].assign(
        valley_a=valleys[:, 0], valley_b=valleys[:, 1], side_a=sides[0], side_b=sides[1]
    )
    for side in "ab":
        table[f"valley_{side}_km2"] = drained[rows[f"mouth_{side}"]].astype(float)
    for what, values_m in (("floor", drainage.ground_m), ("fills", level_m)):
        for side in "ab":
            table[f"{what}_{side}_m"] = values_m[rows[side]].astype(float)
    low = table["fills_a_m"] < table["height_m"]
    table["pours"] = low & (table["height_m"] <= table["fills_b_m"])
    table["pours_at_m"] = table["height_m"].where(table["pours"])
    for end, name in (("a", "{}_a"), ("b", "{}_b"), ("from", "from_{}"), ("to", "to_{}")):
        for axis, degrees in zip(("lon", "lat"), rim_lonlat(drainage.grid, rows[end]), strict=True):
            table[f"{name.format(axis)}_deg"] = degrees
    table["lowest"] = ~pd.DataFrame(np.sort(valleys, axis=1)).duplicated()
    places = gpd.points_from_xy(*rim_lonlat(drainage.grid, rows["cell"]))
    return gpd.GeoDataFrame(table, geometry=places, crs="EPSG:4326")


def _owners(dem: Dem, tops: Tops, hill_of: Numbers, summits: gpd.GeoDataFrame) -> dict[int, Any]:
    """The row label of the summit that each hill, by its number, goes by: its highest."""
    row, col, on_raster = cells_of(dem, summits)
    top = tops.top_of[row, col]
    order = np.argsort(-summits.height_m.to_numpy(), kind="stable")
    # the highest has the last word
    order = order[(on_raster & (top >= 0))[order]][::-1]
    return dict(zip(hill_of[top[order]].tolist(), summits.index.to_numpy()[order], strict=True))


def _name(
    table: gpd.GeoDataFrame,
    summits: gpd.GeoDataFrame,
    owner: dict[int, Any],
    names: Features | None,
) -> None:
    """Give the passes their names and the summits on either side."""
    hills = np.array(table["hills"].tolist()).T
    labels = [[owner.get(hill) for hill in side.tolist()] for side in hills]
    given = match_names(table.geometry.x.to_numpy(), table.geometry.y.to_numpy(), names).names
    known = summits["name"]
    between = [
        _between([str(known[label]) for label in pair if label is not None and known[label]])
        for pair in zip(*labels, strict=True)
    ]
    table.insert(0, "name", [own or either for own, either in zip(given, between, strict=True)])
    table.insert(3, "summit_a", pd.Series(labels[0], dtype=object))
    table.insert(4, "summit_b", pd.Series(labels[1], dtype=object))


def _between(hills: list[str]) -> str:
    return f"{_BY_ONE}{hills[0]}" if len(hills) == 1 else " – ".join(hills)


def _side_words(grid: Grid, rows: pd.DataFrame) -> list[list[str]]:
    """Towards which the valleys of both sides lie; if both lie the same way, the ways down."""
    to_floors, down = (
        [_towards(grid, rows["cell"], rows[cells]) for cells in pair]
        for pair in (("a", "b"), ("from", "to"))
    )
    differ = np.array(to_floors[0]) != np.array(to_floors[1])
    return [np.where(differ, *words).tolist() for words in zip(to_floors, down, strict=True)]


def _towards(grid: Grid, cells: Any, to_cells: Any) -> list[str]:
    azimuth, _ = azimuth_and_distance(*rim_lonlat(grid, cells), *rim_lonlat(grid, to_cells))
    return [_POINTS[round(one / 45) % 8] for one in azimuth.tolist()]
