"""`terrain survey`: every hill, vantage and date of a country, tile by tile."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

import terrain
from terrain.command import options
from terrain.command.area import Area
from terrain.command.columns import against, metres, score, stands
from terrain.command.days import days_between
from terrain.command.fetched import ground_for
from terrain.command.mist_asked import top_option, tops_of
from terrain.command.options import option
from terrain.command.report import aside, line
from terrain.command.room import SURVEY
from terrain.command.summits import columns_of
from terrain.command.survey_used import check_saved, check_used, end_of_raster, ends_of
from terrain.command.tables import Column, table
from terrain.errors import TerrainError
from terrain.words.clocks import hour_minute
from terrain.words.figures import count_of, first_of
from terrain.words.records import rows_of
from terrain.words.surveys import failed_lines, standing_words, summary

if TYPE_CHECKING:
    from terrain.surveying.survey import Survey
    from terrain.surveying.tasks import Standing

_SAID_EVERY_S: Final = 10.0
_MAP_CELLS: Final = 1_000_000
_RASTERS: Final[Mapping[str, str]] = {"light": "LightOfDay", "atlas": "HillsOfDay"}
"""What is worked out as rasters, and the public name of what does it."""


def _columns() -> tuple[Column, ...]:
    return (
        Column(
            "day", lambda row: f"{row['day']:%a} {row['day'].day} {row['day']:%b %Y}", left=True
        ),
        Column("hill", lambda row: row["hill"], left=True),
        stands("stand at", left=True),
        metres("height m", "height_m"),
        metres("above mist m", "freeboard_m"),
        Column("sun", lambda row: _clock(row), left=True),
        against(),
        metres("prominence m", "prominence_m"),
        score(),
    )


def survey(
    given: typer.Context,
    *,
    first: options.FirstDay = None,
    last: str | None = option(
        "DAY", "The last day, as --date has it.", "--to", shown="twelve months in all"
    ),
    what: str = option(
        "WHAT",
        "What is worked out: vantages of all hills, the summits alone, or a raster of the first "
        "day: its light, or an atlas of the hills that the sun comes over.",
        default="vantages",
    ),
    ends: str | None = option(
        "WHICH",
        "Both ends of the day, mornings, or evenings.",
        shown="both, and mornings for a raster",
    ),
    mist_top: str | None = top_option("where it is not known for sure."),
    within: options.Within = 1.0,
    prominence: options.Prominence = 30.0,
    farthest: options.Farthest = 15.0,
    per_hill: int = option(
        "N",
        "Vantages of a hill at each end of the day.",
        "--per-hill",
        default=5,
        least=1,
        most=1000,
    ),
    names: options.Names = None,
    count: options.Count = 20,
    show: bool = typer.Option(
        False, "--show", help="Draw the best hills of each month, as survey.png in the folder."
    ),
    tile: float | None = option(
        "KM", "Side of the tiles.", shown="4 million cells", above=0.0, most=2000.0
    ),
    workers: int | None = option(
        "N", "Workers of this machine.", shown="by cores and memory", least=1, most=1024
    ),
    scheduler: str | None = option("ADDRESS", "A running cluster: tcp://HOST:PORT."),
    dashboard: bool = typer.Option(
        False, "--dashboard", help="Serve pages about the work, and print their address."
    ),
    asked: options.Asked,
) -> None:
    """Find every hill, vantage and date of a country, tile by tile, and rank them.

    A --save without an ending names the folder in which all is kept; the same command goes on from
    what is there. Saves the ranked table too (.gpkg, .geojson, .csv), and the picture of the best
    hills by month (.png, .jpg, .webp, .svg, .pdf).
    """
    folder, asked = _folder_of(asked)
    check_used(given, what)
    check_saved(asked, what)
    if asked.cell is not None:
        raise TerrainError("a survey reads the raster's own cells: leave out --cell")
    area = asked.area(names, SURVEY)
    reach_m = None if asked.reach is None else 1000.0 * asked.reach
    run = {
        "ground": ground_for(area, None)[0],
        "save": folder,
        "names": area.summits,
        "tile_m": None if tile is None else 1000.0 * tile,
        "workers": terrain.Workers(
            scheduler=scheduler,
            count=workers,
            memory_gb=asked.memory,
            dashboard=dashboard,
            told=lambda address: aside(f"the work is shown at {address}"),
        ),
        **area.said,
    }
    if what in _RASTERS:
        of_day, evening = getattr(terrain, _RASTERS[what]), end_of_raster(ends)
        work = of_day(day=_days(area, first, None)[0], evening=evening)
        _rasters(asked, work, what, prominence_m=prominence, reach_m=reach_m, **run)
        return
    with _told(quiet=asked.as_json) as tell:
        if what == "summits":
            found = terrain.survey_summits(**run, prominence_m=prominence, progress=tell)
        else:
            question = terrain.SurveyQuestion(
                days=_days(area, first, last),
                ends=ends_of(ends),
                tops_m=_tops(area, mist_top),
                limits=terrain.Limits(tolerance_deg=within, max_distance_m=1000.0 * farthest),
                count=per_hill,
                prominence_m=prominence,
                reach_m=reach_m,
            )
            found = terrain.survey(**run, question=question, progress=tell)
    files, said = run["ground"], area.said
    _answer(asked, found, what, count, show, ground=lambda: _coarse(files, said))
    _say_failed(found)


def _rasters(
    asked: options.Asked, work: Any, name: str, *, reach_m: float | None, **run: Any
) -> None:
    """Work out rasters of the whole, and say where they are."""
    margin: dict[str, Any] = {} if reach_m is None else {"margin_m": reach_m}
    with _told(quiet=asked.as_json) as tell:
        found = terrain.survey_rasters(**run, **margin, work=work, name=name, progress=tell)
    asked.answer(
        fields=lambda: {"mosaic": str(found.mosaic), "tiles": found.tiles},
        tell=lambda: line(f"{found.mosaic} names the rasters of {count_of(found.tiles, 'tile')}"),
    )
    _say_failed(found)


def _say_failed(found: Any) -> None:
    """Name the tiles that failed, if any; TerrainError then."""
    for words in failed_lines(found.failures):
        aside(words)
    if found.failures:
        raise TerrainError(
            f"{len(found.failures)} of {count_of(found.tiles, 'tile')} failed; the rest is whole, "
            "and the same command tries these again"
        )


def _coarse(files: list[Path], said: Mapping[str, Any]) -> terrain.Dem | None:
    """The whole country in few cells, for a map; None where it fits on no plane."""
    with suppress(TerrainError):
        return terrain.read_dem(files, most_cells=_MAP_CELLS, **said)
    return None


def _answer(
    asked: options.Asked,
    found: Survey,
    what: str,
    count: int,
    show: bool,
    ground: Callable[[], terrain.Dem | None],
) -> None:
    every = found.table if what == "vantages" else found.summits
    shown = every.head(count)

    def tell() -> None:
        best, columns = "best", _columns()
        if what == "summits":
            best, columns = "highest", columns_of(shown)
        if len(shown):
            title = f"{count_of(len(every), what[:-1])}{first_of(len(every), count, best)}"
            table(title, columns, rows_of(shown), numbered=True)
        line(summary(found))

    more = [found.folder / "survey.png"] if show else []
    replace(asked, save=[*(asked.save or []), *more]).answer(
        fields=lambda: rows_of(every),
        tell=tell,
        picture=lambda: terrain.survey_figure(found.table, summits=found.summits, ground=ground()),
        layers=lambda: found.tables,
    )


def _folder_of(asked: options.Asked) -> tuple[Path, options.Asked]:
    """The folder among what is to be saved, and the question without it."""
    folders = [path for path in asked.save or [] if not path.suffix or path.is_dir()]
    if len(folders) != 1:
        raise TerrainError(
            "a survey is kept in a folder: name one, and one alone, with --save FOLDER"
        )
    folder = folders[0]
    if folder.exists() and not folder.is_dir():
        raise TerrainError(f"cannot keep a survey in {folder}: it is a file")
    rest = [path for path in asked.save or [] if path != folder]
    return folder, replace(asked, save=rest)


def _days(area: Area, first: str | None, last: str | None) -> tuple[dt.date, dt.date]:
    from terrain.ground.raster.read import grid_of
    from terrain.ground.raster.sheet import Said

    lon_deg, lat_deg = grid_of(ground_for(area, None)[0], Said(**area.said)).centre_lonlat
    return days_between(first, last, terrain.Spot(lon_deg=lon_deg, lat_deg=lat_deg))


def _tops(area: Area, mist_top: str | None) -> tuple[float, ...]:
    top = area.defaults.get("mist_top_m") if mist_top is None else mist_top
    return () if top is None else tops_of(str(top))


def _clock(row: Mapping[str, Any]) -> str:
    """When the sun appears by the clock of the place, or in the evening is gone."""
    moment = dt.datetime.fromisoformat(row["appears_clock"])
    return f"{hour_minute(moment)} {'gone' if row['evening'] else 'up'}"


@contextmanager
def _told(*, quiet: bool) -> Iterator[Callable[[Standing], None]]:
    """Say on stderr how the work stands: in one line that changes, or now and then in a new one.

    Where it is stopped, what is done and how to go on is said last.
    """
    from terrain.command.standing_line import StandingLine

    with StandingLine(quiet=quiet, every_s=_SAID_EVERY_S) as shown:
        try:
            yield shown.tell
        except KeyboardInterrupt:
            if shown.last is not None:
                words = standing_words(replace(shown.last, left_s=None))
                aside(f"{words}; the same command goes on from there")
            raise
