"""`terrain mist --top 250:450:25`: the mist at several heights, as frames, a table and a chart."""

from __future__ import annotations

import contextlib
import itertools
import math
import string
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from terrain.command.mist_asked import MistAsked, on_islands, outline_of, straits_of
from terrain.command.mist_report import SPECK_NOTE, count_of, name_of
from terrain.errors import TerrainError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import geopandas as gpd

    from terrain.command.save import Endings
    from terrain.mist.sweep import MistSweep
    from terrain.show.map.pouring_marks import Pours
    from terrain.show.paper.key import Key

__all__ = ["show_sweep", "tops_of"]

_MOST_TOPS = 200
_MOST_POURS = 10
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


def show_sweep(asked: MistAsked, *, count: int, files: list[Path], as_json: bool) -> None:
    """Print what each summit does as the mist rises, and write what is asked for.

    A picture becomes the chart, and beside it a map for each height with the height in its name.
    """
    from terrain.command.report import print_json, progress, rows_of
    from terrain.command.save import PICTURE, RASTER, TABLE, save_as
    from terrain.mist.sweep import mist_sweep
    from terrain.show.chart.rising_mist import sweep_figure
    from terrain.show.files.export import save_layers, save_picture, save_raster

    with progress("letting the mist rise", quiet=as_json):
        sweep = mist_sweep(asked.dem, asked.summits, asked.tops_m, levels=asked.levels_m)
        fates = _fates(sweep)
        pours = _pours(asked)
    if as_json:
        rows = _by_top(asked, sweep)
        print_json(
            {
                "summits": rows_of(fates),
                "islands": rows.drop(columns="geometry").to_dict("records"),
                "passes": [] if pours is None else rows_of(pours),
            }
        )
    else:
        _show(fates, pours, count)

    def draw(path: Path) -> None:
        title = asked.area.name or "Rising mist"
        save_picture(sweep_figure(sweep, title=title), path)
        _draw_frames(asked, sweep, path, title)

    writers: dict[Endings, Callable[[Path], None]] = {
        PICTURE: draw,
        TABLE: lambda path: save_layers(_layers(asked, sweep, fates, pours), path),
        RASTER: lambda path: save_raster({_LEVELS: sweep.levels_m}, asked.dem.grid, path),
    }
    save_as(files, writers)


def _fates(sweep: MistSweep) -> gpd.GeoDataFrame:
    """What each summit does, with the name of the one that it joins in place of its row."""
    table = sweep.summits
    names = {label: name_of(row) for label, row in table.iterrows()}
    return table.assign(joins=[names.get(label, "") for label in table["joins"]])


def _pours(asked: MistAsked) -> gpd.GeoDataFrame | None:
    """The passes that the mist begins to pour over as it rises through the tops, lowest first."""
    passes = asked.passes
    if passes is None:
        return None
    within = passes["pours"] & passes["pours_at_m"].between(asked.tops_m[0], asked.tops_m[-1])
    return passes[within].drop(columns=["summit_a", "summit_b"]) if within.any() else None


def _show(fates: gpd.GeoDataFrame, pours: gpd.GeoDataFrame | None, count: int) -> None:
    from terrain.command.report import line, table
    from terrain.mist.passes import describe_pass

    headings = ["summit", "height m", "drowns at m", "alone above m", "ringed by mist above m"]
    headings += ["joins", "below m"]
    rows = [_row(row) for _, row in fates.head(count).iterrows()]
    table(f"{len(fates)} summits as the mist rises", headings, rows, left=("joins",))
    if pours is None:
        return
    for _, row in pours.head(_MOST_POURS).iterrows():
        line(f"{_sentence(describe_pass(row))}.")
    if len(pours) > _MOST_POURS:
        more = count_of(len(pours) - _MOST_POURS, "more pass", "more passes")
        line(f"And over {more} on the way.")


def _row(row: Any) -> list[str]:
    alone = "never" if row["alone_from_m"] >= row["drowns_m"] else f"{row['alone_from_m']:.0f}"
    ringed = "never" if not math.isfinite(row["ringed_from_m"]) else f"{row['ringed_from_m']:.0f}"
    joins = [row["joins"] or "-", f"{row['own_from_m']:.0f}" if row["joins"] else "-"]
    return [
        name_of(row), f"{row['height_m']:.0f}", f"{row['drowns_m']:.0f}", alone, ringed, *joins
    ]  # fmt: skip


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _by_top(asked: MistAsked, sweep: MistSweep) -> gpd.GeoDataFrame:
    """A row for each top and each summit that stands clear of it, with its place."""
    import geopandas as gpd
    import numpy as np

    from terrain.errors import NoAnswer
    from terrain.mist.islands import straits_from

    rows = gpd.GeoDataFrame(
        sweep.islands.rename(columns={"island": "island_of"}),
        geometry=sweep.summits.geometry.loc[sweep.islands["summit"]].to_numpy(),
        crs=sweep.summits.crs,
    )
    if asked.spot is None:
        return rows
    rows["from_spot_m"] = np.nan
    for top_m, standing in rows.groupby("top_m"):
        with contextlib.suppress(NoAnswer):
            straits = straits_from(asked.dem, sweep.mist(top_m), asked.spot, standing)
            rows.loc[standing.index, "from_spot_m"] = straits
    return rows


