"""An area: its ground, places, starts, kit and defaults, and what a command line means by them.

A file keeps them, so that none is typed twice. It is TOML::

    name = "..."                          # of the area
    rasters = ["a.tif", "b.tif"]          # relative to the file; one mosaic
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
    [defaults]                            # hill, mist_top_m, date, ...
"""

from __future__ import annotations

import datetime as dt
import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.days import day_meant
from terrain.command.report import aside
from terrain.errors import TerrainError
from terrain.ground.places import Spot

if TYPE_CHECKING:
    import geopandas as gpd


_TOP_DROP_M = 10.0


@dataclass(frozen=True, kw_only=True)
class Area:
    """What an area file says; a bare list of rasters is an area with nothing else known.

    trust: whether the rasters may name files anywhere; a command line says it, no area file.
    reach_km: how far round a place the ground is read.
    """

    rasters: tuple[Path, ...]
    name: str = ""
    crs: str | None = None
    height_unit: str | None = None
    band: int | None = None
    variable: str | None = None
    trust: bool = False
    reach_km: float = 60.0
    summits: Path | None = None
    paths: Path | None = None
    places: Mapping[str, Spot] = field(default_factory=dict)
    starts: Mapping[str, Spot] = field(default_factory=dict)
    kit: Mapping[str, Any] = field(default_factory=dict)
    defaults: Mapping[str, Any] = field(default_factory=dict)

    def under(self, **options: Any) -> Area:
        """The area with what the options say over what its file says; None says nothing."""
        return replace(
            self, **{key: said for key, said in options.items() if said not in (None, "")}
        )

    def spot(self, text: str) -> Spot:
        """A place from `LAT,LON` or from its name in the area; TerrainError for neither."""
        return _parse_latlon(text) or _by_name(
            text,
            {**self.named, **self.starts, **self.places},
            "place",
            "give LAT,LON, or name it in a file of places",
        )

    def hill_place(self, text: str | None) -> Spot:
        """Where the hill is: from LAT,LON, from the summit names or places, or the default."""
        wanted = text or self.defaults.get("hill")
        if not wanted:
            raise TerrainError("no hill was given: add --hill with its name or LAT,LON")
        return _parse_latlon(str(wanted)) or _by_name(
            str(wanted),
            {**self.starts, **self.places, **self.named},
            "hill",
            "give LAT,LON, or a name from a file of places",
        )

    @cached_property
    def named(self) -> Mapping[str, Spot]:
        """The places of the file of names, none without one."""
        if self.summits is None:
            return {}
        names = terrain.read_names(self.summits)
        return {
            str(name): Spot(lon_deg=float(at.x), lat_deg=float(at.y), name=str(name))
            for name, at in zip(names["name"], names.geometry, strict=True)
        }

    def starts_of(self, texts: list[str] | None) -> list[Spot]:
        """Where a walk can start: the places given, or else the starts of the area."""
        return [self.spot(text) for text in texts] if texts else list(self.starts.values())

    def country(self, around: Spot | None = None) -> terrain.Country:
        """The ground of the area: all of it, or what lies within the reach of a place."""
        if not self.reach_km > 0.0:
            raise TerrainError(f"the reach must be more than 0 km, got {self.reach_km:g}")
        dem = terrain.read_dem(
            list(self.rasters),
            around=around,
            reach_m=None if around is None else 1000.0 * self.reach_km,
            **self._said,
        )
        for doubt in dem.doubts:
            aside(f"note: {doubt}")
        return terrain.Country(dem)

    def country_under_sky(self, around: Spot, *, only_there: bool = False) -> terrain.Country:
        """The same about a place, and ground beyond the reach as far as it can make a skyline.

        only_there: of the camera there alone.
        """
        country = self.country(around)
        dem = terrain.with_far_ground(
            country.dem,
            list(self.rasters),
            around=stand_on(country, self, around) if only_there else around,
            only_there=only_there,
            **self._said,
        )
        if dem.far is None:
            return country
        aside(f"note: the ground is read for {self.reach_km:g} km about the place; {dem.far.how}")
        return terrain.Country(dem)

    @property
    def _said(self) -> dict[str, Any]:
        """What is said of the rasters."""
        names = ("crs", "height_unit", "band", "variable", "trust")
        return {name: getattr(self, name) for name in names}

    def ways(self) -> gpd.GeoDataFrame | None:
        """The ways to walk on, None where the area has no file of them."""
        return None if self.paths is None else terrain.read_paths(self.paths)

    def day(self, text: str | None, place: Spot, *, evening: bool = False) -> dt.date:
        """A day at a place as `day_meant` has it, where none is given the area's default."""
        said = self.defaults.get("date") if text is None else text
        return said if isinstance(said, dt.date) else day_meant(said, place, evening=evening)


