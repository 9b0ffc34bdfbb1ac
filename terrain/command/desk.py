"""`terrain desk`: the whole job on one page, in the browser of this machine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from terrain.command.area import stand_on
from terrain.command.days import days_of_year
from terrain.command.kit_asked import KitOptions
from terrain.command.options import Day, Evening, Ground, HillPlace, Names, option
from terrain.command.report import line
from terrain.command.room import MIST

if TYPE_CHECKING:
    from collections.abc import Callable

    from terrain.desk.table import Ground as DeskGround
    from terrain.desk.table import Table


def desk(
    *,
    hill: HillPlace = None,
    date: Day = None,
    evening: Evening = False,
    spot: str | None = option("PLACE", "Where the camera stands at first: LAT,LON or a name."),
    survey: Path | None = option(
        "FOLDER", "Show the best rows of the survey that is kept there, to go to each by a click."
    ),
    kit: KitOptions,
    port: int | None = option(
        "N", "The port that the page is served at.", shown="a free one", least=1, most=65535
    ),
    browser: bool = typer.Option(
        True, "--browser/--no-browser", help="Open the page, or print its address only."
    ),
    names: Names = None,
    ground: Ground,
) -> None:
    """Open a page where the whole job is done by hand and eye: mist, light, view, hill, days.

    It is served to this machine alone, and nothing leaves it. Ctrl-C ends it.
    """
    from terrain.desk.serve import serve

    area = ground.area(names, replace(MIST, near=False))
    surveyed = None
    if survey is not None:
        from terrain.surveying.kept import read_survey

        surveyed = read_survey(survey)

    def lay(show: Callable[[DeskGround], None]) -> Table:
        from terrain.desk.table import Opening
        from terrain.desk.table import lay as lay_table

        return lay_table(
            Opening(
                tract=area,
                kit=lambda: kit.over(area),
                stand_on=lambda country, place: stand_on(country, area, place),
                days_of_year=lambda year, place, late: days_of_year(year, place, evening=late),
                hill=hill,
                date=date,
                spot=spot,
                evening=evening,
                survey=surveyed,
            ),
            show,
        )

    serve(lay, port=port, browser=browser, say=lambda address: line(f"The desk is at {address}"))