def _layers(
    asked: MistAsked,
    sweep: MistSweep,
    fates: gpd.GeoDataFrame,
    pours: gpd.GeoDataFrame | None,
) -> dict[str, gpd.GeoDataFrame]:
    import pandas as pd

    outlines = [
        outline_of(asked, sweep.mist(float(top))).assign(top_m=float(top)) for top in sweep.tops_m
    ]
    layers = {"summits": fates, "islands": _by_top(asked, sweep), "mist": pd.concat(outlines)}
    return layers if pours is None else layers | {"passes": pours}


@dataclass(frozen=True, kw_only=True, eq=False)
class _Frame:
    """One height of a series: who stands clear of it, and the passes that it pours over."""

    top_m: float
    standing: gpd.GeoDataFrame
    poured: gpd.GeoDataFrame | None


def _draw_frames(asked: MistAsked, sweep: MistSweep, path: Path, title: str) -> None:
    """A map for each top, alike in all but the mist: marks, columns and pages keep their places."""
    from terrain.command.report import saved
    from terrain.show.files.export import save_picture
    from terrain.show.map.map import MOST_SUMMITS, map_figure
    from terrain.show.map.margin import Room
    from terrain.show.map.pouring_marks import MOST_PASSES, pour_key
    from terrain.show.paper.key import aligned, island_key

    frames = _frames(asked, sweep)
    if not frames:
        return
    letters = _letters(frames)
    most = MOST_SUMMITS - (MOST_PASSES if letters else 0)
    numbers = _numbers(sweep, frames, most)
    keys = aligned([island_key(_marked(frame.standing, numbers), whole=True) for frame in frames])
    pours = [_pours_of(asked, frame, letters) for frame in frames]
    tables = [pour_key(one.passes) for one in pours if one is not None and one.passes is not None]
    room = Room(key_pt=_largest(keys), passes_pt=_largest(tables))
    everyone = sweep.summits.loc[list(numbers)]
    for frame, key, one in zip(frames, keys, pours, strict=True):
        mist = sweep.mist(frame.top_m)
        marks = [
            numbers[label] if label in frame.standing.index else "" for label in everyone.index
        ]
        figure = map_figure(
            asked.dem,
            title=title,
            subtitle=f"Summits that stand above mist with its top at {mist.label}",
            mist=mist,
            summits=everyone.assign(mark=marks),
            key=key,
            pours=one,
            notes=(SPECK_NOTE,),
            room=room,
        )
        file = path.with_name(f"{path.stem}-{frame.top_m:04.0f}{path.suffix}")
        save_picture(figure, file)
        saved(file)


def _pours_of(asked: MistAsked, frame: _Frame, letters: dict[Any, str]) -> Pours | None:
    """Where the mist of a frame pours; none of the frames has it, or all, if only in the legend."""
    from terrain.mist.pouring import pouring_paths
    from terrain.show.map.pouring_marks import Pours, lettered

    if not letters or asked.passes is None:
        return None
    if frame.poured is None:
        return Pours(ways=pouring_paths(asked.dem, asked.passes.iloc[:0]))
    table = lettered(frame.poured, letters)
    return Pours(passes=table, ways=pouring_paths(asked.dem, table))


def _largest(keys: Sequence[Key]) -> tuple[float, float]:
    return (
        max((key.width_pt for key in keys), default=0.0),
        max((key.height_pt for key in keys), default=0.0),
    )


def _frames(asked: MistAsked, sweep: MistSweep) -> list[_Frame]:
    """The heights at which there is mist and a summit that stands clear of it; says which not."""
    from terrain.command.report import aside
    from terrain.errors import NoAnswer

    frames: list[_Frame] = []
    for top in sweep.tops_m:
        try:
            mist = sweep.mist(float(top))
            standing = on_islands(asked, mist)
        except NoAnswer as error:
            aside(f"no map at {top:g} m: {error}")
            continue
        try:
            standing = straits_of(asked, mist, standing)
        except NoAnswer:
            # the spot itself lies under this mist; every frame has the same columns
            standing = standing.assign(from_spot_m=math.nan)
        frames.append(_Frame(top_m=float(top), standing=standing, poured=asked.poured(mist)))
    return frames


def _numbers(sweep: MistSweep, frames: list[_Frame], most: int) -> dict[Any, str]:
    """The number of each summit on all the frames, by its row label: highest first."""
    ever = set().union(*(frame.standing.index for frame in frames))
    first = [label for label in sweep.summits.index if label in ever][:most]
    return {label: str(number) for number, label in enumerate(first, start=1)}


def _marked(standing: gpd.GeoDataFrame, numbers: dict[Any, str]) -> gpd.GeoDataFrame:
    kept = standing.loc[[label for label in numbers if label in standing.index]]
    return kept.assign(mark=[numbers[label] for label in kept.index])


def _letters(frames: list[_Frame]) -> dict[Any, str]:
    """The letter of each pass on all the frames, by its row label: lowest first."""
    from terrain.show.map.pouring_marks import MOST_PASSES

    heights: dict[Any, float] = {}
    for frame in frames:
        if frame.poured is not None:
            heights |= frame.poured.head(MOST_PASSES)["height_m"].to_dict()
    one = list(string.ascii_lowercase)
    marks = itertools.chain(one, ("".join(two) for two in itertools.product(one, repeat=2)))
    return dict(zip(sorted(heights, key=heights.__getitem__), marks, strict=False))
