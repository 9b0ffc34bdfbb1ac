"""How GDAL is to fetch a raster from a network: few requests, each tried again, none for ever."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import PurePosixPath
from typing import Any, Final
from urllib.parse import urlsplit

import rasterio
from rasterio._err import CPLE_BaseError
from rasterio.errors import RasterioError

_SCHEME: Final = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://")
_AFAR: Final = ("/vsicurl", "/vsis3", "/vsigs", "/vsiaz", "/vsiadls", "/vsioss", "/vsiswift")
_FETCHED: Final = {
    # no list of the folder, and none of the dozen files that may lie beside a raster
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_HTTP_MERGE_CONSECUTIVE_RANGES": "YES",
    # several ranges at once are not tried again (https://github.com/OSGeo/gdal/issues/12933), nor
    # is what several threads ask for (https://github.com/OSGeo/gdal/issues/12426)
    "GDAL_HTTP_MULTIRANGE": "SERIAL",
    "GDAL_NUM_THREADS": "1",
    "GDAL_HTTP_MAX_RETRY": "3",
    "GDAL_HTTP_RETRY_DELAY": "0.5",
    "GDAL_HTTP_CONNECTTIMEOUT": "15",
    "GDAL_HTTP_LOW_SPEED_LIMIT": "1",
    "GDAL_HTTP_LOW_SPEED_TIME": "30",
    # the first bytes of a cloud optimised file say where all others lie
    "GDAL_INGESTED_BYTES_AT_OPEN": "32768",
}


def is_afar(address: str) -> bool:
    """Whether an address is one of a network.

    >>> is_afar("https://example.org/a.tif"), is_afar("/vsizip/vsicurl/x.zip"), is_afar("a.tif")
    (True, True, False)
    """
    return bool(_SCHEME.match(address)) or any(way[1:] in address.split("/") for way in _AFAR)


def settings_for(address: str) -> Mapping[str, str]:
    """What GDAL is to hold to while it fetches from an address.

    Of an address that ends as a file does, nothing of another ending is asked for. How long and
    how often to try a user may have said to GDAL (GDAL_HTTP_...).

    >>> settings_for("https://example.org/a.tif")["CPL_VSIL_CURL_ALLOWED_EXTENSIONS"]
    '.tif'
    >>> "CPL_VSIL_CURL_ALLOWED_EXTENSIONS" in settings_for("https://example.org/a.tif?key=1")
    False
    """
    parts = urlsplit(address)
    ending = PurePosixPath(parts.path).suffix
    plain = parts.scheme in ("http", "https") and not parts.query and ending
    own = {key for key in os.environ if key.startswith("GDAL_HTTP_")}
    ways = {key: said for key, said in _FETCHED.items() if key not in own}
    return ways | ({"CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ending} if plain else {})


def forget(address: str, opened: Callable[[], Any]) -> None:
    """Make GDAL forget that it did not get a file, so that the next try asks for it again.

    What is not to be kept is thrown away when it is closed, after an open in vain too.
    """
    with (
        rasterio.Env(CPL_VSIL_CURL_NON_CACHED="/vsicurl/", GDAL_HTTP_MAX_RETRY="0"),
        suppress(RasterioError, CPLE_BaseError, ValueError),
    ):
        opened().close()
