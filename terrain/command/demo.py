"""`terrain demo`: the main job from start to end on an invented island."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from terrain.errors import TerrainError

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

__all__ = ["demo", "demo_data"]

FILES: Final = ("area.toml", "upland.tif", "summits.geojson", "paths.geojson")


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write; made if it is not there.")] = Path(
        "terrain-demo"
    ),
) -> None:
    """Do the whole job on an invented island: mist, vantages, the sunrise, pictures of all."""
    from terrain.command.load import (
        area_of,
        day_of,
        ground_of,
        hill_of,
        hill_place,
        mist_of,
        starts_of,
    )
    from terrain.command.report import line, progress, saved, table
    from terrain.command.vantages import HEADINGS, NOTES, near_starts, subtitle, table_rows
    from terrain.country import Country
    from terrain.ground.places import Spot
    from terrain.ground.relief.summits import find_summits
    from terrain.mist.islands import islands
    from terrain.show.files.export import save_picture, save_table
    from terrain.show.map.map import MOST_SUMMITS, map_figure
    from terrain.show.paper.key import island_key
    from terrain.show.view.panorama import view_figure
    from terrain.vantage.find import find_vantages
    from terrain.view.backlight import backlight
    from terrain.view.scene import Scene, look

    _copy_data(folder)
    area = area_of([folder / "area.toml"])
    day = day_of(area, None)
    with progress("the whole job on an invented island") as done:
        dem = ground_of(area)
        hill = hill_of(dem, hill_place(area, None))
        sea = mist_of(area, dem, None)
        if sea is None:
            raise TerrainError("the demo's area file names no height of mist: install terrain anew")
        summits = find_summits(dem, names=area.summits)
        stands = islands(dem, sea, summits)
        done(0.3)
        found = find_vantages(
            dem,
            hill,
            day=day,
            mist=sea,
            starts=starts_of(area),
            progress=lambda share: done(0.3 + 0.5 * share),
        )
        best = found.iloc[0]
        scene = Scene(Country(dem, mist=sea), hill)
        spot = Spot(lon_deg=best["lon_deg"], lat_deg=best["lat_deg"], name="vantage 1")
        answer = backlight(scene, look(scene, spot), day)
    line(f"{area.name}: {len(stands)} summits stand above mist with its top at {sea.label}.")
    title = f"{len(found)} vantages for {hill.label} on {day:%A %d %B %Y}"
    table(title, HEADINGS, table_rows(found))
    line(f"From the first of them {answer.reason}.")
    line("")
    pictures: dict[str, Callable[[], Figure]] = {
        "mist.png": lambda: map_figure(
            dem,
            title=area.name,
            subtitle=f"Summits that stand above mist with its top at {sea.label}",
            mist=sea,
            summits=stands,
            key=island_key(stands.head(MOST_SUMMITS)),
        ),
        "vantages.png": lambda: map_figure(
            dem,
            title=f"{hill.label} at sunrise: where to stand",
            subtitle=subtitle(found, f"on {day:%A} {day.day} {day:%B %Y}", sea),
            mist=sea,
            hill=hill,
            vantages=found,
            starts=near_starts(area, found),
            notes=NOTES,
        ),
        "view.png": lambda: view_figure(scene, answer, summits=summits),
    }
    for name, draw in pictures.items():
        save_picture(draw(), folder / name)
        saved(folder / name)
    save_table(found, folder / "vantages.gpkg", layer="vantages")
    saved(folder / "vantages.gpkg")
    _say_next(folder, f"{spot.lat_deg:.4f},{spot.lon_deg:.4f}")


def demo_data() -> Path:
    """The folder of the demo's ground: in the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "data", package.parent / "data"):
        if (folder / "upland.tif").is_file():
            return folder
    raise TerrainError("the demo's ground is missing from this installation: install terrain anew")


def _copy_data(folder: Path) -> None:
    from terrain.show.files.export import whole_file

    for name in FILES:
        with whole_file(folder / name) as partial:
            shutil.copyfile(demo_data() / name, partial)


def _say_next(folder: Path, spot: str) -> None:
    from terrain.command.report import line

    area = folder / "area.toml"
    line("")
    line("Look at the pictures, then try:")
    line(f"  terrain sunrise {area} --spot {spot} --date 2026-10-25 --save {folder}/next.png")
    line(f"  terrain dates {area} --spot {spot}")
    line(f"  terrain mist {area} --mist-top 200 --save {folder}/thin.png")
    line("and the same with your own elevation raster in place of the area file.")
