"""What lies on a desk: its ground, the mists tried over it, and every answer kept for a while.

A desk is opened with an `Opening`, in no time; its ground is read afterwards, by `lay`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.mists import MistSaid, mist_said
from terrain.desk.on_ground import check_ground
from terrain.desk.planes import Scale, Tile, metres_from, tiles_of
from terrain.desk.work import Job, Kept
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.sun.calendar import Span

_ABOVE_M: Final = 250.0
"""How far above the highest ground the planes still count heights: mist may lie there."""

_MOST_EYE_M: Final = 999.0


class Tract(Protocol):
    """The area that a desk is about: its ground, places and defaults."""

    @property
    def name(self) -> str:
        """What it is called, "" for nothing."""

    @property
    def rasters(self) -> tuple[Path, ...]:
        """The files of its ground."""

    @property
    def summits(self) -> Path | None:
        """The file of its names."""

    @property
    def places(self) -> Mapping[str, terrain.Spot]:
        """Its places by their names."""

    @property
    def starts(self) -> Mapping[str, terrain.Spot]:
        """Where a walk can start."""

    @property
    def defaults(self) -> Mapping[str, Any]:
        """What is meant where nothing is said."""

    def spot(self, text: str) -> terrain.Spot:
        """A place from LAT,LON or its name."""

    def hill_place(self, text: str | None) -> terrain.Spot:
        """Where a hill is, from its name or LAT,LON."""

    def day(self, text: str | None, place: terrain.Spot, *, evening: bool = False) -> dt.date:
        """The day that a text means at a place."""

    def dem(self, around: terrain.Spot | None = None) -> terrain.Dem:
        """Its ground, all of it or that about a place."""

    def under_sky(self, country: terrain.Country, around: terrain.Spot) -> terrain.Country:
        """Its ground about a place, with what makes skylines from beyond."""

    def ways(self) -> gpd.GeoDataFrame | None:
        """The ways to walk on."""


@dataclass(frozen=True, kw_only=True)
class Opening:
    """What a desk is opened with: the area, and what the page is to show at first.

    kit: of the photographer. stand_on: where a camera stands that is put to a place. days_of_year:
    the days that a year means at a place, of an evening or not. hill, date, spot: as a command line
    has them; the area's own, or none, unless given. survey: the table of a survey, best first.
    """

    tract: Tract
    kit: Callable[[], terrain.Kit]
    stand_on: Callable[[terrain.Country, terrain.Spot], terrain.Spot]
    days_of_year: Callable[[str, terrain.Spot, bool], Span]
    hill: str | None = None
    date: str | None = None
    spot: str | None = None
    evening: bool = False
    survey: gpd.GeoDataFrame | None = None

    @property
    def has_hill(self) -> bool:
        """Whether a hill is meant."""
        return bool(self.hill or self.tract.defaults.get("hill"))


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """The ground of a desk as the page draws it first: read in no time, and nothing known of it.

    scale: of heights, in metres.
    """

    dem: terrain.Dem
    scale: Scale
    tiles: list[Tile]

    def tile(self, asked: Asked) -> Tile:
        """The tile that a request is about."""
        return self.tiles[asked.whole("tile", least=0, most=len(self.tiles) - 1)]


@dataclass(frozen=True, kw_only=True, eq=False)
class Table:
    """The ground of a desk with all that is kept of it.

    summits: as `find_summits` gives them. views: those looked at last.
    """

    opening: Opening
    ground: Ground
    country: terrain.Country
    summits: gpd.GeoDataFrame
    kit: terrain.Kit
    _mists: Kept = field(default_factory=lambda: Kept(6))
    _scenes: Kept = field(default_factory=lambda: Kept(6))
    _answers: Kept = field(default_factory=lambda: Kept(24))
    views: Kept = field(default_factory=lambda: Kept(12))

    @property
    def tract(self) -> Tract:
        """The area."""
        return self.opening.tract

    @property
    def scale(self) -> Scale:
        """Of heights, in metres."""
        return self.ground.scale

    def tile(self, asked: Asked) -> Tile:
        """The tile that a request is about."""
        return self.ground.tile(asked)

    def mist_said(self, asked: Asked) -> MistSaid:
        """The mist that a request says; none unless it does."""
        return mist_said(asked.text("mist", "none"))

    def under(self, said: MistSaid) -> terrain.Country:
        """The ground under a mist."""
        return self._mists.get(said, lambda: self.country.under(said.over(self.country)))

    def hill(self, text: str) -> terrain.Hill:
        """The hill of a name or LAT,LON: its highest ground near there."""
        place = self.tract.hill_place(text)
        return terrain.hill_at(self.country.dem, place.lon_deg, place.lat_deg, name=place.name)

    def scene(self, asked: Asked) -> terrain.Scene:
        """What all spots have in common for the hill and the mist of a request."""
        hill, said = asked.text("hill"), self.mist_said(asked)
        return self._scenes.get(
            (hill, said), lambda: terrain.Scene(self.under(said), self.hill(hill))
        )

    def given(self, asked: Asked) -> terrain.Spot:
        """The place of a request, by its name where it is one that the area names."""
        lat, lon = (
            asked.number(name, least=-most, most=most)
            for name, most in (("lat_deg", 90.0), ("lon_deg", 180.0))
        )
        eye = asked.number("eye_m", 1.7, least=0.0, most=_MOST_EYE_M)
        return terrain.Spot(lon_deg=lon, lat_deg=lat, eye_m=eye)

    def camera(self, given: terrain.Spot) -> terrain.Spot:
        """Where a camera stands that is put to a place."""
        return self.opening.stand_on(self.country, given)

    def kept(self, key: Any, make: Callable[[], Any], job: Job) -> Any:
        """An answer that is kept for a while, made where it is not there yet."""
        return self._answers.get(key, make, job)


def lay(opening: Opening, show: Callable[[Ground], None] = lambda ground: None) -> Table:
    """Read the ground of a desk; TerrainError where that, or what the page begins with, is none.

    show: is told the ground as soon as that is read, before what takes longer.
    """
    tract = opening.tract
    place = tract.hill_place(opening.hill) if opening.has_hill else None
    ground = ground_over(tract.dem(place))
    show(ground)
    country = terrain.Country(ground.dem)
    if place is not None:
        country = tract.under_sky(country, place)
    if opening.spot is not None:
        tract.spot(opening.spot)
    if opening.date is not None:
        lon_deg, lat_deg = country.dem.grid.centre_lonlat
        tract.day(opening.date, terrain.Spot(lon_deg=lon_deg, lat_deg=lat_deg))
    if opening.survey is not None:
        check_ground(opening.survey, country.dem)
    return table_over(opening, ground, country)


def ground_over(dem: terrain.Dem) -> Ground:
    """Some ground for a page; TerrainError where none of it is known."""
    heights = dem.heights_m
    if np.isnan(heights).all():
        raise TerrainError("the raster holds no known ground: choose another")
    low_m, high_m = float(np.nanmin(heights)), float(np.nanmax(heights))
    scale = metres_from(low_m, high_m + _ABOVE_M)
    return Ground(dem=dem, scale=scale, tiles=tiles_of(dem.shape))


def table_over(opening: Opening, ground: Ground, country: terrain.Country) -> Table:
    """A desk over some ground."""
    return Table(
        opening=opening,
        ground=ground,
        country=country,
        summits=country.summits(names=opening.tract.summits),
        kit=opening.kit(),
    )
