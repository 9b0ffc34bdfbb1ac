"""`terrain dates`: on which days of a year the sun is behind the hill, from one spot."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

import terrain
from terrain.command.area import hill_on, stand_on
from terrain.command.columns import against, best, to_side
from terrain.command.days import NEXT, days_of_year
from terrain.command.further import again
from terrain.command.loosened import to_type
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Evening, HillPlace, Names, SpotPlace, Within, Year
from terrain.command.report import line, progress
from terrain.command.room import ONE_SPOT
from terrain.command.saves import TABLE
from terrain.command.tables import Column, table
from terrain.errors import NoAnswer
from terrain.words.clocks import moment_plus_minus, short_day
from terrain.words.figures import count_of

if TYPE_CHECKING:
    import pandas as pd

_NEAR_DEG: Final = 3.0
"""A sun that passes farther off makes another picture (no source)."""


def _columns(evening: bool) -> tuple[Column, ...]:
    return (
        Column(_part(evening), lambda row: f"{row['day']:%a %d %b %Y}"),
        Column(
            "sun gone" if evening else "sun appears",
            lambda row: moment_plus_minus(row["appears"], row["uncertainty_s"]),
        ),
        to_side("from summit"),
        Column("", lambda row: f"± {row['uncertainty_deg']:.2f}°"),
        best(),
        against(),
    )


def dates(
    *,
    spot: SpotPlace,
    hill: HillPlace = None,
    year: Year = NEXT,
    evening: Evening = False,
    within: Within = 1.0,
    mist: MistOptions,
    names: Names = None,
    asked: Asked,
) -> None:
    """List the mornings of a year on which the sun appears behind the hill or stands over it.

    With --evening, the evenings on which the last of it goes down there, or it stood there before.
    Saves the table (.gpkg, .geojson, .csv), its points where the camera stands.
    """
    from terrain.ground.tables import at_spot
    from terrain.sun.calendar import span_label
    from terrain.words.spot import moved

    asked.check_saves(TABLE)
    area = asked.area(names, ONE_SPOT)
    place, over, given = area.hill_place(hill), mist.over(area), area.spot(spot)
    among = days_of_year(year, given)
    wanted = span_label(among)
    part = _part(evening)
    with progress("going through the year", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given, only_there=True))
        camera = stand_on(country, area, given)
        summit = hill_on(country, place)
        dates_within = partial(
            terrain.backlit_dates,
            country,
            camera,
            summit,
            among,
            evening=evening,
            progress=done,
        )
        found = dates_within(tolerance_deg=within)
        if found.empty:
            hill_words = summit.name or f"{summit.lat_deg:.5f},{summit.lon_deg:.5f}"
            same = ["--hill", hill_words, "--year", year, *mist.words, *["--evening"] * evening]
            elsewhere = again(asked, "vantages", names, *same).strip()
            said = f"on no {part} of {wanted}"
            raise _none_within(dates_within, within, (said, summit.label, spot), found, elsewhere)
    rows = found.to_dict("records")

    def tell() -> None:
        days = count_of(len(found), part)
        title = f"{days} of {wanted} with the sun behind {summit.label} or over it"
        table(title, _columns(evening), rows)
        line(*moved(given, camera))

    asked.answer(fields=lambda: rows, tell=tell, layers=lambda: {"dates": at_spot(found, camera)})


def _none_within(
    dates_within: Callable[..., pd.DataFrame],
    within_deg: float,
    names: tuple[str, str, str],
    found: pd.DataFrame,
    elsewhere: str,
) -> NoAnswer:
    """That there is no day, with the nearest miss: a sun farther off, or places elsewhere.

    names: what there is none of, the hill and the spot. found: the answer without a row. elsewhere:
    the command that asks for other places.
    """
    none, hill, spot = names
    if found.attrs["hidden_by"]:
        return NoAnswer(to_type(f"{none} from {spot}: {found.attrs['hidden_by']}", elsewhere))
    said = f"{none} does the sun come within {within_deg:g}° of {hill} from {spot}"
    wider = dates_within(tolerance_deg=_NEAR_DEG) if within_deg < _NEAR_DEG else found
    if not wider.empty:
        closest = wider.sort_values("best_deg").iloc[0]
        return NoAnswer(
            f"{said}: the closest misses by {closest['best_deg']:.2f}°, on "
            f"{short_day(closest['day'])}",
            loosen=[{"tolerance_deg": math.ceil(100.0 * closest["best_deg"]) / 100.0}],
        )
    unknown = found.attrs["ground_unknown"]
    if unknown:
        said = f"{said}; on {count_of(len(unknown), 'day')} the ground toward the sun is not known"
    return NoAnswer(to_type(f"{said}, nor within {_NEAR_DEG:g}°", elsewhere))


def _part(evening: bool) -> str:
    """Of the day."""
    return "evening" if evening else "morning"
