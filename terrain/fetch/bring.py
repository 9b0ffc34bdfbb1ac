"""Ground for a place, from a source into the cache: what is there is not fetched again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from terrain.errors import TerrainError
from terrain.fetch.cache import alone_with, folder_of, is_kept, put
from terrain.fetch.own import STAC, bring_items, items_about, kept_file, kept_rasters, rasters_of
from terrain.fetch.sorting import Sorted, sort_tiles, tile_file
from terrain.fetch.sources import Source, known_sources, source_named
from terrain.fetch.tiles import Tile, tiles_about
from terrain.fetch.transfer import NotThereError, fetch
from terrain.ground.places import Spot
from terrain.ground.raster.tile import check_tile, write_sea

DEFAULT_REACH_M: Final = 60_000.0
SUNWARD_M: Final = 100_000.0
"""How far toward sunrise and sunset ground is fetched (no source); most skylines lie nearer."""

ASKED_FROM_BYTES: Final = 200_000_000


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What is to be fetched, for whoever is to allow it.

    tiles: how many. size_bytes: about how much. title: of the source.
    """

    tiles: int
    size_bytes: int
    title: str


@dataclass(frozen=True, kw_only=True)
class Brought:
    """Ground in the cache.

    Parameters
    ----------
    source : str
        The name of the source.
    files : tuple of Path
        The rasters, finest first; known sea is one of 0 m.
    sea : tuple of str
        The tiles that are sea, by their corners.
    coarser : tuple of str
        Those that the source lacks and a coarser one has.
    unknown : tuple of str
        Those whose ground stays unknown.
    why_unknown : str
        Why.
    credits : tuple of str
        Whom to name where the ground is shown.
    licences : tuple of str
        Where the licences are.
    vertical : str
        The system of heights, such as "EPSG:3855", "" where the source does not say.
    datum : str
        Its name.
    model : str
        Of the surface (with trees and houses) or of the terrain.
    fetched_bytes : int
        How much came from the network this time.

    Examples
    --------
    >>> import terrain
    >>> terrain.Brought(source="skadi", files=(), credits=("the makers", "others")).credit
    'the makers; others'
    """

    source: str
    files: tuple[Path, ...]
    sea: tuple[str, ...] = ()
    coarser: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    why_unknown: str = ""
    credits: tuple[str, ...] = ()
    licences: tuple[str, ...] = ()
    vertical: str = ""
    datum: str = ""
    model: str = ""
    fetched_bytes: int = 0

    @property
    def credit(self) -> str:
        """All credits in one line."""
        return "; ".join(self.credits)


def fetch_ground(
    source: str,
    around: Spot,
    *,
    reach_m: float = DEFAULT_REACH_M,
    sunward_m: float = SUNWARD_M,
    offline: bool = False,
    allow: Callable[[Wanted], None] = lambda _: None,
    progress: Callable[[int, int], None] = lambda _done, _of: None,
) -> Brought:
    """Bring open elevation for a place into the cache; what is there already is not fetched again.

    Parameters
    ----------
    source : str
        "copernicus-30", "copernicus-90", "skadi", or the address of tiles of a degree with {ns},
        {lat}, {ew} and {lon} for their south-west corner; a folder of rasters; or a collection of a
        STAC API, "stac:https://HOST/PATH#COLLECTION".
    around : Spot
        The place.
    reach_m : float, optional
        Half the side of the square wanted about it, metres.
    sunward_m : float, optional
        How far ground is wanted toward sunrise and sunset of any day of the year, metres.
    offline : bool, optional
        Whether to fetch nothing.
    allow : callable, optional
        Told what is to be fetched before it is; raises where it must not be.
    progress : callable, optional
        Told how many bytes have come, and of about how many.

    Returns
    -------
    Brought
        The files for `read_dem`, and what is to be said of them.

    Raises
    ------
    TerrainError
        For a source that is not known, where the network fails, and where no tile is to be had.

    Examples
    --------
    >>> import terrain
    >>> spot = terrain.Spot(lon_deg=11.9, lat_deg=50.1)
    >>> try:
    ...     terrain.fetch_ground("the moon", spot, offline=True)
    ... except terrain.TerrainError as error:
    ...     print(str(error).split(",")[0])
    there is no source 'the moon': use copernicus-30
    """
    if source.startswith(STAC):
        wanted = (around, reach_m, sunward_m)
        return _from_collection(source, wanted, allow, progress, offline=offline)
    if Path(source).is_dir():
        return Brought(source=source, files=rasters_of(Path(source)))
    chosen = source_named(source)
    tiles = tiles_about(around, reach_m, sunward_m)
    sorted_ = sort_tiles(chosen, tiles, offline=offline)
    if sorted_.wanted:
        _ask(chosen, sorted_.wanted, allow)
    came = _fetch_all(sorted_, progress)
    return _brought(chosen, sorted_, came, offline=offline)


