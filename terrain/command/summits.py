"""`terrain summits`: which summits are in the raster, and how far each stands out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.area import none_so_prominent
from terrain.command.columns import metres, stands, text
from terrain.command.options import Asked, Count, Names, Near, Prominence
from terrain.command.report import progress
from terrain.command.room import SUMMITS
from terrain.command.saves import PICTURE, TABLE
from terrain.command.tables import Column, table
from terrain.words.figures import count_of, first_of
from terrain.words.records import rows_of

if TYPE_CHECKING:
    import geopandas as gpd
    from matplotlib.figure import Figure


_COLUMNS = (
    text("name", "name"),
    metres("height m", "height_m"),
    Column(
        "prominence m",
        lambda row: f"{'at least ' if row['bounded'] else ''}{row['prominence_m']:.0f}",
    ),
    metres("col m", "col_height_m"),
    stands("place"),
)


def columns_of(shown: gpd.GeoDataFrame) -> tuple[Column, ...]:
    """Those of a table of summits.

    With the heights of the list of names, where one of them is another than here.
    """
    if not any(map(_listed, rows_of(shown))):
        return _COLUMNS
    return (*_COLUMNS[:2], Column("listed m", _listed), *_COLUMNS[2:])


def _listed(row: dict[str, Any]) -> str:
    height_m, listed_m = row["height_m"], row.get("listed_m", math.nan)
    differs = math.isfinite(listed_m) and round(listed_m) != round(height_m)
    return f"{listed_m:.0f}" if differs else ""


def summits(
    *,
    prominence: Prominence = 30.0,
    near: Near = None,
    names: Names = None,
    count: Count = 25,
    asked: Asked,
) -> None:
    """List the summits of the ground with their height and prominence, highest first."""
    asked.check_saves(PICTURE, TABLE)
    area = asked.area(names, SUMMITS)
    around = None if near is None else area.spot(near)
    with progress("finding summits", quiet=asked.as_json) as done:
        country = area.country(around, progress=lambda share: done(0.4 * share))
        found = country.summits(min_prominence_m=prominence, names=area.summits)
    if found.empty:
        raise none_so_prominent(country, prominence)

    def tell() -> None:
        title = f"{count_of(len(found), 'summit')} of {prominence:g} m prominence or more"
        title += first_of(len(found), count, "highest")
        table(title, columns_of(found.head(count)), rows_of(found.head(count)), numbered=True)

    asked.answer(
        fields=lambda: rows_of(found),
        tell=tell,
        picture=lambda: _map(country.dem, found, prominence, area.name or "Summits"),
        layers=lambda: {"summits": found},
    )


def _map(dem: terrain.Dem, found: gpd.GeoDataFrame, prominence: float, title: str) -> Figure:
    from terrain.show.map.spread import spread_tops, unnumbered_notes

    shown = spread_tops(dem, found)
    notes = [*unnumbered_notes(len(shown), len(found))]
    if shown["bounded"].any():
        notes += ["≥: at least; what lies off the raster may make it more."]
    return terrain.map_figure(
        dem,
        terrain.MapContents(summits=shown),
        title=title,
        subtitle=f"Summits of {prominence:g} m prominence or more, the highest first",
        notes=notes,
    )
