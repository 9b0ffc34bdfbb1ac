"""Every hill and vantage of a tile on one day: which pairs have the low sun behind the hill."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.country import Country, country_of
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.geodesy import drop_m
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.hills import hill_labels
from terrain.ground.relief.summits import hill_in
from terrain.ground.tables import with_points
from terrain.mist.mist import Mist
from terrain.sight.left_out import LeftOut, left_out
from terrain.vantage.access import Access, Walks, walkable, walks_to
from terrain.vantage.candidates import known_to_hill
from terrain.vantage.gaps import with_gaps_behind
from terrain.vantage.limits import Limits
from terrain.vantage.no_pair import none_held, none_promised
from terrain.vantage.pick import Row, pick
from terrain.vantage.question import Question
from terrain.vantage.search import answer_on, hill_columns
from terrain.vantage.sectors import cells_in_sectors
from terrain.view.backdrops import may_stand_against
from terrain.view.backlight import Backlight
from terrain.view.columns import columns_of
from terrain.view.scene import Scene
from terrain.view.states import best_pose

_KEPT_PER_HILL: Final = 400
_NEAR_CELLS: Final = 3.0
_KNOWN: Final = (
    *("best_deg", "offset_deg"),
    *("freeboard_m", "altitude_deg", "distance_m", "slope_deg"),
)
"""Values that are known of all pairs."""


def backlit_pairs(
    ground: Dem | Country,
    summits: gpd.GeoDataFrame,
    day: dt.date,
    *,
    mist: Mist | None = None,
    limits: Limits | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    count: int = 20,
    per_hill: int = 1,
    highest_deg: float = 12.0,
    accuracy: Accuracy | None = None,
    refraction: float | None = None,
    evening: bool = False,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Which hills of a tile can be had with the low sun behind them, or over them, on one day.

    Every summit is considered, and the ground opposite to the sun as vantages: those that have it
    on their skyline, and those that see it against ground or mist.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    summits : geopandas.GeoDataFrame
        As `find_summits` gives them.
    day : datetime.date
        The local date in the middle of the tile.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has.
    limits : Limits, optional
        What a vantage must keep to.
    starts : sequence of Spot, optional
        Where a walk can begin.
    access : Access, optional
        How far one will walk from a start, as for `find_vantages`.
    count : int, optional
        Pairs, at most.
    per_hill : int, optional
        Of one hill, at most.
    highest_deg : float, optional
        Altitude of the skyline beyond which the sun is not asked for, degrees.
    accuracy : Accuracy, optional
        Errors of the inputs, one standard deviation of each, in place of the country's own.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.
    evening : bool, optional
        The sun as it goes down.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    geopandas.GeoDataFrame
        One row a pair (the vantage as a point, EPSG:4326), best first: `rank`, `hill` (its name, ""
        if none), `hill_height_m`, `hill_lon_deg`, `hill_lat_deg`, the vantage's `lon_deg`,
        `lat_deg`, `height_m`, `slope_deg` and `freeboard_m` (NaN without mist), `appears` and
        `clears` (aware), `evening` (whether it goes then), `offset_deg`, `offset_widths`,
        `uncertainty_deg`, `uncertainty_s`, `best` and `best_at` (the best moment, "contact" or
        "passage", and when), `best_deg` (how far from the summit), `backdrop` and `backdrop_m`
        (what the summit is seen against, and how far off),
        `azimuth_deg`, `altitude_deg` and `distance_m` of the summit, `known_to_m` and
        `beyond_height_m` (how far the ground is known toward the sun, and how high it would have to
        be beyond to delay it), `known_between` (whether all ground on the way to the summit is
        known) and `known_behind` (whether no gap behind the hill may hold ground that stands over
        it; where either is not so, alignment scores 0), the score of each criterion that has a
        value here, and `score`. Every row has been looked at in full, as by `check_backlight`.
        `attrs["left_out"]` tells what the raster's edge and gaps leave open of the lines past the
        summits, from all places that promised a pair, a `LeftOut`. With access there are `start`,
        `start_m` and `walk_min`, as `find_vantages` has them.

    Raises
    ------
    NoAnswer
        Where there is no such pair.
    NoSun
        Where the sun does not rise.
    TerrainError
        For a count below 1, and for an empty table of summits.

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
    >>> summits = terrain.find_summits(cone)
    >>> pairs = terrain.backlit_pairs(cone, summits, dt.date(2025, 3, 30), count=1)
    >>> pairs[["hill_height_m", "distance_m"]].round(-2).values.tolist()
    [[300.0, 3800.0]]
    """
    asked = Question(
        limits=limits or Limits(), starts=starts or (), access=access, count=count, only=_KNOWN
    )
    if per_hill < 1:
        raise TerrainError(f"{per_hill} pairs a hill are none: ask for 1 or more")
    if summits.empty:
        raise TerrainError("the table of summits is empty: look for them with less prominence")
    country = country_of(ground, mist=mist, refraction=refraction, accuracy=accuracy)
    limits = asked.limits
    promising = partial(
        cells_in_sectors,
        country,
        summits,
        day,
        highest_deg=highest_deg,
        evening=evening,
        progress=lambda share: progress(0.7 * share),
    )
    promised = promising(limits)
    if promised.empty:
        raise none_promised(country, limits, day, promising)
    walks = _walks(country, summits, asked)
    if walks is not None:
        hill = hill_in(summits, 0)
        promised = walkable(walks, country, promised, hill, [day], far_m=np.inf, evening=evening)
    promised = _against(country, summits, promised, limits, day)
    likeliest = _likeliest(country, promised, asked)
    found: list[Row] = []
    for label in likeliest["label"].unique():
        cells = likeliest[likeliest["label"] == label]
        hill = hill_in(summits, label - 1)
        looks = partial(answer_on, day=day, limits=limits, evening=evening)
        found += _vantages(country, hill, cells, looks, replace(asked, count=per_hill), walks)
        progress(0.7 + 0.3 * min(len(found) / count, 1.0))
        if len(found) >= count:
            break
    if not found:
        over = "" if country.mist is None else f" with mist in {limits.mist_share:.0%} of the view"
        said = (
            f"none of the likeliest of the places that promised it ({len(promised)}) has, in a "
            f"full look, the low sun within {limits.tolerance_deg:g} degrees of a summit that is "
            f"clear in sight on {day}{over}"
        )

        def looks_at(cell: pd.Series, wide: Limits) -> Backlight | None:
            try:
                scene = Scene(country, hill_in(summits, int(cell["label"]) - 1))
            except NoAnswer:
                return None
            return answer_on(scene, asked.spot_in(cell), day, wide, evening=evening)

        raise none_held(looks_at, likeliest, limits, said)
    pairs = with_points(asked.ranked(pd.DataFrame(found[:count])), ranked=True)
    pairs.attrs["left_out"] = _left_out(country, promised, limits)
    return pairs


