"""The tiles of a place sorted by what is to be done for them.

Of each there is a list of all tiles. What the list lacks, and that of a coarser source has, is not
released; what neither has is sea.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from terrain.errors import TerrainError
from terrain.fetch.cache import age_days, folder_of, is_kept
from terrain.fetch.sources import Source, known_sources
from terrain.fetch.tiles import Tile
from terrain.fetch.transfer import fetch

_CORNER: Final = re.compile(r"([NS])(\d{2})(?:_00)?_?([EW])(\d{3})")
_LIST: Final = "tileList.txt"
_OLD_DAYS: Final = 90.0
"""A list of that age is fetched again, for tiles are released now and then (no source)."""


@dataclass
class Sorted:
    """Tiles by what is to be done for them."""

    kept: list[tuple[Source, Tile]] = field(default_factory=list)
    wanted: list[tuple[Source, Tile]] = field(default_factory=list)
    sea: list[Tile] = field(default_factory=list)
    unknown: list[Tile] = field(default_factory=list)


def sort_tiles(chosen: Source, tiles: Sequence[Tile], *, offline: bool) -> Sorted:
    """The tiles by whether they are in the cache, to be fetched, sea, or unknown for now."""
    found = Sorted()
    ways = [chosen, *filter(None, [known_sources().get(chosen.instead)])]
    left = []
    for tile in tiles:
        at = next((way for way in ways if is_kept(tile_file(way, tile))), None)
        if at is None:
            left.append(tile)
        else:
            found.kept.append((at, tile))
    lists = [_listed(way, offline=offline) for way in ways] if left and chosen.listed else []
    for tile in left:
        _sort_one(tile, ways, lists, found, offline=offline)
    return found


def _sort_one(
    tile: Tile,
    ways: Sequence[Source],
    lists: Sequence[frozenset[Tile] | None],
    found: Sorted,
    *,
    offline: bool,
) -> None:
    has = [way for way, listed in zip(ways, lists, strict=False) if listed and tile in listed]
    if not has and lists and None not in lists:
        found.sea.append(tile)
    elif offline:
        found.unknown.append(tile)
    else:
        found.wanted.append((has[0] if has else ways[0], tile))


def _listed(source: Source, *, offline: bool) -> frozenset[Tile] | None:
    """The tiles that a source has, None where its list cannot be had offline.

    An old list does where a newer one is not to be had.
    """
    path = folder_of(source) / _LIST
    if not offline and not _is_new(path):
        _fetch_list(source, path)
    return _corners(path) if is_kept(path) else None


def _fetch_list(source: Source, path: Path) -> None:
    has_one = is_kept(path)
    options: Any = {"check": _check_list, "is_there": _is_new, "tries": 1 if has_one else None}
    try:
        fetch(source.list_url, path, facts={"source": source.name}, **options)
    except TerrainError:
        if not has_one:
            raise


def _is_new(path: Path) -> bool:
    return is_kept(path) and age_days(path) < _OLD_DAYS


def _check_list(path: Path) -> None:
    if not _corners(path):
        raise TerrainError("it names no tile")


def _corners(path: Path) -> frozenset[Tile]:
    found = _CORNER.findall(path.read_text(encoding="utf-8", errors="replace"))
    return frozenset(
        Tile(int(lat) * (1 if ns == "N" else -1), int(lon) * (1 if ew == "E" else -1))
        for ns, lat, ew, lon in found
    )


def tile_file(source: Source, tile: Tile) -> Path:
    """Where a tile is kept."""
    return folder_of(source) / source.file_of(tile)
