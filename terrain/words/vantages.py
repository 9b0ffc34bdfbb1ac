"""What is said of vantages beside their table: what the map shows, their days and heights."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

from terrain.mist.level import AnyMist, MistRange

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


def vantages_subtitle(found: gpd.GeoDataFrame, when: str, sea: AnyMist | None) -> str:
    """What the map of vantages shows, in one line."""
    mist = "" if sea is None else f", mist up to {sea.label}"
    if "mist_top_m" in found and sea is not None:
        mist = f", mist with its top anywhere from {sea.label}"
    places = "one place" if len(found) == 1 else f"{len(found)} places"
    return f"{places} where the sun appears behind it {when}{mist}"


def range_lines(mist: AnyMist | None) -> tuple[str, ...]:
    """What a table of vantages over a mist with a range of tops must say; none for a single top."""
    if not isinstance(mist, MistRange):
        return ()
    return (
        f"The mist may stand anywhere from {mist.label}. Each row is about the top hoped for,",
        f"{mist.hoped_m:.0f} m, or else the nearest to it that works there.",
    )


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
