"""`terrain plan`: the timed plan of a morning or evening, on the screen and as a sheet."""

from __future__ import annotations

import datetime as dt
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import terrain
from terrain.command.ahead import load_ahead
from terrain.command.area import Area, hill_on, stand_on
from terrain.command.days import days_between, days_of_year
from terrain.command.further import again
from terrain.command.kit_asked import KitOptions
from terrain.command.mist_asked import MistOptions, trees_of
from terrain.command.options import (
    Asked,
    Day,
    Evening,
    FirstDay,
    HillPlace,
    Names,
    Trees,
    YearInstead,
    option,
)
from terrain.command.report import line, progress
from terrain.command.room import VANTAGES
from terrain.command.saves import CALENDAR
from terrain.errors import NoAnswer, TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.show.sheet.views import Views

_SHEET = (".html",)
_ROUTE = (".gpx",)
_EARTH = (".kml",)
_LAYERS = (".gpkg",)
_DRAWING = ("terrain.show.view.moment:prepare", "terrain.show.sheet.sheet")


@dataclass(frozen=True, kw_only=True)
class _Forecast:
    """What a command line can say of the air."""

    air: float | None = option("°C", "Temperature that the forecast gives.", least=-80.0, most=60.0)
    air_height: float = option(
        "M", "Height that this temperature is given for.", default=0.0, least=-500.0, most=9000.0
    )
    lapse: float = option(
        "°C",
        "Fall of temperature over 100 m of height; below 0 under an inversion.",
        default=0.65,
        least=-20.0,
        most=20.0,
    )
    wind: float = option(
        "KM/H", "Wind that the forecast gives.", least=0.0, most=400.0, default=0.0
    )

    def of_air(self) -> terrain.Air | None:
        """The forecast, where there is one."""
        if self.air is None:
            return None
        return terrain.Air(
            temperature_c=self.air,
            wind_kmh=self.wind,
            at_height_m=self.air_height,
            lapse_k_per_m=self.lapse / 100.0,
        )


