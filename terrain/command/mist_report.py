"""What `terrain mist` says and writes about one mist: islands, amounts, clear ground, passes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.command.columns import metres
from terrain.command.mist_case import MistCase
from terrain.command.passes import without_rows
from terrain.command.report import Column, line, print_json, progress, rows_of, table
from terrain.command.save import PICTURE, RASTER, TABLE, layers, picture, raster, save_as
from terrain.words.terminal import count_of, place, sentence

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    from matplotlib.figure import Figure

    from terrain.mist.mist import Mist

__all__ = ["SPECK_NOTE", "name_of", "show_mist"]

SPECK_NOTE = "Isles and pools of mist under a square millimetre are left off the map."
_MOST_HOLLOWS = 5


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
    mist: Mist
    islands: gpd.GeoDataFrame
    hollows: gpd.GeoDataFrame | None
    poured: gpd.GeoDataFrame | None

    def amounts(self) -> dict[str, float]:
        """How much mist there is."""
        import numpy as np

        return {
            "area_km2": self.mist.area_km2,
            "volume_m3": self.mist.volume_m3(self.case.dem),
            "deepest_m": float(np.nanmax(self.mist.depth(self.case.dem))),
        }


def show_mist(case: MistCase, *, count: int, files: list[Path], as_json: bool) -> None:
    """Say what one mist does, and write what is asked for."""
    with progress("filling valleys", quiet=as_json) as done:
        mist, dem = case.mist, case.dem
        done(0.3)
        found = case.with_straits(mist, case.islands(mist))
        done(0.6)
        hollows, poured = _clear(case), case.poured(mist)
    sea = _Sea(case=case, mist=mist, islands=found, hollows=hollows, poured=poured)
    if as_json:
        print_json(_fields(sea))
    else:
        _show_islands(sea, count)
        for words in _sentences(sea):
            line(words)
    save_as(
        files,
        {
            PICTURE: picture(lambda: _map(sea)),
            TABLE: layers(lambda: _layers(sea)),
            RASTER: raster(
                lambda: {"top of the mist, m": mist.top_m, "depth of the mist, m": mist.depth(dem)},
                dem.grid,
            ),
        },
    )


def _clear(case: MistCase) -> gpd.GeoDataFrame | None:
    """Ground below the top that stays clear, where that can be said: of level mist and of seeds."""
    from terrain.mist.hollows import clear_hollows

    if case.mist_asked.is_along_floors and case.mist_asked.seeds is None:
        return None
    hollows = clear_hollows(case.dem, case.mist)
    return None if hollows.empty else hollows


def _show_islands(sea: _Sea, count: int) -> None:
    own = metres("your island m", "from_spot_m")
    title = (
        f"{len(sea.islands)} of {len(sea.case.summits)} summits stand above mist with its top at "
        f"{sea.mist.label}, on {count_of(sea.islands['island'].nunique(), 'island')}"
    )
    columns = [*_COLUMNS, own] if sea.case.spot else _COLUMNS
    table(title, columns, rows_of(sea.islands.head(count)), numbered=True)


def _sentences(sea: _Sea) -> Iterator[str]:
    amounts = sea.amounts()
    yield (
        f"The mist covers {amounts['area_km2']:.1f} km², {amounts['volume_m3'] / 1e6:,.0f} million "
        f"m³ of it, and is {amounts['deepest_m']:.0f} m deep at most. {_origin(sea.case)}"
    )
    if sea.hollows is not None:
        yield from _hollow_lines(sea.hollows)
    if sea.poured is not None:
        yield from _pour_lines(sea.poured)


def _origin(case: MistCase) -> str:
    from terrain.mist.drainage import CHANNEL_KM2
    from terrain.mist.valley import MAX_FLOOR_SLOPE

    spots = case.mist_asked.seeds or []
    places = [spot.name or place(spot.lat_deg, spot.lon_deg) for spot in spots]
    comes = f"It comes from {' and '.join(places)} alone"
    if case.mist_asked.is_along_floors:
        return (
            f"{f'{comes} and' if places else 'It'} lies along the floors of valleys that drain "
            f"{CHANNEL_KM2:g} km² or more; where they fall more than {100 * MAX_FLOOR_SLOPE:g} m "
            "in 100 m none stays."
        )
    if places:
        return f"{comes}; the raster's edge is a wall to it."
    return (
        "It comes in over every edge of the raster and wells up in closed hollows more than "
        f"{case.least_hollow_m:g} m deep (--hollow)."
    )


def _hollow_lines(hollows: gpd.GeoDataFrame) -> Iterator[str]:
    yield "Ground below its top that it does not reach stays clear:"
    for _, row in hollows.head(_MOST_HOLLOWS).iterrows():
        yield (
            f"  {row['area_km2']:.2f} km² about {row.geometry.y:.4f}, {row.geometry.x:.4f}, down "
            f"to {row['floor_m']:.0f} m, {row['depth_m']:.0f} m below the top"
        )
    if len(hollows) > _MOST_HOLLOWS:
        rest = hollows.iloc[_MOST_HOLLOWS:]
        yield f"  and {len(rest)} more, {rest['area_km2'].sum():.2f} km² together"


def _pour_lines(poured: gpd.GeoDataFrame) -> Iterator[str]:
    from terrain.mist.pouring import describe_pouring
    from terrain.show.map.pouring_marks import MOST_PASSES

    for _, row in poured.head(MOST_PASSES).iterrows():
        yield sentence(describe_pouring(row))
    if len(poured) > MOST_PASSES:
        more = count_of(len(poured) - MOST_PASSES, "more pass", "more passes")
        yield f"And over {more}."


def _fields(sea: _Sea) -> dict[str, Any]:
    lowest_m, highest_m = sea.mist.range_m
    tops_m = sea.case.mist_asked.tops_m
    return {
        "mist_top_m": tops_m[0] if tops_m else None,
        "mist": {"lowest_top_m": lowest_m, "highest_top_m": highest_m, **sea.amounts()},
        "islands": rows_of(sea.islands),
        "clear_hollows": [] if sea.hollows is None else rows_of(sea.hollows),
        "passes": [] if sea.poured is None else rows_of(sea.poured),
    }


def _map(sea: _Sea) -> Figure:
    from terrain.show.map.islands import islands_map

    return islands_map(
        sea.case.dem,
        sea.mist,
        sea.islands,
        title=sea.case.area.name or "Sea of mist",
        poured=sea.poured,
        notes=(SPECK_NOTE,),
    )


def _layers(sea: _Sea) -> dict[str, gpd.GeoDataFrame]:
    from terrain.mist.pouring import pouring_paths

    tables = {"islands": sea.islands, "mist": sea.case.outline(sea.mist)}
    if sea.hollows is not None:
        tables["clear_hollows"] = sea.hollows
    if sea.poured is not None:
        ways = pouring_paths(sea.case.dem, sea.poured)
        tables |= {"passes": without_rows(sea.poured), "pours": ways}
    return tables
