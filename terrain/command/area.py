"""An area: its ground, places, starts, kit and defaults, and what a command line means by them."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.days import day_meant
from terrain.command.fetched import ground_for
from terrain.command.place_names import place_at, place_called, place_on
from terrain.command.report import aside
from terrain.command.room import Room
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.places import Spot

if TYPE_CHECKING:
    import geopandas as gpd


_TOP_DROP_M = 10.0


@dataclass(frozen=True, kw_only=True)
class Area:
    """What an area file says; a bare list of rasters is an area with nothing else known.

    trust: whether the rasters may name files anywhere; a command line says it, no area file.
    reach_km: how far round a place the ground is read. cell_m: the side of its cells, where it is
    asked for. room: for how much ground there is memory; a command says it, for its own work.
    offline: that no ground may be fetched.
    """

    rasters: tuple[Path, ...]
    name: str = ""
    crs: str | None = None
    height_unit: str | None = None
    band: int | None = None
    variable: str | None = None
    trust: bool = False
    reach_km: float = 60.0
    cell_m: float | None = None
    room: Room | None = None
    offline: bool = False
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
        """A place from coordinates or from its name in the area; TerrainError for neither."""
        return self.at(text) or place_called(
            text,
            (self.places.values(), self.starts.values(), self.named),
            "place",
            "give LAT,LON, or name it in a file of places (--names)",
        )

    def at(self, text: str) -> Spot | None:
        """A place from degrees, or from metres of a grid; None for what is neither."""
        return place_at(text) or place_on(text, self._crs)

    def _crs(self) -> Any:
        from terrain.ground.raster.read import grid_of
        from terrain.ground.raster.sheet import Said

        return grid_of(list(self.rasters), Said(**self.said)).crs

    def hill_place(self, text: str | None) -> Spot:
        """Where the hill is: from coordinates, from the summit names or places, or the default."""
        wanted = text or self.defaults.get("hill")
        if not wanted:
            raise TerrainError("no hill was given: add --hill with its name or LAT,LON")
        return self.at(str(wanted)) or place_called(
            str(wanted),
            (self.named, self.places.values(), self.starts.values()),
            "hill",
            "give LAT,LON, or a name from a file of places (--names)",
        )

    @property
    def files(self) -> tuple[Path, ...]:
        """What it is read from."""
        others = (self.summits, self.paths)
        return (*self.rasters, *(file for file in others if file is not None))

    @property
    def all_named(self) -> list[Spot]:
        """All that has a name for a map: the summits in the order of their file, and the places."""
        return [*self.named, *self.places.values()]

    @cached_property
    def named(self) -> tuple[Spot, ...]:
        """The places of the file of names, none without one; several may have one name."""
        if self.summits is None:
            return ()
        names = terrain.read_names(self.summits)
        return tuple(
            Spot(lon_deg=float(at.x), lat_deg=float(at.y), name=str(name))
            for name, at in zip(names["name"], names.geometry, strict=True)
        )

    def starts_of(self, texts: list[str] | None) -> list[Spot]:
        """Where a walk can start: the places given, or else the starts of the area."""
        return [self.spot(text) for text in texts] if texts else list(self.starts.values())

    def country(
        self, around: Spot | None = None, *, progress: Callable[[float], None] = lambda share: None
    ) -> terrain.Country:
        """The ground of the area with all that is kept of it; see `dem`."""
        return terrain.Country(self.dem(around, progress=progress))

    def dem(
        self, around: Spot | None = None, *, progress: Callable[[float], None] = lambda share: None
    ) -> terrain.Dem:
        """The ground of the area: all of it, or what lies within the reach of a place.

        At larger cells where there is not the memory for its own, which is told.
        """
        asked: dict[str, Any] = {
            "around": around,
            "reach_m": None if around is None else 1000.0 * self.reach_km,
            "cell_m": self.cell_m,
        }
        rasters, brought = ground_for(self, around)
        most_cells = None
        if self.room is not None:
            from terrain.ground.raster.read import how_coarse

            most_cells = self.room.most_cells
            coarse = partial(how_coarse, rasters, **asked, **self.said)
            self.room.check(coarse, is_whole=around is None)
        dem = terrain.read_dem(
            rasters, **asked, **self.said, most_cells=most_cells, progress=progress
        )
        if brought is not None:
            dem = replace(dem, credit=brought.credit, vertical_datum=brought.datum)
            aside(f"note: the ground is {brought.source}: {brought.credit or brought.source}")
        for doubt in dem.doubts:
            aside(f"note: {doubt}")
        return dem

    def country_under_sky(self, around: Spot, *, only_there: bool = False) -> terrain.Country:
        """The same about a place, and ground beyond the reach as far as it can make a skyline.

        only_there: of the camera there alone.
        """
        country = self.country(around)
        camera = stand_on(country, self, around) if only_there else around
        return self.under_sky(country, camera, only_there=only_there)

    def under_sky(
        self, country: terrain.Country, around: Spot, *, only_there: bool = False
    ) -> terrain.Country:
        """Ground that was read about a place with that from beyond."""
        rasters, _ = ground_for(self, around)
        dem = terrain.with_far_ground(
            country.dem, rasters, around=around, only_there=only_there, **self.said
        )
        if dem.far is None:
            return country
        aside(f"note: the ground is read for {self.reach_km:g} km about the place; {dem.far.how}")
        return terrain.Country(dem)

    @property
    def said(self) -> dict[str, Any]:
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
    if place in area.named:
        return terrain.top_beside(country.dem, place)
    return terrain.top_beside(
        country.dem, place, least_drop_m=_TOP_DROP_M, most_rise_m=2.0 * country.accuracy.raster_m
    )


def hill_on(country: terrain.Country, place: Spot) -> terrain.Hill:
    """The hill whose summit is at a place, or the highest ground close by."""
    return terrain.hill_at(country.dem, place.lon_deg, place.lat_deg, name=place.name)


def none_so_prominent(country: terrain.Country, prominence_m: float) -> NoAnswer:
    """That no summit is so prominent, and how prominent the most prominent is."""
    said = f"no summit here has a prominence of {prominence_m:g} m"
    every = country.summits(min_prominence_m=min(1.0, prominence_m))
    if every.empty:
        return NoAnswer(f"{said}, nor any other")
    most_m = math.floor(every["prominence_m"].max())
    loosen = [{"min_prominence_m": most_m}] if most_m > 0 else []
    return NoAnswer(f"{said}: the most prominent has {most_m} m", loosen=loosen)


def middle_of(country: terrain.Country) -> Spot:
    """The middle of all ground that is read, where no place is asked about."""
    lon_deg, lat_deg = country.dem.grid.centre_lonlat
    return Spot(lon_deg=lon_deg, lat_deg=lat_deg)