def _walks(country: Country, summits: gpd.GeoDataFrame, asked: Question) -> Walks | None:
    """The walks to all ground from the starts, where a walk is asked for."""
    if asked.access is None:
        return None
    return walks_to(country, hill_in(summits, 0), asked.starts, asked.access, np.inf)


def _against(
    country: Country,
    summits: gpd.GeoDataFrame,
    promised: pd.DataFrame,
    limits: Limits,
    day: dt.date,
) -> pd.DataFrame:
    """Those that may see their hill against the backdrop asked for; NoAnswer where none may."""
    if limits.against is None:
        return promised
    dem = country.dem
    lon, lat = dem.grid.lonlat(promised["row"], promised["col"])
    toward_deg = dem.grid.grid_azimuth_deg(promised["toward_deg"], lon, lat)
    height_m = summits["height_m"].to_numpy(dtype=float)[promised["label"] - 1]
    eyes_m = dem.heights_m[promised["row"], promised["col"]].astype(float) + limits.eye_m
    away_m = promised["distance_m"].to_numpy(dtype=float)
    rise_m = height_m - eyes_m - drop_m(away_m, country.refraction)
    cells = promised.assign(
        toward_deg=toward_deg, altitude_deg=np.degrees(np.arctan2(rise_m, away_m))
    )
    owner = hill_labels(dem, summits, tops=country.tops)
    hill = owner, promised["label"].to_numpy()
    may = may_stand_against(country, cells, *hill, limits.against, eye_m=limits.eye_m)
    if not may.any():
        raise NoAnswer(
            f"of the places from which the low sun passes a summit on {day} ({len(promised)}) "
            f"none sees it against {limits.against}: ask for another backdrop, or for any",
            loosen=[{"against": None}],
        )
    return promised[may]


def _likeliest(country: Country, promised: pd.DataFrame, asked: Question) -> pd.DataFrame:
    """The likeliest vantages of each hill, best first."""
    at = promised["row"].to_numpy(), promised["col"].to_numpy()
    best = asked.ranked(
        promised.assign(slope_deg=country.slope_deg[at], freeboard_m=country.freeboard_m[at])
    )
    best = best.groupby("label", sort=False).head(_KEPT_PER_HILL)
    lon, lat = country.dem.grid.lonlat(best["row"], best["col"])
    known = known_to_hill(country.dem, best, best["toward_deg"])
    best = best.assign(lon_deg=lon, lat_deg=lat, known_between=known)
    toward = best.assign(toward_deg=country.dem.grid.grid_azimuth_deg(best["toward_deg"], lon, lat))
    behind = with_gaps_behind(country, toward, best["altitude_deg"], asked.limits.eye_m)
    return asked.ranked(best.assign(known_behind=behind["known_behind"]))


def _left_out(country: Country, promised: pd.DataFrame, limits: Limits) -> LeftOut:
    """What is left open of the lines past the summits, from all places that promised one."""
    azimuth, altitude = np.full((2, *country.dem.shape), np.nan, dtype=np.float32)
    at = promised["row"].to_numpy(), promised["col"].to_numpy()
    azimuth[at], altitude[at] = promised["toward_deg"], promised["altitude_deg"]
    k = country.refraction
    return left_out(country.seen, azimuth, altitude, eye_m=limits.eye_m, refraction=k)


def _vantages(
    country: Country,
    hill: Hill,
    cells: pd.DataFrame,
    looks: Callable[[Scene, Spot], Backlight | None],
    asked: Question,
    walks: Walks | None,
) -> list[Row]:
    """The best vantages of one hill that hold in a full look and stand apart; none under mist."""
    try:
        scene = Scene(country, hill)
    except NoAnswer:
        return []

    def take(cell: pd.Series) -> Row | None:
        answer = looks(scene, asked.spot_in(cell))
        if answer is None:
            return None
        walk = {} if walks is None else walks.to(answer, cell)
        if walk is None:
            return None
        late = {
            "best_pose": str(best_pose(scene, answer)),
            "evening": answer.contact.evening,
            "known_behind": bool(cell["known_behind"]),
        }
        return hill_columns(hill, hill.name) | columns_of(answer) | late | walk

    apart_cells = max(asked.limits.apart_m / country.dem.cell_m, _NEAR_CELLS)
    return pick([cells], take, count=asked.count, apart_cells=apart_cells, missed_cells=_NEAR_CELLS)
