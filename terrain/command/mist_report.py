"""What `terrain mist` says and writes about one mist: islands, amounts, clear ground, passes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.command.mist_asked import MistAsked, on_islands, outline_of, straits_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import geopandas as gpd
    from matplotlib.figure import Figure

    from terrain.mist.mist import Mist

__all__ = ["SPECK_NOTE", "count_of", "name_of", "show_mist"]

SPECK_NOTE = "Isles and pools of mist under a square millimetre are left off the map."
_MOST_HOLLOWS = 5


def name_of(row: Any) -> str:
    """The name of a summit, or else its place."""
    return row["name"] or f"{row.geometry.y:.4f}, {row.geometry.x:.4f}"


def count_of(number: int, thing: str, several: str = "") -> str:
    """A number of things in words.

    >>> count_of(1, "island"), count_of(2, "pass", "passes")
    ('1 island', '2 passes')
    """
    return f"{number} {thing if number == 1 else several or f'{thing}s'}"


def show_mist(asked: MistAsked, *, count: int, files: list[Path], as_json: bool) -> None:
    """Say what one mist does, and write what is asked for."""
    from terrain.command.report import line, print_json, progress
    from terrain.command.save import PICTURE, RASTER, TABLE, save_as
    from terrain.show.files.export import save_layers, save_picture, save_raster

    with progress("filling valleys", quiet=as_json) as done:
        mist, dem = asked.mist, asked.dem
        done(0.3)
        found = straits_of(asked, mist, on_islands(asked, mist))
        done(0.6)
        hollows, poured = _clear(asked, mist), asked.poured(mist)
    if as_json:
        print_json(_fields(asked, mist, found, hollows, poured))
    else:
        _show_islands(asked, mist, found, count)
        for words in _sentences(asked, mist, hollows, poured):
            line(words)
    save_as(
        files,
        {
            PICTURE: lambda path: save_picture(_picture(asked, mist, found, poured), path),
            TABLE: lambda path: save_layers(_layers(asked, mist, found, hollows, poured), path),
            RASTER: lambda path: save_raster(
                {"top of the mist, m": mist.top_m, "depth of the mist, m": mist.depth(dem)},
                dem.grid,
                path,
            ),
        },
    )


def _clear(asked: MistAsked, mist: Mist) -> gpd.GeoDataFrame | None:
    """Ground below the top that stays clear, where that can be said: of level mist and of seeds."""
    from terrain.mist.hollows import clear_hollows

    if not asked.is_level and asked.seeds is None:
        return None
    hollows = clear_hollows(asked.dem, mist)
    return None if hollows.empty else hollows


def _show_islands(asked: MistAsked, mist: Mist, found: gpd.GeoDataFrame, count: int) -> None:
    from terrain.command.report import table

    headings = ["no.", "summit", "height m", "above mist m", "island", "area km²", "shore m"]
    headings += ["next island m"] + (["your island m"] if asked.spot else [])
    rows = [
        [
            str(number),
            name_of(row),
            f"{row['height_m']:.0f}",
            f"{row['freeboard_m']:.0f}",
            str(row["island"]),
            f"{'over ' if row['touches_edge'] else ''}{row['island_area_km2']:.2f}",
            f"{row['shore_width_m']:.0f}",
            _or_dash(row["strait_m"]),
            *([_or_dash(row["from_spot_m"])] if asked.spot else []),
        ]
        for number, (_, row) in enumerate(found.head(count).iterrows(), start=1)
    ]
    title = (
        f"{len(found)} of {len(asked.summits)} summits stand above mist with its top at "
        f"{mist.label}, on {count_of(found['island'].nunique(), 'island')}"
    )
    table(title, headings, rows, left=("summit",))


def _sentences(
    asked: MistAsked,
    mist: Mist,
    hollows: gpd.GeoDataFrame | None,
    poured: gpd.GeoDataFrame | None,
) -> Iterator[str]:
    amounts = _amounts(asked, mist)
    yield (
        f"The mist covers {amounts['area_km2']:.1f} km², {amounts['volume_m3'] / 1e6:,.0f} million "
        f"m³ of it, and is {amounts['deepest_m']:.0f} m deep at most. {_origin(asked)}"
    )
    if hollows is not None:
        yield from _hollow_lines(hollows)
    if poured is not None:
        yield from _pour_lines(poured)


def _origin(asked: MistAsked) -> str:
    from terrain.mist.drainage import CHANNEL_KM2
    from terrain.mist.valley import MAX_FLOOR_SLOPE

    places = [spot.name or f"{spot.lat_deg:.4f}, {spot.lon_deg:.4f}" for spot, _ in asked.sources]
    comes = f"It comes from {' and '.join(places)} alone"
    if not asked.is_level:
        return (
            f"{f'{comes} and' if places else 'It'} lies along the floors of valleys that drain "
            f"{CHANNEL_KM2:g} km² or more; where they fall more than {100 * MAX_FLOOR_SLOPE:g} m "
            "in 100 m none stays."
        )
    if places:
        return f"{comes}; the raster's edge is a wall to it."
    return (
        "It comes in over every edge of the raster and wells up in closed hollows more than "
        f"{asked.least_hollow_m:g} m deep (--hollow)."
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
        words = describe_pouring(row)
        yield f"{words[:1].upper()}{words[1:]}."
    if len(poured) > MOST_PASSES:
        more = count_of(len(poured) - MOST_PASSES, "more pass", "more passes")
        yield f"And over {more}."


def _amounts(asked: MistAsked, mist: Mist) -> dict[str, float]:
    import numpy as np

    return {
        "area_km2": mist.area_km2,
        "volume_m3": mist.volume_m3(asked.dem),
        "deepest_m": float(np.nanmax(mist.depth(asked.dem))),
    }


def _fields(
    asked: MistAsked,
    mist: Mist,
    found: gpd.GeoDataFrame,
    hollows: gpd.GeoDataFrame | None,
    poured: gpd.GeoDataFrame | None,
) -> dict[str, Any]:
    from terrain.command.report import rows_of

    lowest_m, highest_m = mist.range_m
    return {
        "mist_top_m": asked.tops_m[0] if asked.is_level else None,
        "mist": {"lowest_top_m": lowest_m, "highest_top_m": highest_m, **_amounts(asked, mist)},
        "islands": rows_of(found),
        "clear_hollows": [] if hollows is None else rows_of(hollows),
        "passes": [] if poured is None else rows_of(poured),
    }


def _picture(
    asked: MistAsked, mist: Mist, found: gpd.GeoDataFrame, poured: gpd.GeoDataFrame | None
) -> Figure:
    from terrain.mist.pouring import pouring_paths
    from terrain.show.map.map import MOST_SUMMITS, map_figure
    from terrain.show.map.pouring_marks import MOST_PASSES, Pours, lettered
    from terrain.show.paper.key import island_key

    pours, room = None, MOST_SUMMITS
    if poured is not None:
        shown = lettered(poured)
        pours = Pours(passes=shown, ways=pouring_paths(asked.dem, shown))
        room -= MOST_PASSES
    return map_figure(
        asked.dem,
        title=asked.area.name or "Sea of mist",
        subtitle=f"Summits that stand above mist with its top at {mist.label}",
        mist=mist,
        summits=found.head(room),
        key=island_key(found.head(room)),
        pours=pours,
        notes=(SPECK_NOTE,),
    )


def _layers(
    asked: MistAsked,
    mist: Mist,
    found: gpd.GeoDataFrame,
    hollows: gpd.GeoDataFrame | None,
    poured: gpd.GeoDataFrame | None,
) -> dict[str, gpd.GeoDataFrame]:
    from terrain.mist.pouring import pouring_paths

    layers = {"islands": found, "mist": outline_of(asked, mist)}
    if hollows is not None:
        layers["clear_hollows"] = hollows
    if poured is not None:
        layers |= {"passes": _plain(poured), "pours": pouring_paths(asked.dem, poured)}
    return layers


def _plain(passes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Passes without the row labels of their summits, which mean nothing in a file."""
    return passes.drop(columns=["summit_a", "summit_b"])


def _or_dash(value: float) -> str:
    return f"{value:.0f}" if value == value else "-"
