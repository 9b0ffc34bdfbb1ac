"""What the commands print of the small scenes in view."""

from __future__ import annotations

from typing import TYPE_CHECKING

from terrain.command.columns import kilometres
from terrain.command.tables import Column, table
from terrain.words.figures import eighth, signed
from terrain.words.records import rows_of
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


def tell_scenes(found: gpd.GeoDataFrame) -> None:
    """Print the small scenes in a mist, if there are any."""
    if len(found):
        table(TITLE, _COLUMNS, rows_of(found))
