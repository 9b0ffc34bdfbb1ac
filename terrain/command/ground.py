"""`terrain ground`: open elevation for a place, once, and what files of ground hold."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

import terrain
from terrain.command.fetched import bring, is_source
from terrain.command.options import option
from terrain.command.place_names import place_at
from terrain.command.report import print_json, saved
from terrain.command.saves import PICTURE, RASTER, check_not_in_use, check_writable
from terrain.command.tables import pairs
from terrain.errors import TerrainError
from terrain.words.figures import count_of
from terrain.words.records import picked

if TYPE_CHECKING:
    from terrain.fetch.bring import Brought
    from terrain.ground.places import Spot

_REACH_KM: Final = 60.0
_SUNWARD_KM: Final = 100.0


def ground(
    *,
    place: str = typer.Argument(..., metavar="PLACE", help="The place: LAT,LON."),
    source: str = option(
        "NAME",
        "copernicus-30, copernicus-90, skadi, an address of tiles of a degree with {ns}, {lat}, "
        "{ew} and {lon} for the corner, a folder of rasters, or stac:https://HOST/PATH#COLLECTION.",
        default="copernicus-30",
    ),
    reach: float = option(
        "KM", "How far round the place.", default=_REACH_KM, above=0.0, most=500.0
    ),
    sunward: float = option(
        "KM",
        "How far toward sunrise and sunset of any day of the year.",
        default=_SUNWARD_KM,
        least=0.0,
        most=500.0,
    ),
    yes: bool = typer.Option(False, "--yes", help="Fetch more than 200 MB without asking."),
    offline: bool = typer.Option(False, "--offline", help="Fetch nothing: what is in the cache."),
    check: list[Path] | None = option(
        "FILE",
        "Fetch nothing: say what these rasters hold about the place, or what of a source is in the "
        "cache, and which tiles would add to it. May be given more than once.",
        shown=False,
    ),
    save: list[Path] | None = option(
        "FILE", "Write the ground as one raster (.tif); with --check a picture.", shown=False
    ),
    as_json: bool = typer.Option(False, "--json", help="Print JSON for scripts, and nothing else."),
) -> None:
    """Bring open elevation for a place into the cache, once; --save makes it one raster."""
    spot = place_at(place)
    if spot is None:
        raise TerrainError(f"{place[:60]} is not a place: give LAT,LON in degrees")
    _check_saves(save or [], PICTURE if check else RASTER)
    if check:
        _tell_check(check, spot, (1000.0 * reach, 1000.0 * sunward), save or [], as_json=as_json)
        return
    brought = bring(
        source,
        spot,
        yes=yes,
        reach_m=1000.0 * reach,
        sunward_m=1000.0 * sunward,
        offline=offline,
    )
    check_not_in_use(save or [], brought.files)
    if as_json:
        said = {part.name: getattr(brought, part.name) for part in fields(brought)}
        print_json(said | {"files": [str(file) for file in brought.files]})
    else:
        pairs(f"ground about {spot.lat_deg:.4f}, {spot.lon_deg:.4f}", _told(brought))
    for path in save or []:
        _save(brought, spot, 1000.0 * max(reach, sunward), path)
        saved(path)


def _check_saves(save: list[Path], kinds: tuple[str, ...]) -> None:
    for path in save:
        if path.suffix.lower() not in kinds:
            raise TerrainError(f"cannot save as {path}: the name must end in {', '.join(kinds)}")
        check_writable(path)


def _tell_check(
    files: list[Path], spot: Spot, far_m: tuple[float, float], save: list[Path], *, as_json: bool
) -> None:
    from terrain.command.ground_report import tell_check

    check_not_in_use(save, files)
    far: Any = {"reach_m": far_m[0], "sunward_m": far_m[1]}
    held: list[Path] = []
    for file in files:
        held += bring(str(file), spot, offline=True, **far).files if is_source(file) else [file]
    found = terrain.check_ground(held, spot, **far)
    if as_json:
        print_json(
            picked(found, "files", "void_share", "missing", "doubts")
            | {
                name: getattr(found, name).tolist()
                for name in ("azimuth_deg", "known_m", "month_azimuth_deg", "sunrise_m", "sunset_m")
            }
        )
    else:
        tell_check(found)
    for path in save:
        terrain.save_picture(terrain.coverage_figure(found), path)
        saved(path)


def _told(brought: Brought) -> list[tuple[str, str]]:
    files = len(brought.files) - len(brought.sea)
    rows = [
        ("source", brought.source),
        ("tiles", f"{count_of(files, 'tile')} of land, in {brought.files[0].parent}"),
        ("fetched now", f"{brought.fetched_bytes / 1e6:.1f} MB"),
        ("heights above", brought.datum),
        ("model of", brought.model),
        ("sea, 0 m", ", ".join(brought.sea)),
        ("coarser", ", ".join(brought.coarser)),
        ("unknown", ", ".join(brought.unknown)),
        ("credit", brought.credit),
        ("licence", ", ".join(brought.licences)),
    ]
    return [(what, said) for what, said in rows if said]


def _save(brought: Brought, around: Spot, reach_m: float, path: Path) -> None:
    from terrain.ground.raster.delivered import read_delivered

    dem = read_delivered(brought.files, around, reach_m)
    says = {
        "TIFFTAG_COPYRIGHT": brought.credit,
        "SOURCE": brought.source,
        "LICENCE": ", ".join(brought.licences),
        "MODEL": brought.model,
    }
    terrain.save_raster(
        {"height (m)": dem.heights_m},
        dem.grid,
        path,
        says={key: said for key, said in says.items() if said},
        vertical_crs=brought.vertical,
    )
