"""`terrain hills`: which hills of the whole tile have the low sun behind them on one day."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import terrain
from terrain.command import options
from terrain.command.area import middle_of, none_so_prominent
from terrain.command.columns import against as backdrop
from terrain.command.columns import (
    appears,
    best,
    kilometres,
    metres,
    score,
    stands,
    to_side,
)
from terrain.command.mist_asked import MistOptions
from terrain.command.report import line, progress
from terrain.command.room import HILLS
from terrain.command.saves import TABLE
from terrain.command.tables import Column, table
from terrain.command.walk_asked import WalkOptions
from terrain.command.wanted import MistShare
from terrain.errors import NoAnswer
from terrain.words.clocks import long_day
from terrain.words.figures import count_of, place
from terrain.words.records import rows_of

if TYPE_CHECKING:
    import geopandas as gpd

_PROMINENCE_M: Final = 30.0


def _columns(found: gpd.GeoDataFrame, evening: bool) -> tuple[Column, ...]:
    return (
        Column(
            "hill",
            lambda row: row["hill"] or place(row["hill_lat_deg"], row["hill_lon_deg"]),
            True,
        ),
        metres("hill m", "hill_height_m"),
        stands("stand at", left=True),
        metres("height m", "height_m"),
        metres("above mist m", "freeboard_m"),
        kilometres("apart km", "distance_m"),
        appears(found, "sun gone" if evening else "sun appears"),
        to_side("from summit"),
        best(),
        backdrop(),
        kilometres("known km", "known_to_m"),
        score(),
    )


@contextmanager
def _more(prominence_m: float) -> Iterator[None]:
    """Where no hill answers, and nothing else is to be loosened, let lesser ones be asked for."""
    try:
        yield
    except NoAnswer as error:
        lesser = [{"min_prominence_m": _PROMINENCE_M}] if prominence_m > _PROMINENCE_M else []
        raise NoAnswer(str(error), loosen=error.loosen or lesser) from error


def hills(
    *,
    date: options.Day = None,
    mist: MistOptions,
    within: options.Within = 1.0,
    prominence: options.Prominence = _PROMINENCE_M,
    against: options.Against = None,
    mist_share: MistShare = 0.05,
    walks: WalkOptions,
    farthest: options.Farthest = 15.0,
    near: options.Near = None,
    evening: options.Evening = False,
    names: options.Names = None,
    count: options.Count = 15,
    asked: options.Asked,
) -> None:
    """For one morning, or evening, rank hills and the places to see them from with the sun behind.

    Every summit is considered, and all ground opposite to the sun, whether the hill stands on its
    skyline or against ground or mist, as the sun appears or a little later. Saves the table (.gpkg,
    .geojson, .csv).
    """
    from terrain.words.vantages import unknown_lines

    asked.check_saves(TABLE)
    wanted: Any = against and against.lower()
    limits = terrain.Limits(
        tolerance_deg=within,
        max_distance_m=1000.0 * farthest,
        against=wanted,
        mist_share=mist_share,
    )
    area = asked.area(names, HILLS)
    over, around = mist.over(area), None if near is None else area.spot(near)
    begins = walks.starts(area)
    with progress("taking the sun round the tile", quiet=asked.as_json) as done, _more(prominence):
        country = over.laid_on(area.country(around))
        day = area.day(date, around or middle_of(country), evening=evening)
        summits = country.summits(min_prominence_m=prominence, names=area.summits)
        if summits.empty:
            raise none_so_prominent(country, prominence)
        found = terrain.backlit_pairs(
            country,
            summits,
            day,
            starts=begins,
            access=walks.access(area, country),
            limits=limits,
            count=count,
            evening=evening,
            progress=done,
        )

    def tell() -> None:
        when = f"the evening of {long_day(day)}" if evening else long_day(day)
        them = "it" if len(found) == 1 else "them"
        title = f"{count_of(len(found), 'hill')} with the sun behind {them} on {when}"
        table(title, _columns(found, evening), rows_of(found), numbered=True)
        line(*unknown_lines(found))
        line(found.attrs["left_out"].sentence("the summits and behind them"))

    asked.answer(fields=lambda: rows_of(found), tell=tell, layers=lambda: {"hills": found})
