"""`terrain dates`: on which days of a year the sun is behind the hill, from one spot."""

from __future__ import annotations

import datetime as dt

import terrain
from terrain.command.area import hill_on, stand_on
from terrain.command.columns import against, best, to_side
from terrain.command.days import NEXT, days_of_year
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Evening, HillPlace, Names, SpotPlace, Within, Year
from terrain.command.report import line, progress
from terrain.command.room import ONE_SPOT
from terrain.command.saves import TABLE
from terrain.command.tables import Column, table
from terrain.errors import NoAnswer
from terrain.words.clocks import moment_plus_minus
from terrain.words.figures import count_of


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
    with progress("going through the year", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given, only_there=True))
        camera = stand_on(country, area, given)
        summit = hill_on(country, place)
        found = terrain.backlit_dates(
            country,
            camera,
            summit,
            among,
            tolerance_deg=within,
            evening=evening,
            progress=done,
        )
    part = _part(evening)
    if found.empty:
        before = found.attrs["hidden_by"]
        if before:
            raise NoAnswer(f"on no {part} of {wanted} from {spot}: {before}")
        raise NoAnswer(
            f"on no {part} of {wanted} does the sun come within {within:g}° of "
            f"{summit.label} from {spot}{_unknown(found.attrs['ground_unknown'], part)}"
        )
    rows = found.to_dict("records")

    def tell() -> None:
        days = count_of(len(found), part)
        title = f"{days} of {wanted} with the sun behind {summit.label} or over it"
        table(title, _columns(evening), rows)
        line(*moved(given, camera))

    asked.answer(fields=lambda: rows, tell=tell, layers=lambda: {"dates": at_spot(found, camera)})


def _part(evening: bool) -> str:
    """Of the day."""
    return "evening" if evening else "morning"


def _unknown(days: list[dt.date], part: str) -> str:
    """On how many mornings or evenings nobody knows, for a reason why there is none."""
    if not days:
        return ""
    return f"; on {count_of(len(days), part)} the ground toward the sun is not known"
