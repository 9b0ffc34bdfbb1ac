"""What `terrain mist` says and writes about one mist: islands, amounts, clear ground, passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np

import terrain
from terrain.command.columns import metres
from terrain.command.mist_case import MistCase
from terrain.command.options import Asked
from terrain.command.passes import without_rows
from terrain.command.report import Column, line, progress, rows_of, table
from terrain.words.figures import count_of, place
from terrain.words.mist import amount_words, hollow_lines, origin_words, pour_lines

SPECK_NOTE = "Isles and pools of mist under a square millimetre are left off the map."


def name_of(row: Any) -> str:
    """The name of a summit, or else its place; row: as `rows_of` has it."""
    return row["name"] or place(row["lat_deg"], row["lon_deg"])


_COLUMNS = (
    Column("summit", name_of, left=True),
    metres("height m", "height_m"),
    metres("above mist m", "freeboard_m"),
    Column("island", lambda row: str(row["island"])),
    Column(
        "area km²",
        lambda row: f"{'over ' if row['touches_edge'] else ''}{row['island_area_km2']:.2f}",
    ),
    metres("shore m", "shore_width_m"),
    metres("next island m", "strait_m"),
)


@dataclass(frozen=True, kw_only=True)
class _Sea:
    """What one mist does: who stands clear of it, what it leaves clear, and where it pours."""

    case: MistCase
    mist: terrain.Mist
    islands: gpd.GeoDataFrame
    hollows: gpd.GeoDataFrame | None
    poured: gpd.GeoDataFrame | None

    def amounts(self) -> dict[str, float]:
        """How much mist there is."""
        return {
            "area_km2": self.mist.area_km2,
            "volume_m3": self.mist.volume_m3(self.case.dem),
            "deepest_m": float(np.nanmax(self.mist.depth(self.case.dem))),
        }


def show_mist(case: MistCase, count: int, asked: Asked) -> None:
    """Say what one mist does, and write what is asked for."""
    with progress("filling valleys", quiet=asked.as_json) as done:
        mist, dem = case.mist, case.dem
        done(0.3)
        found = case.with_straits(mist, case.islands(mist))
        done(0.6)
        hollows, poured = _clear(case), case.poured(mist)
    sea = _Sea(case=case, mist=mist, islands=found, hollows=hollows, poured=poured)
    asked.answer(
        fields=lambda: _fields(sea),
        tell=lambda: _tell(sea, count),
        picture=lambda: terrain.islands_map(
            dem,
            mist,
            found,
            title=case.area.name or "Sea of mist",
            poured=poured,
            notes=(SPECK_NOTE,),
        ),
        layers=lambda: _layers(sea),
        raster=(
            lambda: {"top of the mist, m": mist.top_m, "depth of the mist, m": mist.depth(dem)},
            dem.grid,
        ),
    )


def _clear(case: MistCase) -> gpd.GeoDataFrame | None:
    """Ground below the top that stays clear, where that can be said: of level mist and of seeds."""
    if case.wanted.is_along_floors and case.wanted.seeds is None:
        return None
    hollows = terrain.clear_hollows(case.dem, case.mist)
    return None if hollows.empty else hollows


def _tell(sea: _Sea, count: int) -> None:
    own = metres("your island m", "from_spot_m")
    title = (
        f"{len(sea.islands)} of {len(sea.case.summits)} summits stand above mist with its top at "
        f"{sea.mist.label}, on {count_of(sea.islands['island'].nunique(), 'island')}"
    )
    columns = [*_COLUMNS, own] if sea.case.spot else _COLUMNS
    table(title, columns, rows_of(sea.islands.head(count)), numbered=True)
    line(*_sentences(sea))


def _sentences(sea: _Sea) -> Iterator[str]:
    from terrain.show.map.pouring_marks import MOST_PASSES

    wanted = sea.case.wanted
    comes = origin_words(wanted.seeds or [], wanted.is_along_floors, wanted.hollow_m)
    yield f"{amount_words(**sea.amounts())} {comes}"
    if sea.hollows is not None:
        yield from hollow_lines(sea.hollows)
    if sea.poured is not None:
        yield from pour_lines(sea.poured, MOST_PASSES)


def _fields(sea: _Sea) -> dict[str, Any]:
    lowest_m, highest_m = sea.mist.range_m
    tops_m = sea.case.wanted.tops_m
    return {
        "mist_top_m": tops_m[0] if tops_m else None,
        "mist": {"lowest_top_m": lowest_m, "highest_top_m": highest_m, **sea.amounts()},
        "islands": rows_of(sea.islands),
        "clear_hollows": [] if sea.hollows is None else rows_of(sea.hollows),
        "passes": [] if sea.poured is None else rows_of(sea.poured),
    }


def _layers(sea: _Sea) -> dict[str, gpd.GeoDataFrame]:
    tables = {"islands": sea.islands, "mist": sea.case.outline(sea.mist)}
    if sea.hollows is not None:
        tables["clear_hollows"] = sea.hollows
    if sea.poured is not None:
        ways = terrain.pouring_paths(sea.case.dem, sea.poured)
        tables |= {"passes": without_rows(sea.poured), "pours": ways}
    return tables
