"""What the commands print of small scenes in view, and of how the sun stands to a hill."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.columns import kilometres
from terrain.command.report import Column, table
from terrain.words.figures import eighth, signed
from terrain.words.records import picked, rows_of
from terrain.words.scenes import LETTERS, TITLE, scene_lens, scene_name, scene_wide

if TYPE_CHECKING:
    import geopandas as gpd

_COLUMNS = (
    Column("", lambda row: LETTERS[row["rank"] - 1]),
    Column("what", scene_name, left=True),
    Column(
        "toward", lambda row: f"{row['azimuth_deg']:.0f}°, {eighth(row['azimuth_deg'])}", left=True
    ),
    Column("at altitude", lambda row: signed(row["altitude_deg"])),
    kilometres("away km", "distance_m"),
    Column("wide", scene_wide),
    Column("lens", scene_lens, left=True),
)


def spells_fields(spells: Sequence[terrain.SunSpell]) -> list[dict[str, Any]]:
    """The times at which the sun stands in one way to a hill, for JSON."""
    return [
        {
            **picked(one, "state", "start", "end"),
            "nearest": picked(one.nearest, "at", "aside_deg", "above_deg"),
        }
        for one in spells
    ]


def tell_scenes(found: gpd.GeoDataFrame) -> None:
    """Print the small scenes in a mist, if there are any."""
    if len(found):
        table(TITLE, _COLUMNS, rows_of(found))
