"""The arguments and options that the commands share, each written once."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

import typer

import terrain
from terrain.command.area import Area
from terrain.command.area_file import check_here, open_area
from terrain.command.bounds import UNITS, Bounds
from terrain.command.report import print_json, progress, saved
from terrain.command.room import Room, Work
from terrain.command.saves import (
    PICTURE,
    RASTER,
    TABLE,
    Endings,
    Writer,
    check_not_in_use,
    check_writable,
)
from terrain.command.tables import Telling, told
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd
    from matplotlib.figure import Figure


def option(
    metavar: str,
    text: str,
    *spellings: str,
    default: Any = None,
    shown: bool | str = True,
    least: float = -math.inf,
    most: float = math.inf,
    above: float | None = None,
) -> Any:
    """An option: what it takes, what it says in the help, and how it is written.

    default: its value where it is not given, `...` where it must be given. shown: what the help
    says of its default. least, most: what a number may be; above: what it must be more than.
    """
    bounds = Bounds(
        least=least if above is None else above,
        most=most,
        above=above is not None,
        unit=UNITS.get(metavar, ""),
    )
    return typer.Option(
        default,
        *spellings,
        metavar=metavar,
        help=text,
        show_default=shown,
        callback=_checked(bounds),
    )


def _checked(bounds: Bounds) -> Callable[[typer.CallbackParam, Any], Any]:
    def check(param: typer.CallbackParam, value: Any) -> Any:
        if isinstance(value, int | float) and not isinstance(value, bool):
            bounds.check(max(param.opts, key=len), value)
        return value

    return check


# in a type, an option leaves its default to each parameter of that type
_shared = functools.partial(option, default=...)

Names = Annotated[
    Path | None,
    typer.Option(help="Named summits and places: GeoJSON, GeoPackage, or CSV (name, lat, lon)."),
]
Near = Annotated[str | None, _shared("PLACE", "Only round this place, within the reach.")]
SpotPlace = Annotated[str, _shared("PLACE", "Where the camera stands: LAT,LON or a name.")]
HillPlace = Annotated[
    str | None, _shared("PLACE", "The hill: its name, or LAT,LON near its summit.")
]
Day = Annotated[
    str | None,
    _shared(
        "DAY",
        "The date at the place: YYYY-MM-DD, today, tomorrow, or a weekday such as saturday or sat: "
        "the next one, today counts.",
        shown="that of the area, or the next morning that is not past",
    ),
]
_YEAR = _shared(
    "YEAR",
    "A calendar year at the place, or next: the twelve months from the next morning on.",
    "--year",
)
Year = Annotated[str, _YEAR]
YearInstead = Annotated[str | None, _YEAR]
FirstDay = Annotated[
    str | None,
    _shared("DAY", "The first day, as --date has it.", "--from", shown="the next morning"),
]
Evening = Annotated[bool, typer.Option("--evening", help="Sunset in place of sunrise.")]
Hollow = Annotated[
    float | None,
    _shared(
        "M",
        "Level mist wells up by itself in closed hollows deeper than this; shallower ones "
        "are as often faults of the raster.",
        shown="10",
        least=0.0,
        most=9000.0,
    ),
]
Trees = Annotated[
    str,
    _shared(
        "LOW:HIGH",
        "How high trees are, metres: in mist as deep as that their tops stand out of it.",
        "--trees",
    ),
]
Against = Annotated[
    str | None,
    _shared(
        "WHAT", "What the summit is to be seen against: sky, mist or ground; any if not given."
    ),
]
Within = Annotated[
    float,
    _shared("DEG", "How far from the summit the sun may be at its best.", above=0.0, most=90.0),
]
Farthest = Annotated[
    float, _shared("KM", "Greatest distance to the summit.", above=0.0, most=500.0)
]
Prominence = Annotated[
    float,
    _shared(
        "M",
        "Least prominence of the summits that count, metres: how far each stands above the "
        "lowest way to a higher one.",
        above=0.0,
        most=9000.0,
    ),
]
Count = Annotated[int, _shared("N", "How many to show.", "--count", least=1, most=100_000)]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts, and nothing else.")]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The ground that a command is about."""

    ground: list[Path] = typer.Argument(
        ...,
        metavar="GROUND...",
        help="An area file (.toml), or elevation rasters; several rasters are one mosaic.",
        show_default=False,
    )
    crs: str | None = typer.Option(
        None, help="Coordinate reference system, where the raster does not say: EPSG:27700."
    )
    unit: str | None = typer.Option(
        None,
        help="Unit of the heights, where the raster does not say: metre, foot or us-survey-foot.",
        show_default="metre",
    )
    band: int | None = option(
        "N", "Which band holds the heights, where there are several.", least=1, most=65_535
    )
    variable: str | None = option(
        "NAME", "Which variable holds them, where there are several (NetCDF, GRIB, HDF5)."
    )
    trust: bool = typer.Option(
        False,
        "--trust",
        help="Let a raster, such as a VRT, name files outside its folder and on a network.",
    )
    offline: bool = typer.Option(
        False, "--offline", help="Fetch no ground: use what is in the cache, and the files given."
    )
    reach: float | None = option(
        "KM",
        "How far round the place the ground is read cell by cell.",
        shown="60",
        above=0.0,
        most=2000.0,
    )
    cell: float | None = option(
        "M",
        "Side of the cells that the ground is read at.",
        shown="the raster's own, or larger where those take more memory than may be taken",
        least=0.01,
        most=10_000.0,
    )
    memory: float | None = option(
        "GB", "Most memory to take.", shown="4, or what is free", above=0.0, most=100_000.0
    )

    def area(self, names: Path | None, work: Work) -> Area:
        """The area of the command line, with what the options say over what its file says."""
        return open_area(self.ground).under(
            crs=self.crs,
            height_unit=self.unit,
            band=self.band,
            variable=self.variable,
            trust=self.trust,
            offline=self.offline,
            summits=names,
            reach_km=self.reach,
            cell_m=self.cell,
            room=Room(work=work, memory_gb=self.memory),
        )


