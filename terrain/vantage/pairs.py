"""Every hill and vantage of a tile on one morning: which pairs have the sun behind them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer, NoGround, NoSun, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.slope import slope_deg
from terrain.ground.relief.summits import DEFAULT_PROMINENCE_M
from terrain.light.day import DayAtlas, day_atlas
from terrain.mist.surface import Mist
from terrain.vantage.criteria import Criterion, add_scores, standard_criteria
from terrain.vantage.day import Limits
from terrain.view.backlight import backlight
from terrain.view.scene import Scene, clearance_m, look

__all__ = ["backlit_pairs"]

Cells = NDArray[np.float32]
Labels = NDArray[np.int32]

_SLACK_DEG: Final = 0.2
_KEPT_PER_HILL: Final = 400
_LOOKS_PER_HILL: Final = 4
_NEAR_CELLS: Final = 3.0


def backlit_pairs(
    dem: Dem,
    summits: gpd.GeoDataFrame,
    day: dt.date,
    *,
    mist: Mist | None = None,
    limits: Limits | None = None,
    count: int = 20,
    per_hill: int = 1,
    highest_deg: float = 12.0,
    accuracy: Accuracy | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Which hills of a tile can be had with the sun coming up behind them this morning.

    Every summit is considered, and every cell as a vantage. summits: as `find_summits` gives it.
    day: the local date in the middle of the tile. mist: lies over the ground. limits: what a
    vantage must keep to. count: pairs, at most; per_hill: of one hill, at most. highest_deg:
    altitude of the skyline beyond which a sunrise is not asked for. accuracy: errors of the
    inputs. progress: called with the share done.

    Returns one row a pair (the vantage as a point, EPSG:4326), best first: `rank`, `hill` (its
    name, "" if none), `hill_height_m`, `hill_lon_deg`, `hill_lat_deg`, the vantage's `lon_deg`,
    `lat_deg`, `height_m`, `slope_deg` and `freeboard_m` (NaN without mist), `appears` and
    `clears` (aware), `offset_deg`, `offset_widths`, `uncertainty_deg`, `uncertainty_s`,
    `azimuth_deg`, `altitude_deg` and `distance_m` of the summit, `known_to_m` and
    `beyond_height_m` (how far the ground is known toward the sun, and how high it would have to
    be beyond to delay it), the score of each criterion that has a value here, and `score`. Every
    row has been looked at in full, as by `check_backlight`. `attrs["left_out"]` tells what the
    raster's edge and gaps leave open of the whole tile's morning, a `LeftOut`.

    Raises NoAnswer where there is no such pair; NoSun where the sun does not rise; TerrainError
    for a count below 1 and for an empty table of summits.
    """
    limits = limits or Limits()
    if count < 1 or per_hill < 1:
        raise TerrainError(f"{count} pairs, {per_hill} a hill, are none: ask for 1 or more")
    if summits.empty:
        raise TerrainError("the table of summits is empty: look for them with less prominence")
    atlas = day_atlas(
        dem,
        day,
        mist=mist,
        summits=summits,
        until_deg=highest_deg,
        refraction=refraction,
        progress=lambda share: progress(0.7 * share),
    )
    promised = _promised(dem, mist, atlas, limits, highest_deg)
    if promised.empty:
        raise NoAnswer(
            f"from no place that keeps to the limits does the sun appear within "
            f"{limits.tolerance_deg} degrees of a summit on {day}: try another date"
        )
    found = _confirmed(
        _Country(dem=dem, mist=mist, atlas=atlas, refraction=refraction),
        promised,
        limits,
        (count, per_hill),
        accuracy,
        lambda share: progress(0.7 + 0.3 * share),
    )
    if not found:
        raise NoAnswer(
            f"of {len(promised)} places that promised it none has the sun appear within "
            f"{limits.tolerance_deg} degrees of a summit on {day} in a full look: "
            "try another date"
        )
    table = add_scores(pd.DataFrame(found), _criteria(limits)).sort_values(
        "score", ascending=False, ignore_index=True
    )
    table.insert(0, "rank", np.arange(1, len(table) + 1))
    points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
    pairs = gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
    pairs.attrs["left_out"] = atlas.left_out()
    return pairs


@dataclass(frozen=True, kw_only=True)
class _Country:
    """What all pairs have in common."""

    dem: Dem
    mist: Mist | None
    atlas: DayAtlas
    refraction: float

    def scene(self, label: int) -> Scene:
        """One hill over ground and mist; its own ground is what the atlas took for it."""
        summits = self.atlas.summits
        summit = summits.iloc[label - 1]
        own = self.atlas.hills == label
        return Scene(
            dem=self.dem,
            seen=self.atlas.arrival.surface,
            hill=Hill(
                lon_deg=float(summit.geometry.x),
                lat_deg=float(summit.geometry.y),
                height_m=float(summit["height_m"]),
                name=str(summit["name"]),
                min_prominence_m=float(summits.attrs.get("min_prominence_m", DEFAULT_PROMINENCE_M)),
            ),
            own_ground=own if self.mist is None else own & ~self.mist.covers,
            mist=self.mist,
            refraction=self.refraction,
        )


