"""What `terrain mist` says and writes about one mist: islands, amounts, clear ground, passes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import geopandas as gpd

import terrain
from terrain.command.columns import metres
from terrain.command.mist_case import MistCase
from terrain.command.options import Asked
from terrain.command.passes import without_rows
from terrain.command.report import line, progress
from terrain.command.tables import Column, table
from terrain.words.figures import count_of, first_of, place
from terrain.words.mist import amount_words, hollow_lines, origin_words, pour_lines
from terrain.words.records import rows_of

SPECK_NOTE = "Isles and pools of mist under a square millimetre are left off the map."


def name_of(row: Any) -> str:
    """The name of a summit, or else its place; row: as `rows_of` has it."""
    return row["name"] or place(row["lat_deg"], row["lon_deg"])


_SUMMITS = (
    Column("summit", name_of, left=True),
    metres("height m", "height_m"),
    metres("above mist m", "freeboard_m"),
    Column("island", lambda row: str(row["island"])),
)
_ISLANDS = (
    Column("island", lambda row: str(row["island"])),
    Column("highest summit", name_of, left=True),
    Column("summits", lambda row: str(row["summits"])),
    Column(
        "area km²",
        lambda row: f"{'over ' if row['touches_edge'] else ''}{row['island_area_km2']:.2f}",
    ),
    metres("shore m", "shore_width_m"),
    metres("next island m", "strait_m"),
)


def show_mist(case: MistCase, count: int, asked: Asked) -> None:
    """Say what one mist does, and write what is asked for."""
    with progress("filling valleys", quiet=asked.as_json) as done:
        mist, dem = case.mist, case.dem
        done(0.3)
        found = case.islands
        done(0.6)
        hollows, poured = case.hollows, case.poured
    lowest_m, highest_m = mist.range_m
    asked.answer(
        fields=lambda: {
            "mist_top_m": case.wanted.tops_m[0] if case.wanted.tops_m else None,
            "mist": {"lowest_top_m": lowest_m, "highest_top_m": highest_m, **case.amounts},
            "islands": rows_of(found),
            "clear_hollows": [] if hollows is None else rows_of(hollows),
            "passes": [] if poured is None else rows_of(poured),
        },
        tell=lambda: _tell(case, count),
        picture=lambda: terrain.islands_map(
            dem,
            mist,
            found,
            title=case.area.name or "Sea of mist",
            poured=poured,
            hill=case.hill,
            spots=case.spots,
            trees_m=case.trees_m,
            notes=(SPECK_NOTE,),
        ),
        layers=lambda: _layers(case),
        raster=(
            lambda: {"top of the mist, m": mist.top_m, "depth of the mist, m": mist.depth(dem)},
            dem.grid,
        ),
    )


def _tell(case: MistCase, count: int) -> None:
    title = (
        f"{len(case.islands)} of {count_of(len(case.summits), 'summit')} "
        f"{'stands' if len(case.islands) == 1 else 'stand'} above mist with its top at "
        f"{case.mist.label}, on {count_of(case.islands['island'].nunique(), 'island')}"
        f"{first_of(len(case.islands), count, 'highest')}"
    )
    table(title, _SUMMITS, rows_of(case.islands.head(count)), numbered=True)
    each = one_an_island(case.islands)
    own = [metres("your island m", "from_spot_m")] if case.spot else []
    islands = count_of(len(each), "island") + first_of(len(each), count)
    table(islands, [*_ISLANDS, *own], rows_of(each.head(count)))
    line(*_sentences(case))


def one_an_island(found: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The highest summit of each island, with how many `summits` that island has."""
    many = found.groupby("island")["height_m"].transform("size")
    counted = found.assign(summits=many).sort_values("height_m", ascending=False, kind="stable")
    return counted.drop_duplicates("island").sort_values("island")


def _sentences(case: MistCase) -> Iterator[str]:
    from terrain.show.map.mist import MOST_PASSES

    wanted = case.wanted
    comes = origin_words(wanted.seeds or [], wanted.is_along_floors, wanted.hollow_m)
    yield f"{amount_words(**case.amounts)} {comes}"
    if case.hollows is not None:
        yield from hollow_lines(case.hollows)
    if case.poured is not None:
        yield from pour_lines(case.poured, MOST_PASSES)


def _layers(case: MistCase) -> dict[str, gpd.GeoDataFrame]:
    tables = {"islands": case.islands, "mist": case.outline(case.mist)}
    if case.hollows is not None:
        tables["clear_hollows"] = case.hollows
    if case.poured is not None:
        ways = terrain.pouring_paths(case.dem, case.poured)
        tables |= {"passes": without_rows(case.poured), "pours": ways}
    return tables
