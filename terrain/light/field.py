"""The sun over every cell of a tile during one day, at a few nodes between which it is smooth.

Across a tile the sun stands differently from end to end, and so does grid north. Both are worked
out at nodes, exactly, and are bilinear between them to better than 0.001 degrees. The sun is that
over the tile's middle, turned: its direction is held fixed in the earth while the horizon under
it tilts from node to node.

The path of an evening goes back from the end of the day, so that there too the sun comes up, and
what comes first is what the clock has last. Seconds of the search are those of the path.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats
from terrain.constants import EARTH_RADIUS_M, LOWEST_LAND_M, TERRESTRIAL_REFRACTION
from terrain.errors import NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.grid import Grid
from terrain.sun.path import SunPath, sun_path
from terrain.sun.refraction import refract, standard_pressure_hpa

NODES: Final = 9
_SAMPLE_S: Final = 60.0
_STILL_DEG_PER_S: Final = 0.0005
_TURNS: Final = 5


class Tables(NamedTuple):
    """The sun at the nodes at several moments; azimuths are unwrapped.

    time_s: (moments, nodes, nodes) seconds of the search. azimuth_deg: the same shape, from true
    north, of the disc's centre. centre_deg, limb_deg: (moments, 2, nodes, nodes), apparent
    altitudes of the centre and of the limb at the lowest height and `span_m` above it.
    """

    time_s: Floats
    azimuth_deg: Floats
    centre_deg: Floats
    limb_deg: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class SunField:
    """The sun over a tile on one local day, as it comes up, or of an evening as it goes down.

    path: over the tile's middle. limb: offset in semi-diameters. turn_deg: (nodes, nodes), true
    azimuth less that of the same direction on the grid at the tile's middle; middle_turn_deg:
    convergence there. low_m, span_m: lowest ground, and how far the highest stands over it.
    starts_s, ends_s: of the search, between which the limb can be seen from somewhere; up_at_start:
    it already can be when the search begins, at the lowest sun of the day.
    """

    path: SunPath
    limb: float
    turn_deg: Floats
    middle_turn_deg: float
    low_m: float
    span_m: float
    starts_s: float
    ends_s: float
    up_at_start: bool
    _basis: Floats
    _temperature_c: float

    @property
    def reach_deg(self) -> float:
        """How far the limb is from the centre of the disc, degrees; never quite nothing."""
        return max(abs(self.limb) * self.path.semidiameter_deg, 1e-9)

    @property
    def convergence_deg(self) -> Floats:
        """Of the grid at the nodes, (nodes, nodes)."""
        return self.turn_deg + self.middle_turn_deg

    def at(self, time_s: Floats) -> Tables:
        """The sun at the nodes at the same moments (moments,) everywhere."""
        shape = (len(time_s), *self.turn_deg.shape)
        return self._tables(np.broadcast_to(time_s[:, np.newaxis, np.newaxis], shape))

    def along(self, time_s: Floats) -> Tables:
        """The sun at the nodes when it stands on one line of the grid, moment by moment.

        That line is the direction on the grid of the sun over the tile's middle at `time_s`. Where
        the sun rises straight up no other moment fits better, and the same one is kept.
        """
        azimuth, _ = self.path.at(time_s)
        line = azimuth[:, np.newaxis, np.newaxis] + self.turn_deg
        wanted = np.repeat(time_s, self.turn_deg.size).reshape(line.shape)
        rate = np.gradient(azimuth, time_s)[:, np.newaxis, np.newaxis]
        for _ in range(_TURNS):
            now, _ = self._true(wanted)
            wanted = wanted + wrap_deg(line - now) * rate / (rate**2 + _STILL_DEG_PER_S**2)
            wanted = np.clip(wanted, 0.0, self.path.length_s)
        return self._tables(wanted)

    def _tables(self, time_s: Floats) -> Tables:
        azimuth, true = self._true(time_s)
        limb = np.clip(true + self.limb * self.path.semidiameter_deg, -90.0, 90.0)
        pressure = standard_pressure_hpa([self.low_m, self.low_m + self.span_m])
        centre, seen = (
            refract(
                angle[:, np.newaxis],
                pressure_hpa=pressure[:, np.newaxis, np.newaxis],
                temperature_c=self._temperature_c,
            )
            for angle in (true, limb)
        )
        tables = (time_s, azimuth, centre, seen)
        return Tables(*(np.ascontiguousarray(table) for table in tables))

    def _true(self, time_s: Floats) -> tuple[Floats, Floats]:
        """True azimuth, unwrapped along the first axis, and true altitude at the nodes."""
        azimuth, altitude = (np.radians(angle) for angle in self.path.true_at(time_s))
        level = np.cos(altitude)
        local = np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(altitude)], -1)
        east, north, up = np.moveaxis(
            np.einsum("...rcij,...rcj->...rci", self._basis, local), -1, 0
        )
        turned = np.degrees(azimuth)
        own = np.degrees(np.arctan2(east, north))
        return turned + wrap_deg(own - turned), np.degrees(np.arcsin(np.clip(up, -1.0, 1.0)))


def sun_field(
    surface: Dem,
    day: dt.date,
    *,
    limb: float = 1.0,
    temperature_c: float = 10.0,
    evening: bool = False,
) -> SunField:
    """The sun over a tile on the local day of its middle.

    surface: ground, or ground and mist. evening: how it goes down. limb: 1 for the upper, -1 for
    the lower, 0 for the centre of the disc. Raises NoGround where no ground is known, NoSun where
    the limb is nowhere seen that day, ValueError for a limb beyond the disc.
    """
    if not -1.0 <= limb <= 1.0:
        raise ValueError(f"a limb of {limb} semi-diameters is not on the disc: give -1 to 1")
    if np.isnan(surface.heights_m).all():
        raise NoGround("no ground of the raster is known: choose another raster")
    grid = surface.grid
    lon, lat = grid.centre_lonlat
    low, high = float(np.nanmin(surface.heights_m)), float(np.nanmax(surface.heights_m))
    # nobody stands on the bed of a sea: it has the sun of the lowest land, and land its own
    low, high = max(low, LOWEST_LAND_M), max(high, LOWEST_LAND_M)
    path = sun_path(
        day,
        lon_deg=lon,
        lat_deg=lat,
        height_m=low,
        temperature_c=temperature_c,
        evening=evening,
    )
    node_lon, node_lat = _nodes(grid)
    middle_turn = float(grid.convergence_deg(lon, lat))
    field = SunField(
        path=path,
        limb=limb,
        turn_deg=grid.convergence_deg(node_lon, node_lat) - middle_turn,
        middle_turn_deg=middle_turn,
        low_m=low,
        span_m=max(high - low, 1.0),
        starts_s=0.0,
        ends_s=path.length_s,
        up_at_start=False,
        _basis=_axes(node_lon, node_lat) @ _axes(lon, lat).T,
        _temperature_c=temperature_c,
    )
    return _between(field, day)


def _between(field: SunField, day: dt.date) -> SunField:
    """The same field with the span of time in which there is anything to see."""
    times = np.append(np.arange(0.0, field.path.length_s, _SAMPLE_S), field.path.length_s)
    tables = field.at(times)
    lowest = -np.degrees(
        np.sqrt(2.0 * field.span_m * (1.0 - TERRESTRIAL_REFRACTION) / EARTH_RADIUS_M)
    )
    highest = tables.limb_deg.max(axis=(1, 2, 3))
    seen = highest > lowest
    if not seen.any():
        raise NoSun(
            f"the sun does not rise over this ground on {day}: "
            f"at its highest it stands {-highest.max():.1f} degrees below the horizontal"
        )
    noon = int(np.argmax(highest))
    low = int(np.argmin(highest[: noon + 1]))
    rises = np.flatnonzero(~seen[: noon + 1])
    start = int(rises[-1]) if rises.size else low
    sets = np.flatnonzero(~seen[noon:])
    end = noon + int(sets[0]) if sets.size else times.size - 1
    return replace(
        field,
        starts_s=float(times[start]),
        ends_s=float(times[end]),
        up_at_start=not rises.size,
    )


def _nodes(grid: Grid) -> tuple[Floats, Floats]:
    """Longitudes and latitudes of the nodes, from edge to edge of the raster."""
    rows, cols = (np.linspace(-0.5, size - 0.5, NODES) for size in grid.shape)
    return grid.lonlat(*np.meshgrid(rows, cols, indexing="ij"))


def _axes(lon_deg: Floats | float, lat_deg: Floats | float) -> Floats:
    """East, north and up at places, as rows (..., 3, 3) in axes fixed in the earth."""
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    nothing = np.zeros_like(lon)
    east = np.stack([-np.sin(lon), np.cos(lon), nothing], -1)
    north = np.stack([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)], -1)
    up = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], -1)
    return np.stack([east, north, up], -2)