def plan(
    *,
    start: str | None = option("PLACE", "Where the walk begins: LAT,LON or a name."),
    spot: str | None = option("PLACE", "Where the camera stands; the best vantage unless given."),
    hill: HillPlace = None,
    date: Day = None,
    year: YearInstead = None,
    first: FirstDay = None,
    last: str | None = option(
        "DAY", "The last day, as --date has it.", "--to", shown="twelve months in all"
    ),
    evening: Evening = False,
    mist: MistOptions,
    trees: Trees = "5:15",
    walk: float = option(
        "MIN", "Longest walk in, where no spot is given.", default=120.0, above=0.0, most=1440.0
    ),
    drive: float | None = option("MIN", "Minutes from home to the start.", least=0.0, most=2880.0),
    settle: float = option(
        "MIN", "Minutes in place before the good light.", least=0.0, most=720.0, default=10.0
    ),
    kit: KitOptions,
    forecast: _Forecast,
    names: Names = None,
    asked: Asked,
) -> None:
    """Plan a morning: when to leave, the walk in, the frame, the light, and what if not.

    With --year, or --from and --to, in place of --date, the best morning is planned and the other
    good ones are listed. With --evening, an evening, and the walk back in the dark. Saves a sheet
    for the phone (.html), the way (.gpx), the times with alarms (.ics), or the places for other
    maps (.kml, .gpkg).
    """
    from terrain.command.plan_report import plan_fields, tell_plan
    from terrain.plan.in_view import scenes_of
    from terrain.words.spot import moved

    asked.check_saves(_SHEET, _ROUTE, CALENDAR, _EARTH, _LAYERS)
    area = asked.area(names, VANTAGES)
    begin, place, over = _start(area, start), area.hill_place(hill), mist.over(area)
    among = _days(area, place, date, year, (first, last), evening=evening)
    day = among[0] if among[0] == among[1] else None
    bag, weather, paths = kit.over(area), forecast.of_air(), area.ways()
    trees_m = trees_of(trees)
    given = None if spot is None else area.spot(spot)
    if asked.saves_as(_SHEET):
        load_ahead(*_DRAWING)
    views: list[Views] = []
    scenes: list[Future[gpd.GeoDataFrame]] = []

    def begun(known: terrain.Plan) -> None:
        """Begin what the sheet shows of the spot, while it is worked out where to go instead."""
        if asked.saves_as(_SHEET):
            from terrain.show.sheet.views import begin_views

            views.append(begin_views(known))
            unless_planned.callback(views[0].close)
            scenes.append(views[0].threads.submit(scenes_of, known, trees_m=trees_m))

    words = f"planning the {'evening' if evening else 'morning'}"
    with ExitStack() as unless_planned, progress(words, quiet=asked.as_json) as done:
        country = area.country_under_sky(place)
        summit, water, sea = hill_on(country, place), country.water, over.of(country)
        if given is not None:
            camera = stand_on(country, area, given)
        else:
            try:
                camera, day = terrain.choose_vantage(
                    country,
                    summit,
                    begin,
                    among,
                    mist=sea,
                    access=terrain.Access(
                        within_min=walk, settle_min=settle, paths=paths, water=water
                    ),
                    evening=evening,
                    progress=lambda share: done(0.4 * share),
                )
            except NoAnswer as error:
                said = f"{error} (--walk allows more minutes, --spot any place)"
                raise NoAnswer(said, loosen=error.loosen) from error
        answer = terrain.plan_morning(
            country,
            camera,
            summit,
            day,
            start=begin,
            among=among if among[0] < among[1] else None,
            mist=sea,
            paths=paths,
            water=water,
            kit=bag,
            air=weather,
            drive=None if drive is None else dt.timedelta(minutes=drive),
            settle=dt.timedelta(minutes=settle),
            evening=evening,
            begun=begun,
            progress=lambda share: done(0.4 + 0.6 * share),
        )
        small = scenes.pop().result() if scenes else scenes_of(answer, trees_m=trees_m)
        unless_planned.pop_all()

    def draw_sheet(path: Path) -> None:
        ready = views.pop() if views else None
        terrain.save_sheet(answer, path, views=ready, paths=paths, trees_m=trees_m)

    def tell() -> None:
        at = [*("--spot", f"{camera.lat_deg:.5f},{camera.lon_deg:.5f}")]
        of = ["--hill", place.name or f"{place.lat_deg:.5f},{place.lon_deg:.5f}"]
        late = [*mist.words, *["--evening"] * evening]
        late += [] if year is None else ["--year", year]
        tell_plan(answer, small, again(asked, "dates", names, *at, *of, *late))
        line(*(moved(given, camera) if given is not None else []))

    asked.answer(
        fields=lambda: plan_fields(answer, small),
        tell=tell,
        others={
            _SHEET: draw_sheet,
            _ROUTE: lambda path: terrain.save_gpx(answer, path),
            CALENDAR: lambda path: terrain.save_calendar(answer, path),
            _EARTH: lambda path: terrain.save_kml(answer, path),
            _LAYERS: lambda path: terrain.save_plan_table(answer, path),
        },
    )


def _days(
    area: Area,
    place: terrain.Spot,
    date: str | None,
    year: str | None,
    ends: tuple[str | None, str | None],
    *,
    evening: bool,
) -> tuple[dt.date, dt.date]:
    """The first and the last of the days to choose the best of; the same where one is meant."""
    spans = [date is not None, year is not None, any(end is not None for end in ends)]
    if sum(spans) > 1:
        raise TerrainError("--date, --year, and --from with --to exclude each other: give one")
    if year is not None:
        return days_of_year(year, place, evening=evening)
    if spans[-1]:
        return days_between(*ends, place, evening=evening)
    day = area.day(date, place, evening=evening)
    return day, day


def _start(area: Area, text: str | None) -> terrain.Spot:
    if text is not None:
        return area.spot(text)
    if len(area.starts) == 1:
        return next(iter(area.starts.values()))
    known = f"; the area file knows {', '.join(area.starts)}" if area.starts else ""
    raise TerrainError(f"no start was given: add --start with a place{known}")
