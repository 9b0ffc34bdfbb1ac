"""A user's own sources that are no tiles of a degree: a folder, and a collection of a STAC API."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path, PurePosixPath
from typing import Any, Final, NamedTuple
from urllib.parse import urlsplit

from terrain.errors import TerrainError
from terrain.fetch.cache import cache_folder, is_kept, said_of
from terrain.fetch.tiles import places_wanted
from terrain.fetch.transfer import NotThereError, fetch
from terrain.ground.names import clean_name
from terrain.ground.places import Spot
from terrain.ground.raster.tile import check_tile

STAC: Final = "stac:"
_RASTERS: Final = (".tif", ".tiff", ".hgt", ".zip", ".asc", ".vrt", ".img", ".dt1", ".dt2", ".bil")
_MOST_ITEMS: Final = 400
_ASSETS: Final = ("data", "elevation", "dem", "dsm", "dtm")
_ORDINARY_BYTES: Final = 40_000_000


class Item(NamedTuple):
    """One raster of a collection: its address, about how much it is, and what is to be said."""

    url: str
    size_bytes: int
    licence: str
    credit: str


def rasters_of(folder: Path) -> tuple[Path, ...]:
    """The rasters of a folder."""
    found = sorted(path for path in folder.iterdir() if path.suffix.lower() in _RASTERS)
    if not found:
        raise TerrainError(f"there is no raster in {folder}: {', '.join(_RASTERS)} are looked for")
    return tuple(found)


def items_about(address: str, around: Spot, reach_m: float, sunward_m: float) -> list[Item]:
    """The rasters of a collection that touch the ground wanted about a place.

    address: of the API, and after a # the collection.
    """
    try:
        from pystac_client import Client
        from pystac_client.exceptions import APIError
    except ImportError as error:
        raise TerrainError(
            "a STAC collection needs the package pystac-client: pip install 'terrain[stac]'"
        ) from error
    api, _, collection = address.removeprefix(STAC).partition("#")
    if not collection or urlsplit(api).scheme not in ("http", "https"):
        raise TerrainError(f"{address} is no collection: write stac:https://HOST/PATH#COLLECTION")
    lon, lat = places_wanted(around, reach_m, sunward_m)
    box = [float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())]
    try:
        client = Client.open(api, timeout=30.0)
        about = client.get_collection(collection)
        asked: dict[str, Any] = {"collections": [collection], "bbox": box, "max_items": _MOST_ITEMS}
        items = [_item(item, about) for item in client.search(method="GET", **asked).items()]
    except (APIError, OSError, ValueError, KeyError, NotImplementedError) as error:
        raise TerrainError(f"{api} does not answer as a STAC API does: {error}") from error
    if not items:
        raise TerrainError(f"{collection} of {api} has no raster about this place")
    return items


def _item(item: Any, collection: Any) -> Item:
    assets = {name: one for name, one in item.assets.items() if _is_raster(one)}
    name = next((name for name in _ASSETS if name in assets), next(iter(assets), None))
    if name is None:
        raise ValueError(f"its item {item.id} has no GeoTIFF")
    asset = assets[name]
    makers = [one.name for one in collection.providers or [] if "host" not in (one.roles or [])]
    return Item(
        url=asset.get_absolute_href(),
        size_bytes=int(asset.extra_fields.get("file:size", _ORDINARY_BYTES)),
        licence=clean_name(str(collection.license or "")),
        credit=clean_name(", ".join(makers) or collection.title or collection.id),
    )


def _is_raster(asset: Any) -> bool:
    """Whether an asset is a GeoTIFF that the network brings: a catalogue may name any address."""
    scheme = urlsplit(asset.get_absolute_href() or "").scheme
    return scheme in ("http", "https") and "tiff" in (asset.media_type or "")


def kept_file(address: str, item: Item) -> Path:
    """Where a raster of a collection is kept."""
    mark = hashlib.sha256(item.url.encode()).hexdigest()[:8]
    collection = "".join(one if one.isalnum() else "-" for one in address.removeprefix(STAC))
    name = PurePosixPath(urlsplit(item.url).path).name or "raster.tif"
    return cache_folder() / "ground" / collection[-80:] / f"{mark}-{name}"


def bring_items(address: str, items: Sequence[Item], count: Callable[[int], None]) -> list[Path]:
    """The rasters in the cache, those that are not there yet fetched."""
    paths = []
    for item in items:
        path = kept_file(address, item)
        facts = {"source": address, "licence": item.licence, "credit": item.credit}
        if not is_kept(path):
            try:
                fetch(item.url, path, facts=facts, check=check_tile, count=count)
            except NotThereError as error:
                raise TerrainError(f"{address} lists {item.url}, which is not there") from error
        paths.append(path)
    return paths


def kept_rasters(address: str) -> tuple[list[Path], list[dict[str, Any]]]:
    """What is in the cache of a collection, and what is said of each."""
    nowhere = Item(url="", size_bytes=0, licence="", credit="")
    folder = kept_file(address, nowhere).parent
    paths = [path for path in sorted(folder.glob("*")) if is_kept(path)]
    return paths, [said_of(path) for path in paths]