@dataclass(frozen=True, kw_only=True)
class Saves:
    """Where a command writes its answer, and for whom it prints it."""

    save: list[Path] | None = option(
        "FILE",
        "Write the result; the ending says how. May be given more than once.",
        shown=False,
    )
    as_json: Json = False
    wide: bool = typer.Option(False, "--wide", help="Show all columns, however wide that is.")
    explain: bool = typer.Option(False, "--explain", help="Say what each column means.")

    def check_saves(self, *kinds: Endings) -> None:
        """Refuse the files to write, before any work is done, if one cannot be written."""
        check_here()
        known = [ending for kind in kinds for ending in kind if ending not in (".tiff", ".jpeg")]
        for path in self.save or []:
            if not any(path.suffix.lower() in kind for kind in kinds):
                ends = ", ".join(known)
                raise TerrainError(f"cannot save as {path}: the name must end in {ends}")
            check_writable(path)

    def saves_as(self, endings: Endings) -> bool:
        """Whether a file of a kind is asked for."""
        return any(path.suffix.lower() in endings for path in self.save or [])

    def answer(
        self,
        *,
        fields: Callable[[], object],
        tell: Callable[[], None],
        picture: Callable[[], Figure] | None = None,
        layers: Callable[[], Mapping[str, gpd.GeoDataFrame]] | None = None,
        raster: tuple[Callable[[], Mapping[str, Any]], terrain.Grid] | None = None,
        others: Mapping[Endings, Writer] = MappingProxyType({}),
    ) -> None:
        """Print an answer, as JSON from its fields or as told to a person, and write the files.

        picture: draws it. layers: tables by the names of their layers; a file of one layer holds
        the first. raster: arrays by what each says, and the grid of their shape. others: writers
        of files of other kinds, or of such kinds in another way.
        """
        if self.as_json:
            print_json(fields())
        else:
            with told(Telling(wide=self.wide, explain=self.explain)):
                tell()
        writers = dict(others)
        if picture is not None:
            writers[PICTURE] = lambda path: terrain.save_picture(picture(), path)
        if layers is not None:
            writers[TABLE] = lambda path: terrain.save_layers(layers(), path)
        if raster is not None:
            bands, grid = raster
            writers[RASTER] = lambda path: terrain.save_raster(bands(), grid, path)
        for path in self.save or []:
            write = next(w for kind, w in writers.items() if path.suffix.lower() in kind)
            with progress(f"writing {path.name}", quiet=self.as_json):
                write(path)
            saved(path)


@dataclass(frozen=True, kw_only=True)
class Asked(Saves, Ground):
    """What a command over some ground is asked: of what ground, where to, and for whom."""

    def area(self, names: Path | None, work: Work, *others: Path | None) -> Area:
        """The same; TerrainError where a file to write is one of it, of names, or of others."""
        area = Ground.area(self, names, work)
        used = [*self.ground, *area.files, *(other for other in others if other is not None)]
        check_not_in_use(self.save or [], used)
        return area
