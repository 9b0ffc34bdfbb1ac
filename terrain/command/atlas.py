"""`terrain atlas`: for every cell of a tile, the days of a year with the sun behind a hill."""

from __future__ import annotations

from typing import TYPE_CHECKING

import terrain
from terrain.command.area import hill_on
from terrain.command.days import NEXT, year_meant
from terrain.command.further import again
from terrain.command.mist_asked import MistOptions
from terrain.command.options import (
    Against,
    Asked,
    Evening,
    Farthest,
    HillPlace,
    Names,
    Within,
    Year,
    option,
)
from terrain.command.report import line, progress
from terrain.command.room import ATLAS
from terrain.command.saves import PICTURE, RASTER
from terrain.errors import NoAnswer

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def atlas(
    *,
    hill: HillPlace = None,
    year: Year = NEXT,
    mist: MistOptions,
    within: Within = 1.0,
    against: Against = None,
    nearest: float = option("KM", "Least distance to the summit, in the picture.", default=0.8),
    farthest: Farthest = 15.0,
    evening: Evening = False,
    names: Names = None,
    asked: Asked,
) -> None:
    """Map the days of a year on which the sun stands behind a hill or over it, for every cell.

    Saves a map whose colour is the date (.png, .jpg, .webp, .svg, .pdf), or every band (.tif).
    """
    asked.check_saves(PICTURE, RASTER)
    area = asked.area(names, ATLAS)
    over, place = mist.over(area), area.hill_place(hill)
    with progress("working out a year of every cell", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(place))
        done(0.3)
        summit = hill_on(country, place)
        done(0.5)
        found = terrain.backlight_atlas(
            country,
            summit,
            year_meant(year, place, evening=evening),
            tolerance_deg=within,
            against=against,
            evening=evening,
        )
        if not found.has_days.any():
            raise _no_day(country, found)
        left_out = found.left_out()
    note = left_out.sentence("the summit and behind it")
    about = {"hill": summit, "year": found.year, "event": found.event}
    hill_words = summit.name or f"{summit.lat_deg:.5f},{summit.lon_deg:.5f}"
    same = ["--hill", hill_words, "--year", year, *mist.words, *["--evening"] * evening]
    asked.answer(
        fields=lambda: {**about, **found.areas_km2(), "left_out": left_out},
        tell=lambda: _tell(found, note, again(asked, "vantages", names, *same)),
        picture=lambda: _map(country, found, note, (1000.0 * nearest, 1000.0 * farthest)),
        raster=(found.bands, found.grid),
    )


def _no_day(country: terrain.Country, found: terrain.Atlas) -> NoAnswer:
    """That no cell has a day, by how much the nearest misses, or what lets the hill be seen."""
    from terrain.sun.calendar import calendar_year
    from terrain.vantage.year import no_day
    from terrain.view.scene import lower_mist, lower_top_m

    if found.against is not None:
        return NoAnswer(
            f"on no day of {found.year} is {found.hill.label} seen against {found.against} with "
            "the sun by it: ask for another backdrop, or for any",
            loosen=[{"against": None}],
        )
    missed = no_day(found, found.sees, calendar_year(found.year))
    mist, clear_m = country.mist, lower_top_m(found.hill)
    loosen = [*missed.loosen]
    if mist is not None and mist.stated_top_m > clear_m:
        loosen += lower_mist(mist, clear_m, mist.stated_top_m - clear_m)
    return NoAnswer(str(missed), loosen=loosen)


def _tell(found: terrain.Atlas, note: str, further: str) -> None:
    areas = found.areas_km2()
    line(f"{found.hill.label}, {found.event} in {found.year}:")
    line(f"  its summit is seen from {areas['sees_km2']:.1f} km²,")
    line(f"  stands on the skyline from {areas['on_skyline_km2']:.1f} km²,")
    line(f"  with the sun behind it or over it on some day from {areas['backlit_km2']:.1f} km².")
    line(note)
    line("Next, what the best places see of it on each day:", further)


def _map(
    country: terrain.Country, found: terrain.Atlas, note: str, within_m: tuple[float, float]
) -> Figure:
    mist = country.mist
    over = "" if mist is None else f", mist up to {mist.label}"
    return terrain.atlas_figure(
        country.dem,
        found,
        title=f"{found.hill.label}: when the sun stands behind it or over it",
        subtitle=f"{found.event} in {found.year}{over}",
        notes=[note],
        mist=mist,
        within_m=within_m,
    )
