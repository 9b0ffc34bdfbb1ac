"""What can be surveyed, and which options of `terrain survey` do nothing there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import typer

from terrain.command.options import Saves
from terrain.command.saves import PICTURE, TABLE, Endings
from terrain.errors import TerrainError

ENDS: Final[Mapping[str, tuple[bool, ...]]] = {
    "both": (False, True),
    "mornings": (False,),
    "evenings": (True,),
}

_OF_VANTAGES: Final = ("mist_top", "within", "farthest", "per_hill", "last", "show")
_IDLE: Final[Mapping[str, tuple[str, ...]]] = {
    "vantages": (),
    "summits": (*_OF_VANTAGES, "first", "ends", "reach"),
    "light": (*_OF_VANTAGES, "count", "names", "prominence"),
    "atlas": (*_OF_VANTAGES, "count"),
}
"""By what is worked out, the parameters of the command that nothing there asks for."""

_SAVED: Final[Mapping[str, tuple[Endings, ...]]] = {
    "vantages": (PICTURE, TABLE),
    "summits": (TABLE,),
    "light": (),
    "atlas": (),
}


def check_used(given: typer.Context, what: str) -> None:
    """TerrainError for what is nothing to survey, and for an option that does nothing there."""
    if what not in _IDLE:
        raise TerrainError(f"{what[:60]!r} is nothing to survey: give {', '.join(_IDLE)}")
    for one in given.command.params:
        source = given.get_parameter_source(one.name or "")
        if one.name in _IDLE[what] and source is not None and source.name == "COMMANDLINE":
            raise TerrainError(
                f"{one.opts[0]} does nothing with --what {what}: leave out one of the two"
            )


def check_saved(asked: Saves, what: str) -> None:
    """TerrainError for a file that cannot be written, or not of what is worked out."""
    if asked.save and not _SAVED[what]:
        raise TerrainError(
            f"cannot save as {asked.save[0]}: the rasters of --what {what} are in the folder"
        )
    asked.check_saves(*_SAVED[what])


def ends_of(which: str | None) -> tuple[bool, ...]:
    """Which ends of the day are meant, both unless it is said: whether each is the evening."""
    if which is None:
        return ENDS["both"]
    if which not in ENDS:
        raise TerrainError(f"{which[:60]!r} is no end of the day: give {', '.join(ENDS)}")
    return ENDS[which]


def end_of_raster(which: str | None) -> bool:
    """Whether a raster is of the evening: it is of one end of the day, the morning unless said."""
    ends = ends_of(which or "mornings")
    if len(ends) > 1:
        raise TerrainError(
            "a raster is of one end of the day: give --ends mornings, or --ends evenings"
        )
    return ends[0]
