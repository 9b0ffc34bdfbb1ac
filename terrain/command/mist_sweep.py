"""`terrain mist --top 250:450:25`: the mist at several heights, as frames, a table and a chart."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

import terrain
from terrain.command.columns import metres, text
from terrain.command.mist_case import MistCase
from terrain.command.mist_report import SPECK_NOTE, name_of
from terrain.command.options import Asked
from terrain.command.passes import without_rows
from terrain.command.report import aside, line, progress, saved
from terrain.command.saves import PICTURE
from terrain.command.tables import Column, table
from terrain.errors import NoAnswer
from terrain.mist.passes import describe_pass
from terrain.mist.sweep import placed_islands
from terrain.words.figures import count_of, sentence
from terrain.words.records import rows_of

if TYPE_CHECKING:
    from terrain.show.map.mist_maps import RisenMist

_MOST_POURS = 10
_LEVELS = "lowest top of mist that reaches the cell, m"

_COLUMNS = (
    Column("summit", name_of),
    metres("height m", "height_m"),
    metres("drowns at m", "drowns_m"),
    Column(
        "alone above m",
        lambda row: _never_or(row["alone_from_m"], row["alone_from_m"] < row["drowns_m"]),
    ),
    Column(
        "ringed by mist above m",
        lambda row: _never_or(row["ringed_from_m"], math.isfinite(row["ringed_from_m"])),
    ),
    text("joins", "joins"),
    Column("below m", lambda row: f"{row['own_from_m']:.0f}" if row["joins"] else "-"),
)


def _never_or(height_m: float, ever: bool) -> str:
    return f"{height_m:.0f}" if ever else "never"


def show_sweep(case: MistCase, count: int, asked: Asked) -> None:
    """Print what each summit does as the mist rises, and write what is asked for.

    A picture becomes the chart, and beside it a map for each height with the height in its name.
    """
    with progress("letting the mist rise", quiet=asked.as_json):
        fates, pours = _fates(case.sweep), _pours(case)
    asked.answer(
        fields=lambda: {
            "summits": rows_of(fates),
            "islands": _islands(case).drop(columns="geometry").to_dict("records"),
            "passes": [] if pours is None else rows_of(pours),
        },
        tell=lambda: _tell(fates, pours, count),
        layers=lambda: _layers(case, fates, pours),
        raster=(lambda: {_LEVELS: case.sweep.levels_m}, case.dem.grid),
        others={PICTURE: lambda path: _draw(case, path)},
    )


def _islands(case: MistCase) -> gpd.GeoDataFrame:
    return placed_islands(case.sweep, case.spot)


def _fates(sweep: terrain.MistSweep) -> gpd.GeoDataFrame:
    """What each summit does, with the name of the one that it joins in place of its row."""
    fates = sweep.summits
    names = dict(zip(fates.index, map(name_of, rows_of(fates)), strict=True))
    return fates.assign(joins=[names.get(label, "") for label in fates["joins"]])


def _pours(case: MistCase) -> gpd.GeoDataFrame | None:
    """The passes that the mist begins to pour over as it rises through the tops, lowest first."""
    if case.passes is None:
        return None
    lowest_m, *_, highest_m = case.wanted.tops_m
    within = case.passes["pours"] & case.passes["pours_at_m"].between(lowest_m, highest_m)
    return without_rows(case.passes[within]) if within.any() else None


def _tell(fates: gpd.GeoDataFrame, pours: gpd.GeoDataFrame | None, count: int) -> None:
    title = f"{count_of(len(fates), 'summit')} as the mist rises"
    table(title, _COLUMNS, rows_of(fates.head(count)))
    if pours is None:
        return
    for _, row in pours.head(_MOST_POURS).iterrows():
        line(sentence(describe_pass(row)))
    if len(pours) > _MOST_POURS:
        more = count_of(len(pours) - _MOST_POURS, "more pass", "more passes")
        line(f"And over {more} on the way.")


def _layers(
    case: MistCase, fates: gpd.GeoDataFrame, pours: gpd.GeoDataFrame | None
) -> dict[str, gpd.GeoDataFrame]:
    tops_m = [float(top) for top in case.sweep.tops_m]
    outlines = [case.outline(case.sweep.mist(top_m)).assign(top_m=top_m) for top_m in tops_m]
    tables = {"summits": fates, "islands": _islands(case), "mist": pd.concat(outlines)}
    return tables if pours is None else tables | {"passes": pours}


def _draw(case: MistCase, path: Path) -> None:
    from terrain.show.map.mist_maps import MistSeries

    title = case.area.name or "Rising mist"
    terrain.save_picture(terrain.sweep_figure(case.sweep, title=title), path)
    heights = dict(_heights(case))
    if not heights:
        return
    series = MistSeries(
        dem=case.dem,
        summits=case.sweep.summits,
        passes=case.passes,
        heights=list(heights.values()),
        trees_m=case.trees_m,
        hill=case.hill,
        spots=case.spots,
    )
    for top_m, figure in zip(heights, series.figures(title, (SPECK_NOTE,)), strict=True):
        file = path.with_name(f"{path.stem}-{top_m:04.0f}{path.suffix}")
        terrain.save_picture(figure, file)
        saved(file)


def _heights(case: MistCase) -> Iterator[tuple[float, RisenMist]]:
    """The heights at which there is mist and a summit that stands clear of it; says which not."""
    from terrain.show.map.mist_maps import RisenMist

    for top_m in map(float, case.sweep.tops_m):
        try:
            mist = case.sweep.mist(top_m)
            standing = terrain.islands(case.dem, mist, case.summits)
        except NoAnswer as error:
            aside(f"no map at {top_m:g} m: {error}")
            continue
        # every map has the same columns, though the spot itself may lie under this mist
        standing = case.with_straits_if_any(mist, standing)
        yield top_m, RisenMist(mist=mist, standing=standing, poured=case.poured_by(mist))
