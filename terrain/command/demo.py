"""`terrain demo`: the main job from start to end on an invented island."""

from __future__ import annotations

import datetime as dt
import filecmp
import os
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

import typer

import terrain
from terrain.command.area import hill_on
from terrain.command.area_file import open_area
from terrain.command.kit_asked import KitOptions
from terrain.command.report import line, progress, saved
from terrain.errors import TerrainError
from terrain.words.clocks import long_day
from terrain.words.figures import count_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from terrain.command.area import Area

_FILES: Final = ("area.toml", "upland.tif", "summits.geojson", "paths.geojson")
_DPI: Final = 150
_RESULTS: Final = ("mist.png", "vantages.png", "view.png", "vantages.gpkg", "plan.html")


def demo(
    folder: Path = typer.Argument(
        Path("terrain-demo"), help="Where to write; made if it is not there."
    ),
) -> None:
    """Do the whole job on an invented island: mist, vantages, the sunrise, the plan, pictures."""
    from terrain.command.vantages_report import tell_vantages
    from terrain.words.moments import best_moment

    _copy_data(folder)
    area = open_area([folder / "area.toml"])
    place, starts = area.hill_place(None), area.starts_of(None)
    day = area.day(None, place)
    with progress("the whole job on an invented island") as done:
        clear = area.country()
        dem, top_m = clear.dem, float(area.defaults["mist_top_m"])
        sea = terrain.level_mist(dem, top_m, levels=clear.levels_m)
        country, hill = clear.under(sea), hill_on(clear, place)
        summits = country.summits(names=area.summits)
        stands = terrain.islands(dem, sea, summits)
        done(0.3)
        found = terrain.find_vantages(
            country,
            hill,
            day=day,
            mist=sea,
            starts=starts,
            progress=lambda share: done(0.3 + 0.5 * share),
        )
        best = found.iloc[0]
        scene = terrain.Scene(country, hill)
        spot = terrain.Spot(lon_deg=best["lon_deg"], lat_deg=best["lat_deg"], name="vantage 1")
        answer = terrain.backlight(scene, terrain.look(scene, spot), day)
        small = terrain.small_scenes(country, spot, toward_deg=answer.view.azimuth_deg)
    stand = count_of(len(stands), "summit stands", "summits stand")
    line(f"{area.name}: {stand} above mist with its top at {sea.label}.")
    tell_vantages(found, f"{count_of(len(found), 'vantage')} for {hill.label} on {long_day(day)}")
    line(f"From the first of them {answer.reason}.")
    line(f"At its best: {best_moment(best)}.")
    line("")
    when = f"on {long_day(day)}"
    pictures: dict[str, Callable[[], Figure]] = {
        "mist.png": lambda: terrain.islands_map(dem, sea, stands, title=area.name),
        "vantages.png": lambda: terrain.vantages_map(
            dem,
            hill,
            found,
            when=when,
            mist=sea,
            starts=starts,
            named=area.all_named,
            views=terrain.small_views(clear, hill, found, mist=sea),
        ),
        "view.png": lambda: terrain.view_figure(
            scene, answer, summits=summits, small_scenes=small, dpi=_DPI
        ),
    }
    for name, drawn in pictures.items():
        with progress(f"drawing {name}"):
            terrain.save_picture(drawn(), folder / name, dpi=_DPI)
        saved(folder / name)
    terrain.save_layers({"vantages": found}, folder / "vantages.gpkg")
    saved(folder / "vantages.gpkg")
    with progress("the plan of the morning, for a phone") as done:
        _save_plan(
            country, area, spot, hill, day, area.spot(best["start"]), folder / "plan.html", done
        )
    saved(folder / "plan.html")
    _say_next(folder, f"{spot.lat_deg:.4f},{spot.lon_deg:.4f}")


def _save_plan(
    country: terrain.Country,
    area: Area,
    spot: terrain.Spot,
    hill: terrain.Hill,
    day: dt.date,
    start: terrain.Spot,
    file: Path,
    done: Callable[[float], None],
) -> None:
    """The sheet of a morning at a vantage, with the area's paths and kit."""
    paths = area.ways()
    plan = terrain.plan_morning(
        country,
        spot,
        hill,
        day,
        start=start,
        paths=paths,
        water=country.water,
        kit=KitOptions(lens=None, sensor=None).over(area),
        progress=lambda share: done(0.5 * share),
    )
    terrain.save_sheet(plan, file, paths=paths, progress=lambda share: done(0.5 + 0.5 * share))


def _copy_data(folder: Path) -> None:
    """Copy the demo's ground, from the installed package or from beside it in a checkout."""
    from terrain.show.files.whole import whole_file

    source = _source()
    _check_own(folder, source)
    for name in _FILES:
        with whole_file(folder / name) as partial:
            shutil.copyfile(source / name, partial)


def _source() -> Path:
    package = Path(__file__).resolve().parents[1]
    for data in (package / "data", package.parent / "data"):
        if (data / _FILES[1]).is_file():
            return data
    raise TerrainError("the demo's ground is missing from this installation: install terrain anew")


def _check_own(folder: Path, source: Path) -> None:
    """TerrainError where a file that would be written over is not the demo's own.

    Its results are its own where its area file lies beside them.
    """
    own = _is_same(folder / _FILES[0], source / _FILES[0])
    for name in (*_FILES, *_RESULTS):
        there = folder / name
        known = own if name in _RESULTS else _is_same(there, source / name)
        if os.path.lexists(there) and not known:
            raise TerrainError(
                f"cannot write the demo to {folder}: {there} is not the demo's own; "
                "give a folder of its own"
            )


def _is_same(there: Path, source: Path) -> bool:
    return there.is_file() and filecmp.cmp(there, source, shallow=False)


def _say_next(folder: Path, spot: str) -> None:
    area = str(folder / "area.toml")
    line("")
    line("Look at the pictures, open plan.html as on a phone, then try:")
    for words in (
        ("sunrise", area, "--spot", spot, "--date", "2026-10-25", "--save", f"{folder}/next.png"),
        ("dates", area, "--spot", spot),
        ("mist", area, "--mist-top", "200", "--save", f"{folder}/thin.png"),
    ):
        line(f"  {shlex.join(('terrain', *words))}")
    line("and the same with your own elevation raster in place of the area file.")
    line("Or by hand and eye, all of it on one page in your browser:")
    line(f"  terrain desk {area}")