def _criteria(limits: Limits) -> tuple[Criterion, ...]:
    """Those of `find_vantages` for which an atlas has the values."""
    known = ("offset_deg", "freeboard_m", "altitude_deg", "distance_m", "slope_deg")
    every = standard_criteria(
        tolerance_deg=limits.tolerance_deg, max_slope_deg=limits.max_slope_deg
    )
    return tuple(criterion for criterion in every if criterion.value in known)


def _promised(
    dem: Dem, mist: Mist | None, atlas: DayAtlas, limits: Limits, highest_deg: float
) -> pd.DataFrame:
    """The likeliest vantages of each hill, best first, with quick values."""
    offset, away = atlas.offsets()
    fit = np.abs(offset) <= limits.tolerance_deg + _SLACK_DEG
    fit &= (away >= limits.min_distance_m) & (away <= limits.max_distance_m)
    fit &= atlas.arrival.altitude_deg <= highest_deg
    if mist is not None:
        fit &= ~mist.covers & (dem.heights_m - mist.nearest_top_m >= limits.freeboard_m)
    slope = slope_deg(dem)
    at = np.nonzero(fit & (slope <= limits.max_slope_deg))
    cells = pd.DataFrame(
        {
            "row": at[0],
            "col": at[1],
            "label": atlas.hill[at],
            "offset_deg": offset[at],
            "distance_m": away[at],
            "altitude_deg": atlas.arrival.altitude_deg[at],
            "slope_deg": slope[at],
            "freeboard_m": np.nan if mist is None else dem.heights_m[at] - mist.nearest_top_m[at],
        }
    )
    ranked = add_scores(cells, _criteria(limits)).sort_values("score", ascending=False)
    return ranked.groupby("label", sort=False).head(_KEPT_PER_HILL)


def _confirmed(
    country: _Country,
    promised: pd.DataFrame,
    limits: Limits,
    wanted: tuple[int, int],
    accuracy: Accuracy | None,
    progress: Callable[[float], None],
) -> list[dict[str, Any]]:
    """Full looks, hill by hill in the order of their best promise, until enough hold."""
    count, per_hill = wanted
    found: list[dict[str, Any]] = []
    for label in promised["label"].unique():
        cells, scene = promised[promised["label"] == label], country.scene(int(label))
        if country.mist is not None:
            top = float(country.mist.top_at(scene.hill.lon_deg, scene.hill.lat_deg))
            if top >= scene.hill.height_m:
                continue
        found += _vantages(scene, cells, country.atlas.arrival.day, limits, per_hill, accuracy)
        progress(min(len(found) / count, 1.0))
        if len(found) >= count:
            break
    return found[:count]


def _vantages(
    scene: Scene,
    cells: pd.DataFrame,
    day: dt.date,
    limits: Limits,
    per_hill: int,
    accuracy: Accuracy | None,
) -> list[dict[str, Any]]:
    """The best vantages of one hill that hold in a full look and stand apart."""
    found: list[dict[str, Any]] = []
    row, col = cells["row"].to_numpy(), cells["col"].to_numpy()
    waiting = np.ones(len(cells), dtype=bool)
    for _ in range(_LOOKS_PER_HILL * per_hill):
        if not waiting.any() or len(found) == per_hill:
            break
        at = int(np.argmax(waiting))
        lon, lat = (float(part) for part in scene.dem.grid.lonlat(row[at], col[at]))
        pair = _pair(
            scene, Spot(lon_deg=lon, lat_deg=lat, eye_m=limits.eye_m), day, limits, accuracy
        )
        apart = max(limits.apart_m / scene.dem.cell_m if pair else 0.0, _NEAR_CELLS)
        waiting &= np.hypot(row - row[at], col - col[at]) >= apart
        if pair:
            found.append(pair)
    return found


def _pair(
    scene: Scene, spot: Spot, day: dt.date, limits: Limits, accuracy: Accuracy | None
) -> dict[str, Any] | None:
    """A row of the answer, or None where the full look does not bear the promise out."""
    try:
        view = look(scene, spot, day=day)
        if not (view.visible and view.on_skyline):
            return None
        answer = backlight(scene, view, day, accuracy=accuracy)
    except (NoSun, NoGround):
        return None
    sun = answer.contact
    below = clearance_m(scene, spot, sun.azimuth_deg, sun.altitude_deg, sun.distance_m)
    if (
        not answer.behind
        or abs(answer.offset_deg) > limits.tolerance_deg
        or min(view.clearance_m, below) < limits.clearance_m
    ):
        return None
    return {
        "hill": scene.hill.name,
        "hill_height_m": scene.hill.height_m,
        "hill_lon_deg": scene.hill.lon_deg,
        "hill_lat_deg": scene.hill.lat_deg,
        "lon_deg": spot.lon_deg,
        "lat_deg": spot.lat_deg,
        "height_m": view.spot_height_m,
        "slope_deg": view.slope_deg,
        "freeboard_m": view.freeboard_m,
        "appears": sun.appears,
        "clears": sun.clears,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "uncertainty_deg": answer.uncertainty_deg,
        "uncertainty_s": sun.uncertainty_s,
        "azimuth_deg": view.azimuth_deg,
        "altitude_deg": view.altitude_deg,
        "distance_m": view.distance_m,
        "known_to_m": sun.known_to_m,
        "beyond_height_m": sun.beyond_height_m,
    }
