"""`terrain passes`: where valleys meet, and at what height mist pours from one into the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import terrain
from terrain.command.columns import metres, stands, text
from terrain.command.mist_asked import MistAsked, Source
from terrain.command.options import Asked, Count, Hollow, Names, Near, Prominence, option
from terrain.command.report import line, progress
from terrain.command.room import PASSES
from terrain.command.saves import PICTURE, TABLE
from terrain.command.tables import Column, table
from terrain.errors import TerrainError
from terrain.words.figures import count_of, first_of, sentence
from terrain.words.records import rows_of

if TYPE_CHECKING:
    import geopandas as gpd

_COLUMNS = (
    text("pass", "name"),
    metres("height m", "height_m"),
    metres("deep m", "depth_m"),
    Column("valleys km²", lambda row: _either(row["valley_a_km2"], row["valley_b_km2"])),
    Column("fills first", lambda row: row["side_a"], left=True),
    Column("then", lambda row: row["side_b"], left=True),
    Column("pours at m", lambda row: f"{row['pours_at_m']:.0f}" if row["pours"] else "-"),
    stands("place", left=True),
)

_FOREMOST: Final = "that hold back most"


def passes(
    *,
    source: list[str] | None = option(
        "PLACE",
        "Where the mist comes from; by default every edge and every deeper hollow.",
        "--mist-from",
    ),
    hollow: Hollow = None,
    prominence: Prominence = 30.0,
    near: Near = None,
    names: Names = None,
    count: Count = 20,
    asked: Asked,
) -> None:
    """List the passes between valleys as mist comes to them, and where it pours over.

    Of more than --count those that hold back most: deep between their hills, with large valleys.
    Saves a map with the way it pours (.png, .jpg, .webp, .svg, .pdf) or the passes (.gpkg, there
    with the ways down as lines, .geojson, .csv).
    """
    asked.check_saves(PICTURE, TABLE)
    area = asked.area(names, PASSES)
    around = None if near is None else area.spot(near)
    sources = tuple(Source(area.spot(place), None) for place in source or ())
    if hollow is not None and sources:
        raise TerrainError(
            f"--hollow {hollow:g} says where mist wells up by itself, which it does not with "
            "--mist-from: leave out one of the two"
        )
    with progress("finding the passes", quiet=asked.as_json) as done:
        country = area.country(around, progress=lambda share: done(0.3 * share))
        summits = country.summits(min_prominence_m=prominence, names=area.summits)
        done(0.4)
        levels = MistAsked(sources, hollow_m=hollow).levels_m(country)
        found = terrain.passes(country.dem, summits=summits, min_depth_m=prominence, levels=levels)
        # those asked about first
        found = found.sort_values("pours", ascending=False, kind="stable", ignore_index=True)
        shown = terrain.foremost_passes(found, count)
    title = f"{area.name or 'Passes'}: where valleys meet"
    asked.answer(
        fields=lambda: rows_of(found),
        tell=lambda: _tell(found, shown, source or []),
        picture=lambda: terrain.passes_map(country.dem, shown, title=title),
        layers=lambda: {
            "passes": without_rows(found),
            "pours": terrain.pouring_paths(country.dem, found[found["pours"]]),
        },
    )


def without_rows(found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Passes without the row labels of their summits, which mean nothing in a file."""
    return found.drop(columns=["summit_a", "summit_b"])


def _either(*areas_km2: float) -> str:
    return " / ".join(f"{area:.0f}" if area >= 10.0 else f"{area:.1f}" for area in areas_km2)


def _tell(found: gpd.GeoDataFrame, shown: gpd.GeoDataFrame, sources: list[str]) -> None:
    from terrain.mist.passes import describe_pass

    pouring = shown[shown["pours"]]
    columns = [one for one in _COLUMNS if len(pouring) or one.heading != "pours at m"]
    title = count_of(len(found), "pass", "passes") + first_of(len(found), len(shown), _FOREMOST)
    table(title, columns, rows_of(shown), numbered=True)
    if pouring.empty:
        line(
            f"Mist that comes from {' and '.join(sources)} pours over none of them."
            if sources
            else "Mist that rises everywhere at once pours over none of them: --mist-from says "
            "from which place it comes."
        )
    for _, row in pouring.iterrows():
        line(sentence(describe_pass(row)))
