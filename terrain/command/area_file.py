"""The file of an area, and the area of a command line.

A file keeps them, so that none is typed twice. It is TOML::

    name = "..."                          # of the area
    rasters = ["a.tif", "b.tif"]          # relative to the file; one mosaic
    rasters = ["copernicus-30"]           # or open ground, fetched once into the cache
    crs = "EPSG:27700"                    # only where the rasters do not say
    height_unit = "foot"                  # only where they do not say; else metres
    band = 2                              # only where they have several, or
    variable = "z"                        # several variables
    summits = "summits.geojson"           # names for summits
    paths = "paths.geojson"               # ways to walk on
    [places]                              # LAT, LON
    "the stile" = [54.40, -24.01]
    [starts]                              # where a walk can start
    [kit]                                 # sensor_mm = [36, 24], lenses_mm = [24, 70, 200]
    [defaults]                            # hill, mist_top_m, date
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from terrain.command.area import Area
from terrain.command.bounds import HEIGHT_M, LENS_MM, MOST_NAME, SENSOR_MM, Bounds
from terrain.command.fetched import is_source
from terrain.command.place_names import place_at
from terrain.errors import TerrainError
from terrain.ground.names import clean_name
from terrain.ground.places import Spot
from terrain.ground.stored import check_file

_TEXTS: Final = ("name", "crs", "height_unit", "variable", "summits", "paths")
_KEYS: Final = sorted({"rasters", "band", "places", "starts", "kit", "defaults", *_TEXTS})
_MOST_BYTES: Final = 10_000_000
_ADDRESS: Final = re.compile(r"/vsi|[A-Za-z0-9+.-]+://")


def open_area(paths: list[Path]) -> Area:
    """The area of a command line: one area file (.toml), or elevation rasters.

    Raises TerrainError for a file that is missing, is not TOML, or has a key that means nothing.
    """
    check_here()
    if not paths:
        raise TerrainError("no ground was given: name an area file (.toml) or elevation rasters")
    if paths[0].suffix.lower() != ".toml":
        return Area(rasters=tuple(paths))
    if len(paths) > 1:
        raise TerrainError(f"{paths[0]} is an area file: name its rasters in it, not beside it")
    return _area(paths[0], _content(paths[0]))


def check_here() -> None:
    """Stop where the working folder was deleted: no name leads anywhere from there."""
    try:
        Path.cwd()
    except OSError as error:
        raise TerrainError("the folder you are in is gone: change to another") from error


def _content(path: Path) -> dict[str, Any]:
    check_file(str(path))
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise TerrainError(f"{path} is too long for an area file")
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise TerrainError(f"cannot read {path}: {error.strerror}") from error
    except RecursionError as error:
        raise TerrainError(f"{path} is not a TOML file of an area: it nests too deep") from error
    except ValueError as error:
        raise TerrainError(f"{path} is not a TOML file: {error}") from error


def _area(path: Path, content: dict[str, Any]) -> Area:
    _check_keys(str(path), content, _KEYS)
    rasters = content.get("rasters")
    if not isinstance(rasters, list) or not rasters:
        raise TerrainError(f'{path} names no rasters: write rasters = ["file.tif"]')
    for key in _TEXTS:
        _check_type(f"{path}: {key}", content.get(key), (str,), "text in quotes")
    for key, check in {"kit": _KIT, "defaults": _DEFAULTS}.items():
        _check_table(f"{path}: [{key}]", content.get(key), check)
    if "band" in content:
        _band(f"{path}: band", content["band"])
    files = {key: _file(path, key, content[key]) for key in ("summits", "paths") if key in content}
    spots = {key: _places(path, content, key) for key in ("places", "starts")}
    content["name"] = clean_name(content.get("name", ""))
    content |= files | spots | {"rasters": tuple(_raster(path, one) for one in rasters)}
    return Area(**content)


def _raster(path: Path, name: object) -> Path:
    """A raster that an area names, or a source that the package knows where there is no such."""
    file = _file(path, "rasters", name)
    return Path(str(name)) if is_source(Path(str(name))) and not file.exists() else file


def _file(path: Path, key: str, name: object) -> Path:
    """A file that an area names; where to fetch one, a person says on the command line."""
    _check_type(f"{path}: {key}", name, (str,), "the name of a file in quotes")
    if _ADDRESS.match(str(name)):
        raise TerrainError(
            f"{path}: {key} names the address {str(name)[:200]!r}: an area names files; give an "
            "address on the command line"
        )
    return path.parent / str(name)


def _check_keys(name: str, table: Mapping[str, Any], known: list[str]) -> None:
    unknown = sorted(set(table) - set(known))
    if unknown:
        raise TerrainError(
            f"{name} has {unknown[0][:MOST_NAME]!r}, which means nothing: use {known}"
        )


def _check_type(name: str, value: object, kinds: tuple[type, ...], what: str) -> None:
    # to Python a TOML truth value is a number, and a moment is a date
    is_one = isinstance(value, kinds) and not isinstance(value, bool | dt.datetime)
    if value is not None and not is_one:
        raise TerrainError(f"{name} must be {what}, got {str(value)[:MOST_NAME]!r}")


Check = Callable[[str, Any], None]


def _check_table(name: str, table: object, checks: Mapping[str, Check]) -> None:
    if table is None:
        return
    if not isinstance(table, dict):
        raise TerrainError(f"{name} must be a table, got {str(table)[:MOST_NAME]!r}")
    _check_keys(name, table, list(checks))
    for key, value in table.items():
        checks[key](f"{name} {key}", value)


def _number(name: str, value: Any, bounds: Bounds, what: str) -> None:
    _check_type(name, value, (int, float), what)
    bounds.check(name, value)


def _band(name: str, value: Any) -> None:
    _check_type(name, value, (int,), "a whole number from 1")
    Bounds(least=1, most=65_535).check(name, value)


def _sensor(name: str, value: Any) -> None:
    if not isinstance(value, list) or len(value) != 2:
        raise TerrainError(
            f"{name} must be [WIDTH, HEIGHT] in millimetres, got {str(value)[:MOST_NAME]}"
        )
    for side in value:
        _number(name, side, SENSOR_MM, "[WIDTH, HEIGHT] in millimetres")


def _lenses(name: str, value: Any) -> None:
    if not isinstance(value, list) or not value:
        raise TerrainError(f"{name} must be a list of millimetres, got {str(value)[:MOST_NAME]}")
    for lens in value:
        ends = lens if isinstance(lens, list) and len(lens) == 2 else [lens]
        for end in ends:
            _number(name, end, LENS_MM, "millimetres, or [SHORTEST, LONGEST] for a zoom")


def _text(what: str, *others: type) -> Check:
    return lambda name, value: _check_type(name, value, (str, *others), what)


_KIT: Final[Mapping[str, Check]] = {"sensor_mm": _sensor, "lenses_mm": _lenses}
_DEFAULTS: Final[Mapping[str, Check]] = {
    "hill": _text("a name or LAT,LON in quotes"),
    "mist_top_m": lambda name, value: _number(name, value, HEIGHT_M, "a height in metres"),
    "date": _text("a date such as 2026-10-13, or a word for one in quotes", dt.date),
}


def _places(path: Path, content: dict[str, Any], key: str) -> dict[str, Spot]:
    table = content.get(key, {})
    if not isinstance(table, dict):
        raise TerrainError(f"{path}: [{key}] must be a table of names with [LAT, LON]")
    return {clean_name(name): _point(path, name, value) for name, value in table.items()}


def _point(path: Path, name: str, value: object) -> Spot:
    if len(name) > MOST_NAME:
        raise TerrainError(f"{path}: {name[:20]!r}... is too long for the name of a place")
    text = ",".join(map(str, value)) if isinstance(value, list) else str(value)
    point = place_at(text[:MOST_NAME])
    if point is None:
        raise TerrainError(
            f"{path}: {name!r} must be [LAT, LON] in degrees, got {str(value)[:MOST_NAME]}"
        )
    return replace(point, name=clean_name(name))
