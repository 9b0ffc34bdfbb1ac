"""`terrain mist --top 250:450:25`: the mist at several heights, as frames, a table and a chart."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.errors import TerrainError

if TYPE_CHECKING:
    from collections.abc import Callable

    import geopandas as gpd

    from terrain.command.save import Endings
    from terrain.ground.dem import Dem
    from terrain.ground.places import Spot
    from terrain.mist.sweep import MistSweep

__all__ = ["show_sweep", "tops_of"]

_MOST_TOPS = 200
_LEVELS = "lowest top of mist that reaches the cell, m"


def tops_of(text: str) -> list[float]:
    """Heights of mist from `300`, or from `LOWEST:HIGHEST:STEP` with both ends.

    >>> tops_of("250:300:25")
    [250.0, 275.0, 300.0]
    """
    try:
        parts = [float(part) for part in text.split(":")]
    except ValueError as error:
        raise TerrainError(f"{text!r} is not a height of mist: give 300, or 250:450:25") from error
    if len(parts) == 1:
        return parts
    if len(parts) != 3 or not parts[2] > 0.0 or not parts[0] < parts[1]:
        raise TerrainError(f"{text!r} is not a range of heights: give LOWEST:HIGHEST:STEP")
    lowest, highest, step = parts
    count = math.floor((highest - lowest) / step + 1e-9) + 1
    if not count <= _MOST_TOPS:
        raise TerrainError(f"{text!r} asks for {count} heights: give a wider step")
    return [lowest + step * number for number in range(count)]


def show_sweep(
    dem: Dem,
    summits: gpd.GeoDataFrame,
    tops_m: list[float],
    *,
    seeds: list[Spot] | None,
    title: str,
    count: int,
    files: list[Path],
    as_json: bool,
) -> None:
    """Print what each summit does as the mist rises, and write what is asked for.

    A picture becomes the chart, and beside it a map for each height with the height in its name.
    """
    from terrain.command.report import print_json, progress, rows_of, table
    from terrain.command.save import PICTURE, RASTER, TABLE, save_as
    from terrain.mist.sweep import mist_sweep

    with progress("letting the mist rise", quiet=as_json):
        sweep = mist_sweep(dem, summits, tops_m, seeds=seeds)
    if as_json:
        fates = sweep.summits.drop(columns=["joins"])
        print_json({"summits": rows_of(fates), "islands": sweep.islands.to_dict("records")})
    else:
        rows = [_row(row) for _, row in sweep.summits.head(count).iterrows()]
        headings = ["summit", "height m", "drowns at m", "alone above m", "ringed by mist above m"]
        table(f"{len(sweep.summits)} summits as the mist rises", headings, rows)
    if not files:
        return
    from terrain.show.export import save_picture, save_raster, save_table
    from terrain.show.sweep import sweep_figure

    def draw(path: Path) -> None:
        save_picture(sweep_figure(sweep, title=title), path)
        _draw_frames(sweep, summits, path, title)

    writers: dict[Endings, Callable[[Path], None]] = {
        PICTURE: draw,
        TABLE: lambda path: save_table(
            sweep.summits.drop(columns=["joins"]), path, layer="summits"
        ),
        RASTER: lambda path: save_raster({_LEVELS: sweep.levels_m}, dem.grid, path),
    }
    save_as(files, writers)


def _row(row: Any) -> list[str]:
    name = row["name"] or f"{row.geometry.y:.4f}, {row.geometry.x:.4f}"
    alone = "never" if row["alone_from_m"] >= row["drowns_m"] else f"{row['alone_from_m']:.0f}"
    ringed = "never" if not math.isfinite(row["ringed_from_m"]) else f"{row['ringed_from_m']:.0f}"
    return [name, f"{row['height_m']:.0f}", f"{row['drowns_m']:.0f}", alone, ringed]


def _draw_frames(sweep: MistSweep, summits: gpd.GeoDataFrame, path: Path, title: str) -> None:
    from terrain.command.report import saved
    from terrain.errors import NoAnswer
    from terrain.mist.islands import islands
    from terrain.show.export import save_picture
    from terrain.show.key import island_key
    from terrain.show.map import MOST_SUMMITS, map_figure

    for top in sweep.tops_m:
        try:
            mist = sweep.mist(float(top))
            standing = islands(sweep.dem, mist, summits)
        except NoAnswer:
            continue
        frame = path.with_name(f"{path.stem}-{top:04.0f}{path.suffix}")
        figure = map_figure(
            sweep.dem,
            title=title,
            subtitle=f"Summits that stand above mist with its top at {mist.label}",
            mist=mist,
            summits=standing,
            key=island_key(standing.head(MOST_SUMMITS)),
        )
        save_picture(figure, frame)
        saved(frame)