def stand_on(country: terrain.Country, area: Area, place: Spot) -> Spot:
    """Where a camera stands: on the raster's own top where the place is one, or else at the place.

    A name among the summits means the top beside it. A place without one is taken for that of a
    top only where the raster could not tell: its own height is hardly less.
    """
    if area.named.get(place.name) == place:
        return terrain.top_beside(country.dem, place)
    return terrain.top_beside(
        country.dem, place, least_drop_m=_TOP_DROP_M, most_rise_m=2.0 * country.accuracy.raster_m
    )


def hill_on(country: terrain.Country, place: Spot) -> terrain.Hill:
    """The hill whose summit is at a place, or the highest ground close by."""
    return terrain.hill_at(country.dem, place.lon_deg, place.lat_deg, name=place.name)


def middle_of(country: terrain.Country) -> Spot:
    """The middle of all ground that is read, where no place is asked about."""
    lon_deg, lat_deg = country.dem.grid.centre_lonlat
    return Spot(lon_deg=lon_deg, lat_deg=lat_deg)


def _parse_latlon(text: str) -> Spot | None:
    """`LAT,LON` in degrees as a place, None where the text is something else.

    >>> _parse_latlon("54.4,-24.05")
    Spot(lon_deg=-24.05, lat_deg=54.4, eye_m=1.7, name='')
    """
    parts = text.split(",")
    try:
        lat, lon = (float(part) for part in parts)
    except ValueError:
        return None
    if not (-90.0 <= lat <= 90.0 and -180.0 <= lon <= 180.0):
        raise TerrainError(f"{text} is not a place: give LAT,LON in degrees, latitude first")
    return Spot(lon_deg=lon, lat_deg=lat)


def _by_name(text: str, known: Mapping[str, Spot], kind: str, advice: str) -> Spot:
    """The place of a name, case aside; TerrainError that lists close names where there is none."""
    folded = {name.casefold(): place for name, place in known.items()}
    if text.casefold() in folded:
        return folded[text.casefold()]
    within = [name for name in folded if text.casefold() in name]
    close = within[:3] or difflib.get_close_matches(text.casefold(), list(folded), n=3)
    hint = f"; did you mean {' or '.join(folded[name].name for name in close)}?" if close else ""
    raise TerrainError(f"no {kind} is called {text!r}: {advice}{hint}")


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


_TEXTS = ("name", "crs", "height_unit", "variable", "summits", "paths")
_KEYS = sorted({"rasters", "band", "places", "starts", "kit", "defaults", *_TEXTS})


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
    spots = {key: _places(path, content, key) for key in ("places", "starts")}
    content |= files | spots | {"rasters": tuple(here / str(raster) for raster in rasters)}
    return Area(**content)


def _check_types(path: Path, content: Mapping[str, Any]) -> None:
    for key in _TEXTS:
        _check_type(f"{path}: {key}", content.get(key), (str,), "text in quotes")
    _check_type(f"{path}: band", content.get("band"), (int,), "a whole number from 1")
    for key in ("kit", "defaults"):
        _check_type(f"{path}: [{key}]", content.get(key), (dict,), "a table")
    for key, kinds, what in _DEFAULTS:
        value = content.get("defaults", {}).get(key)
        _check_type(f"{path}: {key} among [defaults]", value, kinds, what)


def _check_type(name: str, value: object, kinds: tuple[type, ...], what: str) -> None:
    # to Python a TOML truth value is a number, and a moment is a date
    is_one = isinstance(value, kinds) and not isinstance(value, bool | dt.datetime)
    if value is not None and not is_one:
        raise TerrainError(f"{name} must be {what}, got {value!r}")


_DEFAULTS: tuple[tuple[str, tuple[type, ...], str], ...] = (
    ("hill", (str,), "a name or LAT,LON in quotes"),
    ("mist_top_m", (int, float), "a height in metres"),
    ("date", (dt.date, str), "a date such as 2026-10-13, or a word for one in quotes"),
)


def _places(path: Path, content: dict[str, Any], key: str) -> dict[str, Spot]:
    table = content.get(key, {})
    if not isinstance(table, dict):
        raise TerrainError(f"{path}: [{key}] must be a table of names with [LAT, LON]")
    return {name: _point(path, name, value) for name, value in table.items()}


def _point(path: Path, name: str, value: object) -> Spot:
    text = ",".join(map(str, value)) if isinstance(value, list) else str(value)
    point = _parse_latlon(text)
    if point is None:
        raise TerrainError(f"{path}: {name!r} must be [LAT, LON] in degrees, got {value!r}")
    return replace(point, name=name)
