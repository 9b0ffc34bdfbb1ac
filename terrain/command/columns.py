"""The columns that tables of several commands have: each a heading and the key of what it says."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from terrain.command.tables import Column
from terrain.words import figures
from terrain.words.clocks import clock_and_zone, supported, zone_in_hours
from terrain.words.figures import beside, place, whole

if TYPE_CHECKING:
    from collections.abc import Mapping

    import geopandas as gpd
    import pandas as pd


def text(heading: str, key: str, *, left: bool = True) -> Column:
    """What is a text already, `-` where it is empty."""
    return Column(heading, lambda row: str(row[key] or "-"), left)


def metres(heading: str, key: str) -> Column:
    """A number without decimals, `-` where it is not known."""
    return Column(heading, lambda row: whole(row[key]))


def kilometres(heading: str, key: str) -> Column:
    """Metres as kilometres to the tenth."""
    return Column(heading, lambda row: f"{row[key] / 1000:.1f}")


def fixed(heading: str, key: str, decimals: int = 2) -> Column:
    """A number with so many decimals."""
    return Column(heading, lambda row: f"{round(row[key], decimals) + 0.0:.{decimals}f}")


def score() -> Column:
    """How good a place is, with a mark where ground on the way to the hill is not known."""
    return Column("score", lambda row: f"{row['score']:.2f}{'' if row['known_between'] else ' ?'}")


def at_clock(heading: str, key: str) -> Column:
    """A moment by the clock, as exactly as its `uncertainty_s` bears."""
    return Column(heading, lambda row: clock_and_zone(row[key], row["uncertainty_s"]))


def appears(found: pd.DataFrame, heading: str) -> Column:
    """When the sun appears, with the zone in the heading where all have one."""
    zones = {zone_in_hours(moment) for moment in found["appears"]}
    write, heading = (
        (supported, f"{heading}\n({zones.pop()})") if len(zones) == 1 else (clock_and_zone, heading)
    )

    def at(row: dict[str, Any]) -> str:
        moment = write(row["appears"], row["uncertainty_s"])
        return f"{row['day']:%d %b} {moment}" if "day" in row else moment

    return Column(heading, at)


def to_side(heading: str, key: str = "offset_deg") -> Column:
    """How far to the side of the summit the sun is."""
    return Column(heading, lambda row: beside(row[key]))


def best() -> Column:
    """When the sun is best placed, how it stands to the hill then, and how far from the summit."""

    def said(row: Mapping[str, Any]) -> str:
        # the rooms that these words know are loaded when a table is written
        from terrain.words.moments import best_moment

        return best_moment(row).removesuffix(" off")

    return Column("best, off summit", said, left=True)


def against() -> Column:
    """What the summit is seen against."""
    return Column("against", figures.against, left=True)


def of_mist(found: gpd.GeoDataFrame) -> list[Column]:
    """How a hill stands out of the mist, of a table that tells of one."""
    if "waterline" not in found:
        return []
    return [
        Column("waterline %", lambda row: whole(100.0 * row["waterline"])),
        Column("over mist °", lambda row: _tenth(row["over_mist_deg"])),
    ]


def _tenth(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.1f}"


def stands(heading: str, *, left: bool = False) -> Column:
    """Where the place of a row is."""
    return Column(heading, lambda row: place(row["lat_deg"], row["lon_deg"]), left)
