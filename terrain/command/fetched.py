"""Open ground that a command line or an area names by its source, brought where it is needed."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import typer

import terrain
from terrain.command.report import aside
from terrain.command.streams import make_room
from terrain.errors import TerrainError
from terrain.words.figures import count_of

if TYPE_CHECKING:
    from terrain.command.area import Area
    from terrain.fetch.bring import Brought, Wanted
    from terrain.ground.places import Spot

_SOURCES: Final = ("copernicus-30", "copernicus-90", "skadi")
_MOST_BYTES: Final = 200_000_000


def is_source(path: Path) -> bool:
    """Whether a name is that of a source of open ground, and of no file."""
    return str(path) in _SOURCES and not path.exists()


def ground_for(area: Area, around: Spot | None) -> tuple[list[Path], Brought | None]:
    """The files of an area about a place, with those of its source, and what is said of these."""
    names = [path for path in area.rasters if is_source(path)]
    files = [path for path in area.rasters if path not in names]
    if not names:
        return files, None
    if len(names) > 1:
        raise TerrainError(f"{names[0]} and {names[1]} are two sources of ground: name one")
    if around is None:
        raise TerrainError(
            f"{names[0]} is the whole earth: say about which place, with --near where the command "
            "has it; or save the ground about a place with terrain ground, and name that file"
        )
    brought = bring(
        str(names[0]), around, reach_m=1000.0 * area.reach_km, offline=area.offline, hint=True
    )
    return [*files, *brought.files], brought


def bring(
    source: str, around: Spot, *, yes: bool = False, hint: bool = False, **options: Any
) -> Brought:
    """Ground from a source, with a bar of what comes, asking before it is much.

    yes: that nothing is to be asked. hint: to say which command fetches it once and for all.
    """
    place = f"{around.lat_deg:.4f},{around.lon_deg:.4f}"
    once = ["terrain", "ground", place, "--source", source]
    for option in ("reach_m", "sunward_m"):
        if option in options:
            once += [f"--{option.removesuffix('_m')}", f"{options[option] / 1000.0:g}"]
    more = f"; try: {shlex.join([*once, '--yes'])}" if hint else ": add --yes"

    def allow(wanted: Wanted) -> None:
        size = f"{wanted.size_bytes / 1e6:.0f} MB"
        tiles = count_of(wanted.tiles, "tile")
        if wanted.size_bytes > _MOST_BYTES and not yes:
            _ask(f"{wanted.title}: about {size} in {tiles} to fetch", more)
        aside(f"fetching {tiles} of {wanted.title}, about {size}")

    with _bytes_bar() as done:
        brought = terrain.fetch_ground(source, around, allow=allow, progress=done, **options)
    for label, tiles in (("unknown ground", brought.unknown), ("coarser", brought.coarser)):
        if tiles:
            aside(f"note: {label}: {', '.join(tiles)}{_why(brought, label)}")
    return brought


def _why(brought: Brought, label: str) -> str:
    if label == "coarser":
        return f" ({brought.source} is not released there)"
    return f" ({brought.why_unknown})"


def _ask(question: str, more: str) -> None:
    if not sys.stdin.isatty():
        raise TerrainError(f"{question}, which is more than {_MOST_BYTES / 1e6:.0f} MB{more}")
    if not typer.confirm(f"{question}. Go on?", err=True):
        raise TerrainError("nothing was fetched")


@contextmanager
def _bytes_bar() -> Iterator[Callable[[int, int], None]]:
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn

    make_room()
    shown = Console(stderr=True)
    columns = (TextColumn("fetching"), BarColumn(), DownloadColumn(), TransferSpeedColumn())
    bar = Progress(*columns, console=shown, transient=True, disable=not shown.is_terminal)
    task = bar.add_task("fetching", total=None)

    def done(came: int, of: int) -> None:
        bar.start()
        bar.update(task, completed=came, total=of)

    try:
        yield done
    finally:
        bar.stop()
