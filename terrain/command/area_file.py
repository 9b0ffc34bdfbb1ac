"""The area file: rasters, places, starts and kit of one area, so that none is typed twice.

A TOML file::

    name = "..."                          # of the area
    rasters = ["a.tif", "b.tif"]          # relative to the file; one mosaic
    crs = "EPSG:27700"                    # only where the rasters do not say
    height_unit = "foot"                  # only where it is not the metre
    summits = "summits.geojson"           # names for summits
    paths = "paths.geojson"               # ways to walk on
    [places]                              # LAT, LON
    "the stile" = [54.40, -24.01]
    [starts]                              # where a walk can start
    [kit]                                 # sensor_mm = [36, 24], lenses_mm = [24, 70, 200]
    [defaults]                            # hill, mist_top_m, date, ...
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from terrain.command.area import Area, parse_latlon
from terrain.errors import TerrainError
from terrain.ground.places import Spot

__all__ = ["open_area"]


def open_area(paths: list[Path]) -> Area:
    """The area of a command line: one area file (.toml), or elevation rasters.

    Raises TerrainError for a file that is missing, is not TOML, or has a key that means nothing.
    """
    if not paths:
        raise TerrainError("no ground was given: name an area file (.toml) or elevation rasters")
    if paths[0].suffix.lower() != ".toml":
        return Area(rasters=tuple(paths))
    if len(paths) > 1:
        raise TerrainError(f"{paths[0]} is an area file: name its rasters in it, not beside it")
    return _read(paths[0])


_TEXTS = ("name", "crs", "height_unit", "summits", "paths")
_TABLES = ("places", "starts", "kit", "defaults")
_KEYS = sorted({"rasters", *_TEXTS, *_TABLES})


def _read(path: Path) -> Area:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise TerrainError(f"cannot read {path}: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise TerrainError(f"{path} is not a TOML file: {error}") from error
    unknown = sorted(set(content) - set(_KEYS))
    if unknown:
        raise TerrainError(f"{path} has {unknown[0]!r}, which means nothing: use {_KEYS}")
    rasters = content.get("rasters")
    if not isinstance(rasters, list) or not rasters:
        raise TerrainError(f'{path} names no rasters: write rasters = ["file.tif"]')
    _check_types(path, content)
    here = path.parent
    files = {key: here / content[key] for key in ("summits", "paths") if key in content}
    said = ("name", "crs", "height_unit", "kit", "defaults")
    return Area(
        rasters=tuple(here / str(raster) for raster in rasters),
        places=_places(path, content, "places"),
        starts=_places(path, content, "starts"),
        **files,
        **{key: content[key] for key in said if key in content},
    )


def _check_types(path: Path, content: Mapping[str, Any]) -> None:
    for key in _TEXTS:
        if not isinstance(content.get(key, ""), str):
            raise TerrainError(f"{path}: {key} must be text in quotes, got {content[key]!r}")
    for key in ("kit", "defaults"):
        if not isinstance(content.get(key, {}), dict):
            raise TerrainError(f"{path}: [{key}] must be a table, got {content[key]!r}")
    defaults = content.get("defaults", {})
    for key, kinds, what in _DEFAULTS:
        value = defaults.get(key)
        # to Python a TOML truth value is a number, and a moment is a date
        if value is not None and not (
            isinstance(value, kinds) and not isinstance(value, bool | dt.datetime)
        ):
            raise TerrainError(f"{path}: {key} among [defaults] must be {what}, got {value!r}")


_DEFAULTS: tuple[tuple[str, tuple[type, ...], str], ...] = (
    ("hill", (str,), "a name or LAT,LON in quotes"),
    ("mist_top_m", (int, float), "a height in metres"),
    ("date", (dt.date,), "a date without quotes, such as 2026-10-13"),
)


def _places(path: Path, content: dict[str, Any], key: str) -> dict[str, Spot]:
    table = content.get(key, {})
    if not isinstance(table, dict):
        raise TerrainError(f"{path}: [{key}] must be a table of names with [LAT, LON]")
    return {name: _point(path, name, value) for name, value in table.items()}


def _point(path: Path, name: str, value: object) -> Spot:
    text = ",".join(map(str, value)) if isinstance(value, list) else str(value)
    point = parse_latlon(text)
    if point is None:
        raise TerrainError(f"{path}: {name!r} must be [LAT, LON] in degrees, got {value!r}")
    return replace(point, name=name)
