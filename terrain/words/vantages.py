"""What is said of vantages beside their table: what the map shows, their days and heights."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from terrain.ground.places import Hill
from terrain.mist.level import AnyMist, MistRange
from terrain.words.figures import distance, percent

Row = Mapping[str, Any]

_FAILS: Final = 0.3
"""A criterion with a score below that fails (common practice, no source)."""

NOTES = (
    "Clock times of the place.",
    "Computed from elevation data, not surveyed: check ground, access and weather.",
)


def more_title(found: gpd.GeoDataFrame) -> str:
    """What the columns are about that only some answers have."""
    mist = "The mist in view" if "mist_share" in found else ""
    walk = "the walk in" if "walk_min" in found else ""
    title = " and ".join(part for part in (mist, walk) if part)
    return title[0].upper() + title[1:]


def lacks(row: Row) -> str:
    """What speaks against a vantage, in words: the criteria that fail, the weightiest first.

    >>> lacks({"alignment": 0.9, "waterline": 0.0, "level": 0.1, "altitude_deg": 9.0})
    'no mist at its foot, from 9° below'
    """
    said = [words(row) for name, words in _LACKS.items() if row.get(name, 1.0) < _FAILS]
    return ", ".join(dict.fromkeys(said)) or "-"


def worth_note(found: pd.DataFrame) -> tuple[str, ...]:
    """What each numbered vantage lacks, and then its score, as a line; none where nobody judged."""
    if not any(name in found for name in _LACKS):
        return ()
    rows: list[Any] = found.to_dict("records")
    said = [
        f"{number}: {'nothing' if lacks(row) == '-' else lacks(row)} ({row['score']:.2f})"
        for number, row in enumerate(rows, start=1)
    ]
    return (f"What each lacks, and its score from 0 to 1: {'; '.join(said)}.",)


def _foot(row: Row) -> str:
    share = row["waterline"]
    return f"mist along {percent(share)} of its foot" if share > 0.0 else "no mist at its foot"


def _view(row: Row) -> str:
    share = row["mist_share"]
    return f"only {percent(share)} mist in view" if share > 0.0 else "no mist in view"


def _over(row: Row) -> str:
    up = row["over_mist_deg"]
    return "no mist at its foot" if math.isnan(up) else f"only {up:.1f}° out of the mist"


def _beside(row: Row) -> str:
    return f"sun {row['best_deg']:.1f}° off"


_LACKS: Final[Mapping[str, Callable[[Row], str]]] = {
    "alignment": _beside,
    "togetherness": lambda row: f"the sun {row['sun_from_summit_deg']:.1f}° from the summit",
    "waterline": _foot,
    "over_mist": _over,
    "sea": _view,
    "frame": lambda row: f"{percent(row['fits_share'])} of it in frame",
    "stature": lambda row: "little of it shows",
    "openness": lambda row: "near ground in view",
    "contrast": lambda row: "dark before dark ground",
    "isolation": lambda row: "ground close behind",
    "freeboard": lambda row: f"only {row['freeboard_m']:.0f} m over the mist",
    "warmth": lambda row: f"sun {row['sun_deg']:.0f}° high",
    "level": lambda row: f"from {row['altitude_deg']:.0f}° below",
    "nearness": lambda row: f"{distance(row['distance_m'])} away",
    "footing": lambda row: "steep footing",
    "band": lambda row: "few mist heights",
}
"""What to say of a criterion that fails."""


def vantages_title(hill: Hill, found: gpd.GeoDataFrame) -> str:
    """What the map of vantages is about."""
    return f"{hill.label} at {'sunset' if _is_evening(found) else 'sunrise'}: where to stand"


def vantages_subtitle(found: gpd.GeoDataFrame, when: str, sea: AnyMist | None) -> str:
    """What the map of vantages shows, in one line."""
    mist = "" if sea is None else f", mist up to {sea.label}"
    if "mist_top_m" in found and sea is not None:
        mist = f", mist with its top anywhere from {sea.label}"
    places = "one place" if len(found) == 1 else f"{len(found)} places"
    sun = "the evening sun" if _is_evening(found) else "the rising sun"
    return f"{places} with {sun} behind it or over it {when}{mist}"


def range_lines(mist: AnyMist | None) -> tuple[str, ...]:
    """What a table of vantages over a mist with a range of tops must say; none for a single top."""
    if not isinstance(mist, MistRange):
        return ()
    return (
        f"The mist may stand anywhere from {mist.label}. Each row is about the top hoped for, "
        f"{mist.hoped_m:.0f} m, or else the nearest to it that works there.",
    )


def _is_evening(found: pd.DataFrame) -> bool:
    return "evening" in found and bool(found["evening"].any())


def evening_lines(found: pd.DataFrame) -> tuple[str, ...]:
    """What a table of vantages of an evening must say; none of a morning."""
    if not _is_evening(found):
        return ()
    walk = "The walk in is for the daylight before; the" if "walk_min" in found else "The"
    return (f"{walk} way back is in the dark: take a lamp, and know the way.",)


def unknown_lines(found: pd.DataFrame) -> tuple[str, ...]:
    """What a table of vantages must say of its marks; none where all ground on the way is known."""
    if found["known_between"].all():
        return ()
    return ("? Some of the ground on the way to the hill is not known: what hangs on it scores 0.",)


def range_note(sea: AnyMist | None) -> tuple[str, ...]:
    """What a map of a mist with a range of tops must say, as lines; none for a single top."""
    if not isinstance(sea, MistRange):
        return ()
    top = f"{sea.hoped_m:.0f} m"
    return (
        f"Mist is drawn at {top}; each place is judged at the top nearest to that it works at.",
    )
