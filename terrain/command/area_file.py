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
import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from terrain.errors import TerrainError

__all__ = ["Area", "Place", "by_name", "open_area", "parse_latlon"]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A named point, WGS 84 degrees."""

    lon_deg: float
    lat_deg: float
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Area:
    """What an area file says; a bare list of rasters is an area with nothing else known."""

    rasters: tuple[Path, ...]
    name: str = ""
    crs: str | None = None
    height_unit: str = "metre"
    summits: Path | None = None
    paths: Path | None = None
    places: Mapping[str, Place] = field(default_factory=dict)
    starts: Mapping[str, Place] = field(default_factory=dict)
    kit: Mapping[str, Any] = field(default_factory=dict)
    defaults: Mapping[str, Any] = field(default_factory=dict)

    def place(self, text: str) -> Place:
        """A place from `LAT,LON` or from its name in the area; TerrainError for neither."""
        point = parse_latlon(text)
        if point is not None:
            return point
        known = {**self.named, **self.starts, **self.places}
        return by_name(text, known, "place", "give LAT,LON, or name it in a file of places")

    @cached_property
    def named(self) -> Mapping[str, Place]:
        """The places of the file of names, none without one."""
        from terrain.ground.features.names import read_names

        if self.summits is None:
            return {}
        names = read_names(self.summits)
        return {
            str(name): Place(lon_deg=float(at.x), lat_deg=float(at.y), name=str(name))
            for name, at in zip(names["name"], names.geometry, strict=True)
        }

    def default_date(self) -> dt.date | None:
        """The date among the defaults."""
        value = self.defaults.get("date")
        return value if isinstance(value, dt.date) else None


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


def parse_latlon(text: str) -> Place | None:
    """`LAT,LON` in degrees as a Place, None where the text is something else.

    >>> parse_latlon("54.4,-24.05")
    Place(lon_deg=-24.05, lat_deg=54.4, name='')
    """
    parts = text.split(",")
    try:
        lat, lon = (float(part) for part in parts)
    except ValueError:
        return None
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        raise TerrainError(f"{text} is not a place: give LAT,LON in degrees, latitude first")
    return Place(lon_deg=lon, lat_deg=lat)


_KEYS = {
    "name", "rasters", "crs", "height_unit", "summits", "paths", "places", "starts", "kit",
    "defaults",
}  # fmt: skip


def _read(path: Path) -> Area:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise TerrainError(f"cannot read {path}: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise TerrainError(f"{path} is not a TOML file: {error}") from error
    unknown = sorted(set(content) - _KEYS)
    if unknown:
        raise TerrainError(f"{path} has {unknown[0]!r}, which means nothing: use {sorted(_KEYS)}")
    rasters = content.get("rasters")
    if not isinstance(rasters, list) or not rasters:
        raise TerrainError(f'{path} names no rasters: write rasters = ["file.tif"]')
    _check_types(path, content)
    here = path.parent
    return Area(
        rasters=tuple(here / str(raster) for raster in rasters),
        name=str(content.get("name", "")),
        crs=content.get("crs"),
        height_unit=str(content.get("height_unit", "metre")),
        summits=here / content["summits"] if "summits" in content else None,
        paths=here / content["paths"] if "paths" in content else None,
        places=_places(path, content, "places"),
        starts=_places(path, content, "starts"),
        kit=content.get("kit", {}),
        defaults=content.get("defaults", {}),
    )


_TEXTS = ("name", "crs", "height_unit", "summits", "paths")


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


def _places(path: Path, content: dict[str, Any], key: str) -> dict[str, Place]:
    table = content.get(key, {})
    if not isinstance(table, dict):
        raise TerrainError(f"{path}: [{key}] must be a table of names with [LAT, LON]")
    return {name: _point(path, name, value) for name, value in table.items()}


def _point(path: Path, name: str, value: object) -> Place:
    text = ",".join(map(str, value)) if isinstance(value, list) else str(value)
    point = parse_latlon(text)
    if point is None:
        raise TerrainError(f"{path}: {name!r} must be [LAT, LON] in degrees, got {value!r}")
    return Place(lon_deg=point.lon_deg, lat_deg=point.lat_deg, name=name)


def by_name(text: str, known: Mapping[str, Place], kind: str, advice: str) -> Place:
    """The place of a name, case aside; TerrainError that lists close names where there is none."""
    folded = {name.casefold(): place for name, place in known.items()}
    if text.casefold() in folded:
        return folded[text.casefold()]
    within = [name for name in folded if text.casefold() in name]
    close = within[:3] or difflib.get_close_matches(text.casefold(), list(folded), n=3)
    hint = f"; did you mean {' or '.join(folded[name].name for name in close)}?" if close else ""
    raise TerrainError(f"no {kind} is called {text!r}: {advice}{hint}")