def _from_collection(
    address: str,
    wanted: tuple[Spot, float, float],
    allow: Callable[[Wanted], None],
    progress: Callable[[int, int], None],
    *,
    offline: bool,
) -> Brought:
    came = 0
    if not offline:
        items = items_about(address, *wanted)
        new = [item for item in items if not is_kept(kept_file(address, item))]
        whole = sum(item.size_bytes for item in new)
        if new:
            allow(Wanted(tiles=len(new), size_bytes=whole, title=address))

        def count(more: int) -> None:
            nonlocal came
            came += more
            progress(came, max(whole, came))

        bring_items(address, items, count)
    files, said = kept_rasters(address)
    if not files:
        raise TerrainError(f"nothing of {address} is in the cache: fetch it once, online")
    return Brought(
        source=address,
        files=tuple(files),
        credits=tuple(dict.fromkeys(one["credit"] for one in said if one.get("credit"))),
        licences=tuple(dict.fromkeys(one["licence"] for one in said if one.get("licence"))),
        fetched_bytes=came,
    )


def _ask(
    chosen: Source, wanted: Sequence[tuple[Source, Tile]], allow: Callable[[Wanted], None]
) -> None:
    size = sum(source.bytes_of(tile) for source, tile in wanted)
    allow(Wanted(tiles=len(wanted), size_bytes=size, title=chosen.title))


def _fetch_all(found: Sorted, progress: Callable[[int, int], None]) -> int:
    whole = sum(source.bytes_of(tile) for source, tile in found.wanted)
    came = 0

    def count(more: int) -> None:
        nonlocal came
        came += more
        progress(came, max(whole, came))

    for source, tile in found.wanted:
        way = _fetch_tile(source, tile, count)
        if way is None:
            found.unknown.append(tile)
        else:
            found.kept.append((way, tile))
    return came


def _fetch_tile(source: Source, tile: Tile, count: Callable[[int], None]) -> Source | None:
    """Bring a tile, or that of the coarser source where it is not there; the source that had it."""
    facts = {
        "source": source.name,
        "licence": source.licence,
        "credit": source.credit,
        "vertical": source.vertical,
        "model": source.model,
    }
    url, path = source.url_of(tile), tile_file(source, tile)
    try:
        fetch(url, path, facts=facts, check=check_tile, count=count)
    except NotThereError:
        coarser = known_sources().get(source.instead)
        return None if coarser is None else _fetch_tile(coarser, tile, count)
    return source


def _sea_file(source: Source, tile: Tile) -> Path:
    """A raster of known sea in place of a tile, made once."""
    path = folder_of(source) / "sea" / f"{tile.label}.tif"
    if not is_kept(path):
        partial = path.parent / ".partial" / path.name
        partial.parent.mkdir(parents=True, exist_ok=True)
        with alone_with(partial):
            if not is_kept(path):
                write_sea(partial, source.transform_of(tile), source.shape_of(tile), "EPSG:4326")
                put(partial, path, {"source": source.name, "sea": True})
    return path


def _brought(chosen: Source, found: Sorted, came: int, *, offline: bool) -> Brought:
    if not found.kept:
        raise TerrainError(_nothing(chosen, found, offline=offline))
    # of the finest first: where tiles overlap by half a cell, that one counts
    found.kept.sort(key=lambda one: (one[0] is not chosen, -one[1].south_deg, one[1].west_deg))
    used = list(dict.fromkeys(source for source, _ in found.kept))
    seas = [_sea_file(chosen, tile) for tile in found.sea]
    return Brought(
        source=chosen.name,
        files=(*(tile_file(source, tile) for source, tile in found.kept), *seas),
        sea=_labels(found.sea),
        coarser=_labels([tile for source, tile in found.kept if source is not chosen]),
        unknown=_labels(found.unknown),
        why_unknown="not in the cache" if offline else "the source has no such tile",
        credits=tuple(dict.fromkeys(source.credit for source in used if source.credit)),
        licences=tuple(dict.fromkeys(source.licence for source in used if source.licence)),
        vertical=chosen.vertical,
        datum=chosen.datum,
        model=chosen.model,
        fetched_bytes=came,
    )


def _nothing(chosen: Source, found: Sorted, *, offline: bool) -> str:
    names = ", ".join(_labels([*found.unknown, *found.sea])[:6])
    if offline:
        return f"no ground of {chosen.name} is in the cache for {names}: fetch it once, online"
    if found.sea and not found.unknown:
        return f"there is only sea within reach ({names}): is the place as LAT,LON?"
    return f"{chosen.name} has no ground here ({names}): try another source"


def _labels(tiles: Sequence[Tile]) -> tuple[str, ...]:
    return tuple(tile.label for tile in tiles)
