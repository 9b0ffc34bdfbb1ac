"""The keys of maps: what is said of each numbered vantage, summit, island and pass."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Final

import geopandas as gpd
import numpy as np

from terrain.show.paper.key import Columns, Key, key_of
from terrain.show.paper.text import compass, shortened
from terrain.words.clocks import supported
from terrain.words.figures import against, top_name
from terrain.words.moments import best_in_short

_WHOLE: Final = "{:.0f}".format


def vantage_key(vantages: gpd.GeoDataFrame, *, letters: Mapping[str, str] | None = None) -> Key:
    """What each numbered vantage of a table from `find_vantages` offers, best first.

    letters: of the starts on the map, by their names in the table.
    """
    if letters and "start" in vantages:
        nearest = [
            f"{letters.get(name, '')} {_km(away_m)}".strip()
            for name, away_m in zip(vantages["start"], vantages["start_m"], strict=True)
        ]
        vantages = vantages.assign(nearest=nearest)
    if "appears" in vantages:
        vantages = vantages.assign(appears_at=_clocks(vantages))
    evening = "evening" in vantages and bool(vantages["evening"].any())
    if "best" in vantages:
        rows = vantages.to_dict("records")
        vantages = vantages.assign(
            best_is=[best_in_short(row) for row in rows],
            against=[against(row) for row in rows],
        )
    if "waterline" in vantages:
        vantages = vantages.assign(waterline_percent=100.0 * vantages["waterline"])
    if "mist_share" in vantages:
        vantages = vantages.assign(mist_percent=100.0 * vantages["mist_share"])
    columns: Columns = {
        "height\nm": ("height_m", _WHOLE),
        "above\nmist m": ("freeboard_m", _WHOLE),
        "hill\nkm": ("distance_m", _km),
        f"sun\n{'gone' if evening else 'appears'}": ("appears_at", str),
        "best,\noff it": ("best_is", str),
        "against": ("against", str),
        "water-\nline %": ("waterline_percent", _WHOLE),
        "mist in\nview %": ("mist_percent", _WHOLE),
        "over\nmist °": ("over_mist_deg", "{:.1f}".format),
        "start\nkm": ("nearest", str),
    }
    return key_of(vantages, columns)


def summit_key(summits: gpd.GeoDataFrame) -> Key:
    """Height and prominence of each numbered summit; a prominence that may be more has a ≥."""
    least = summits["bounded"] if "bounded" in summits else np.zeros(len(summits), dtype=bool)
    prominence = [
        f"{'≥ ' if more else ''}{value:.0f}"
        for value, more in zip(summits["prominence_m"], least, strict=True)
    ]
    columns: Columns = {
        "summit": ("name", str),
        "height\nm": ("height_m", _WHOLE),
        "prominence\nm": ("prominence", str),
        "away\nkm": ("distance_m", _km),
        "toward": ("azimuth_deg", compass),
    }
    return key_of(_called(summits).assign(prominence=prominence), columns)


def island_key(islands: gpd.GeoDataFrame, *, whole: bool = False) -> Key:
    """How far each numbered summit stands above the mist, and on what island.

    whole: keep columns that say nothing, so that the keys of a series have the same ones.
    """
    columns: Columns = {
        "summit": ("name", shortened),
        "height\nm": ("height_m", _WHOLE),
        "above\nmist m": ("freeboard_m", _WHOLE),
        "island\nkm²": ("island_area_km2", _three_figures),
        "to next\nisland m": ("strait_m", _WHOLE),
        "to your\nisland m": ("from_spot_m", _WHOLE),
    }
    return key_of(_called(islands), columns, whole=whole)


def _called(tops: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Tops of which those without a name are called by their height, where some have names."""
    names = tops["name"].fillna("").to_numpy(dtype=object)
    if not any(names):
        return tops
    return tops.assign(name=[top_name(*top) for top in zip(names, tops["height_m"], strict=True)])


def pass_key(passes: gpd.GeoDataFrame) -> Key:
    """Height and depth of each numbered pass, where its valleys lie, and when mist pours over."""
    columns: Columns = {
        "pass": ("name", shortened),
        "height\nm": ("height_m", _WHOLE),
        "deep\nm": ("depth_m", _WHOLE),
        "fills\nfirst": ("side_a", str),
        "then": ("side_b", str),
        "pours\nat m": ("pours_at_m", _WHOLE),
    }
    heights = zip(passes["name"], passes["height_m"], strict=True)
    names = [name or f"pass at {height:.0f} m" for name, height in heights]
    return key_of(passes.assign(name=names), columns)


def pour_key(poured: gpd.GeoDataFrame) -> Key:
    """The passes that mist pours over, by the letters in their column `mark`."""
    way = [f"{a} to {b}" for a, b in zip(poured["side_a"], poured["side_b"], strict=True)]
    columns: Columns = {
        "mist pours over": ("name", shortened),
        "height\nm": ("height_m", _WHOLE),
        "mist on\nit, m": ("over_m", _WHOLE),
        "from … to": ("way", str),
    }
    return key_of(poured.assign(way=way), columns, whole=True)


def _clocks(vantages: gpd.GeoDataFrame) -> list[str]:
    """When the sun appears, as exactly as that is known; with the day where there are several."""
    several = len({moment.date() for moment in vantages["appears"]}) > 1
    doubts = vantages.get("uncertainty_s", np.full(len(vantages), np.nan))
    return [
        f"{_day(moment) if several else ''}{supported(moment, doubt_s)}"
        for moment, doubt_s in zip(vantages["appears"], doubts, strict=True)
    ]


def _day(moment: dt.datetime) -> str:
    nearest = moment + dt.timedelta(seconds=0.5)
    return f"{nearest.day} {nearest:%b} "


def _three_figures(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{value:.1f}" if value >= 1.0 else f"{value:.2f}"


def _km(distance_m: float) -> str:
    return f"{distance_m / 1000.0:.1f}"
