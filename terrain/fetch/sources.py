"""Where open elevation is to be had: the sources the package knows, and a user's own."""

from __future__ import annotations

import functools
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import PurePosixPath
from typing import Any, Final
from urllib.parse import urlsplit

from affine import Affine

from terrain.errors import TerrainError
from terrain.fetch.tiles import Tile

MIRROR: Final = "TERRAIN_GROUND_URL"
_OWN_MB: Final = 40.0


@dataclass(frozen=True, kw_only=True)
class Source:
    """A source of ground in tiles of a degree; what each part means stands in `sources.toml`.

    name: what a user calls it.
    """

    name: str
    title: str
    base: str
    folder: str
    tile: str
    listed: str = ""
    instead: str = ""
    rows: int = 3600
    columns: tuple[tuple[float, int], ...] = ((90.0, 3600),)
    centred: bool = False
    tile_mb: float = _OWN_MB
    vertical: str = ""
    datum: str = ""
    model: str = ""
    licence: str = ""
    credit: str = ""

    def url_of(self, tile: Tile) -> str:
        """Where a tile is fetched from."""
        return f"{self._root}/{tile.written(self.tile)}"

    @property
    def list_url(self) -> str:
        """Where the list of all its tiles is."""
        return f"{self._root}/{self.listed}"

    @property
    def _root(self) -> str:
        mirror = os.environ.get(MIRROR, "").rstrip("/")
        return f"{mirror}/{self.folder}" if mirror and self.folder else self.base

    def file_of(self, tile: Tile) -> str:
        """What a tile is called in the cache, unpacked."""
        return PurePosixPath(urlsplit(tile.written(self.tile)).path).name.removesuffix(".gz")

    def shape_of(self, tile: Tile) -> tuple[int, int]:
        """Rows and columns of a tile: the farther from the equator, the fewer columns."""
        nearest = min(abs(tile.south_deg), abs(tile.south_deg + 1))
        cols = next(count for below, count in self.columns if nearest < below)
        return self.rows, cols

    def transform_of(self, tile: Tile) -> Affine:
        """Where the cells of a tile lie."""
        rows, cols = self.shape_of(tile)
        half = 0.5 if self.centred else 0.0
        west, north = tile.west_deg - half / cols, tile.south_deg + 1 + half / rows
        return Affine(1 / cols, 0, west, 0, -1 / rows, north)

    def bytes_of(self, tile: Tile) -> int:
        """About how much a tile is, in bytes."""
        widest = max(count for _, count in self.columns)
        return int(self.tile_mb * 1e6 * self.shape_of(tile)[1] / widest)


@functools.cache
def known_sources() -> Mapping[str, Source]:
    """The sources that the package knows, by name."""
    text = files("terrain.fetch").joinpath("sources.toml").read_text(encoding="utf-8")
    return {name: source_from(name, table) for name, table in tomllib.loads(text).items()}


def source_from(name: str, table: Mapping[str, Any]) -> Source:
    """A source from a table of `sources.toml`."""
    unknown = set(table) - {part.name for part in fields(Source)}
    if unknown:
        raise TerrainError(f"the source {name} says {sorted(unknown)[0]!r}, which means nothing")
    columns = tuple((float(below), int(count)) for below, count in table.get("columns", ()))
    said = {"columns": columns} if columns else {}
    return Source(name=name, **{**table, **said})


def source_named(text: str) -> Source:
    """A source the package knows, or a user's own from the address of its tiles.

    An address has {ns}, {lat}, {ew} and {lon} for the corner of a tile.

    >>> source_named("https://example.org/{ns}{lat}{ew}{lon}.tif").url_of(Tile(50, -3))
    'https://example.org/N50W003.tif'
    """
    known = known_sources()
    if text in known:
        return known[text]
    parts = urlsplit(text)
    if parts.scheme in ("http", "https") and all(f"{{{one}}}" in text for one in ("lat", "lon")):
        base = f"{parts.scheme}://{parts.netloc}"
        path = text.removeprefix(f"{base}/")
        return Source(
            name=parts.netloc.replace(":", "-"), title=text, base=base, folder="", tile=path
        )
    raise TerrainError(
        f"there is no source {text!r}: use {', '.join(known)}, or an address of tiles such as "
        "https://example.org/{ns}{lat}{ew}{lon}.tif"
    )
