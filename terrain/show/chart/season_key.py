"""What the year picture says of each hill: its name, its mornings, and the best of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd

from terrain.show.paper.key import Columns, Key, key_of
from terrain.words.clocks import hour_minute
from terrain.words.figures import top_name
from terrain.words.vantages import lacks


def bests_of(table: gpd.GeoDataFrame, hills: Sequence[str]) -> Key:
    """What is said of each hill: how many mornings it has, and of the best of them."""
    years = {day.year for day in table["day"]}
    written = "{0.day} {0:%b}" if len(years) == 1 else "{0.day} {0:%b %Y}"
    columns: Columns = {
        "mornings": ("mornings", str),
        "best on": ("day", written.format),
        "sun appears": ("appears", hour_minute),
        "off summit": ("offset_deg", _aside),
        "but": ("lacks", str),
        "score": ("score", "{:.2f}".format),
    }
    table = table.assign(lacks=[_first_lack(row) for row in table.to_dict("records")])
    best = table.sort_values("score", ascending=False, kind="stable").drop_duplicates("hill")
    mornings = table["hill"].value_counts().reindex(hills, fill_value=0)
    by_hill = best.set_index("hill").reindex(hills).assign(mornings=mornings)
    return key_of(by_hill, columns, whole=True)


def _first_lack(row: dict[str, Any]) -> str:
    """The weightiest of what speaks against a place, in words."""
    first = lacks(row).split(", ")[0]
    return "nothing" if first == "-" else first


def called(hill: str, table: gpd.GeoDataFrame) -> str:
    """The name of a hill, or what it is called by its height where it has none but its place."""
    if any(letter.isalpha() for letter in hill) or "hill_height_m" not in table:
        return hill
    heights = table.loc[table["hill"] == hill, "hill_height_m"]
    return hill if heights.empty else top_name("", float(heights.iloc[0]))


def _aside(offset_deg: float) -> str:
    return f"{abs(offset_deg):.2f}° {'right' if offset_deg > 0.0 else 'left'}"
