"""The light that comes to a camera from ground, mist and sky, cell by cell of a picture.

Ground throws back what sun and sky send it, as matt as paper (Lambert); mist scatters it, most of
it onward, so that it is brightest toward a low sun and greyer where it is thin; the air between
dims it all and adds its own. How much of the sun each place sees is told by its own horizon.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Floats, Singles, sealed
from terrain.constants import EARTH_RADIUS_M
from terrain.cores import share_out
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.show.view._ray_kernels import light_rays
from terrain.show.view._scenery_kernels import Lights, Look, Surface
from terrain.show.view._shadow_kernels import shadow_heights
from terrain.show.view.moment import Moment
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import horizon_on_grid
from terrain.sight.seen import SeenGround, seen_ground
from terrain.view.scene import Scene

GRASS: Final = (0.105, 0.095, 0.048)
ROCK: Final = (0.150, 0.138, 0.122)
"""What share of light they throw back, linear sRGB: autumn grass, weathered rock (from memory)."""

_LIFT: Final = (6.0, 4.5)
"""Of the sky's light on ground and mist before the sun, and when it stands over LIFTED_DEG."""

_LIFTED_DEG: Final = 5.0

_SKY_CELLS: Final = (120, 64)
_OVER_MIST_DEG: Final = 2.0
_FAR_STEP: Final = 20.0
_DISC_DEG: Final = 0.45
_DIRECT_DEG: Final = 0.5
_WIDE_CELLS: Final = 2.0
_SOFT_CELLS: Final = 0.8
_SWELL_M: Final = 150.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Scenery:
    """What a spot sees in a picture, to be lit by one sun after another.

    seen: its ground and mist.
    """

    scene: Scene
    spot: Spot
    seen: SeenGround

    def light(self, moment: Moment) -> Singles:
        """Linear sRGB whose luminance is in cd/m², (rows, cols, 3), the sun's disc with it."""
        seen = self.seen
        light = np.empty((seen.azimuth_deg.size, seen.altitude_deg.size, 3), dtype=np.float32)
        lights, surface, look = self._lights(moment), self._lit(moment), self._look(moment.eye_m)
        air = moment.hazes(
            (float(seen.azimuth_deg[0]), float(seen.azimuth_deg[-1])), self._far_m, self._heights_m
        )
        # the odd rays lie between the even ones
        for odd in (0, 1):

            def fill(first: int, end: int, odd: int = odd) -> None:
                light_rays((first, end, odd), surface, look, lights, air, light)

            share_out((len(light) + 1 - odd) // 2, fill)
        self._add_disc(moment, light)
        return light.transpose(1, 0, 2)

    @property
    def shows_mist(self) -> bool:
        """Whether any mist is in the picture."""
        seen, over_m = self.seen, self._over_m
        there = ~np.isnan(seen.distance_m)
        if not over_m.size or not there.any():
            return False
        rows, cols = self._part
        at = np.rint(seen.row[there]) - rows.start, np.rint(seen.col[there]) - cols.start
        found = over_m[nearest_cells(*at, over_m.shape)]
        return bool((found < 0.0).any())

    @cached_property
    def _far_m(self) -> float:
        """As far as any ground is seen, a little more so that pictures of a series agree."""
        reach = self.seen.distance_m
        far = 0.0 if np.isnan(reach).all() else math.sqrt(float(np.nanmax(reach)))
        return float((_FAR_STEP * (math.floor(far / _FAR_STEP) + 1.0)) ** 2)

    @cached_property
    def _heights_m(self) -> tuple[float, float]:
        heights = self.scene.dem.heights_m
        low = float(np.nanmin(heights))
        return low, max(float(np.nanmax(heights)), low + 1.0)

    @cached_property
    def _part(self) -> tuple[slice, slice]:
        """The part of the raster that lies about what is seen."""
        return _reached(self.seen.row), _reached(self.seen.col)

    @cached_property
    def _turn_deg(self) -> float:
        """From an azimuth on the grid to that from true north, at the spot."""
        return float(self.scene.dem.grid.convergence_deg(self.spot.lon_deg, self.spot.lat_deg))

    def _look(self, eye_m: float) -> Look:
        seen, (rows, cols) = self.seen, self._part
        on_grid = np.radians(seen.azimuth_deg - self._turn_deg)
        row, col = self.scene.dem.grid.rowcol(self.spot.lon_deg, self.spot.lat_deg)
        return Look(
            distance_m=np.ascontiguousarray(seen.distance_m.T),
            row=np.ascontiguousarray(seen.row.T) - np.float32(rows.start),
            col=np.ascontiguousarray(seen.col.T) - np.float32(cols.start),
            sines=np.sin(on_grid),
            cosines=np.cos(on_grid),
            slopes=np.tan(np.radians(seen.altitude_deg)),
            from_row=float(row) - rows.start,
            from_col=float(col) - cols.start,
            eye_m=eye_m,
            bend=bend_per_m(self.scene.refraction),
            near_m=self.scene.dem.cell_m / (_WIDE_CELLS * self._step_rad),
        )

    @property
    def _step_rad(self) -> float:
        azimuths = self.seen.azimuth_deg
        return math.radians(float(azimuths[-1] - azimuths[0]) / max(azimuths.size - 1, 1))

    def _lights(self, moment: Moment) -> Lights:
        azimuths, altitudes = self.seen.azimuth_deg, self.seen.altitude_deg
        rows, rays = _SKY_CELLS
        aside = math.radians(moment.azimuth_deg - self._turn_deg)
        up = math.radians(moment.seen_deg)
        level = math.cos(up)
        low_m, high_m = self._heights_m
        return Lights(
            toward=np.array([level * math.sin(aside), level * math.cos(aside), math.sin(up)]),
            sun=moment.sun_at(low_m, high_m),
            low_m=low_m,
            high_m=high_m,
            round=moment.round(self._turn_deg),
            sky=moment.sky_at(
                np.linspace(azimuths[0], azimuths[-1], rays),
                np.linspace(altitudes[0], altitudes[-1], rows),
            ),
            over_mist=moment.sky_at(azimuths, np.array([_OVER_MIST_DEG]))[0],
            albedo=np.array([GRASS, ROCK]),
            lift=_lift(moment.seen_deg),
            direct=float(np.clip((moment.seen_deg + _DIRECT_DEG) / (2.0 * _DIRECT_DEG), 0.0, 1.0)),
        )

    @cached_property
    def _slopes(self) -> tuple[Singles, Singles]:
        """How steeply the ground rises to the grid's east and north."""
        return self._rise(0.6)

    @cached_property
    def _swell(self) -> tuple[Singles, Singles]:
        return self._rise(_SWELL_M / self.scene.dem.cell_m)

    def _rise(self, blur_cells: float) -> tuple[Singles, Singles]:
        heights = self.scene.dem.heights_m[self._part]
        heights = np.nan_to_num(heights, nan=float(np.nanmin(heights)))
        smoothed = ndimage.gaussian_filter(heights, blur_cells, truncate=2.5)
        down, along = np.gradient(smoothed, np.float32(self.scene.dem.cell_m))
        return np.asarray(along, np.float32), np.asarray(-down, np.float32)

    @cached_property
    def _over_m(self) -> Singles:
        mist = self.scene.mist
        if mist is None:
            return np.empty((0, 0), dtype=np.float32)
        return np.ascontiguousarray(mist.height_over(self.scene.dem)[self._part], dtype=np.float32)

    def _lit(self, moment: Moment) -> Surface:
        """The ground with how much of the sun each of its cells sees."""
        east, north = self._slopes
        lit = np.zeros(east.shape, dtype=np.float32)
        if moment.sun_at(*self._heights_m).any():
            lit = _share_of_disc(
                (self._sun_deg(moment, east.shape) - self._horizon(moment.azimuth_deg))
                / moment.semidiameter_deg
            )
        parts = (east, north, *self._swell, lit, self._shadow(moment), self._over_m)
        # sealed as heights are, lest what reads between cells be compiled twice
        return Surface(*map(sealed, parts))

    def _shadow(self, moment: Moment) -> Singles:
        """Height above which the sun reaches the air over each cell of the part."""
        heights = self.scene.seen.heights_m
        aside = math.radians(moment.azimuth_deg - self._turn_deg)
        east, south = math.sin(aside), -math.cos(aside)
        longer = max(abs(east), abs(south))
        step_m = self.scene.dem.cell_m / longer
        fall_m = step_m * math.tan(math.radians(moment.seen_deg))
        found = np.empty_like(heights)
        shadow_heights(heights, south / longer, east / longer, fall_m, found)
        return np.ascontiguousarray(found[self._part])

    def _horizon(self, azimuth_deg: float) -> Singles:
        """The horizon of each cell of the part toward the sun, with the mist on the ground."""
        grid, spot = self.scene.dem.grid, self.spot
        middle = float(grid.convergence_deg(*grid.centre_lonlat))
        toward = azimuth_deg + middle - float(grid.convergence_deg(spot.lon_deg, spot.lat_deg))
        found = horizon_on_grid(self.scene.seen, toward, refraction=self.scene.refraction)
        return np.nan_to_num(found[self._part], nan=-90.0)

    def _sun_deg(self, moment: Moment, shape: tuple[int, ...]) -> Floats:
        """Where the sun is seen from each cell: farther toward it, it stands higher."""
        grid, (rows, cols) = self.scene.dem.grid, self._part
        row, col = np.linspace(0, shape[0] - 1, 9), np.linspace(0, shape[1] - 1, 9)
        down, along = np.meshgrid(row + rows.start, col + cols.start, indexing="ij")
        azimuth, distance = azimuth_and_distance(
            self.spot.lon_deg, self.spot.lat_deg, *grid.lonlat(down, along)
        )
        nearer = np.cos(np.radians(wrap_deg(azimuth - moment.azimuth_deg)))
        lifted = moment.seen_deg + np.degrees(distance * nearer / EARTH_RADIUS_M)
        zoom = np.meshgrid(
            np.linspace(0, 8, shape[0]), np.linspace(0, 8, shape[1]), indexing="ij", sparse=False
        )
        return np.asarray(ndimage.map_coordinates(lifted, zoom, order=1), dtype=np.float32)

    def _add_disc(self, moment: Moment, light: Singles) -> None:
        """The disc of the sun where nothing hides it; light: (cols, rows, 3)."""
        seen = self.seen
        aside = np.abs(wrap_deg(seen.azimuth_deg - moment.azimuth_deg))
        aside *= math.cos(math.radians(moment.seen_deg))
        cols = _span(aside < _DISC_DEG)
        rows = _span(np.abs(seen.altitude_deg - moment.seen_deg) < _DISC_DEG)
        if cols.stop == cols.start or rows.stop == rows.start:
            return
        disc = moment.disc_at(seen.azimuth_deg[cols], seen.altitude_deg[rows])
        open_sky = np.isnan(seen.distance_m[rows, cols])[..., np.newaxis]
        light[cols, rows] += np.where(open_sky, disc, 0.0).transpose(1, 0, 2).astype(np.float32)


def scenery(scene: Scene, spot: Spot, azimuths_deg: Floats, altitudes_deg: Floats) -> Scenery:
    """What a spot sees in the cells of a picture, over the ground and mist of a scene."""
    seen = seen_ground(
        scene.dem,
        spot,
        azimuths_deg,
        altitudes_deg,
        lid_m=None if scene.mist is None else scene.mist.lid_m,
        lid_top_m=None if scene.mist is None else scene.mist.highest_m,
        refraction=scene.refraction,
    )
    return Scenery(scene=scene, spot=spot, seen=seen)


def _lift(sun_deg: float) -> float:
    """As with a graduated filter before the lens: most while the sun is not up."""
    return float(np.interp(sun_deg, [0.0, _LIFTED_DEG], _LIFT))


def _share_of_disc(over: Floats) -> Singles:
    """How much of a disc shows whose middle stands so many of its radii over an edge."""
    over = np.clip(over, -1.0, 1.0)
    share = 0.5 + (over * np.sqrt(1.0 - over**2) + np.arcsin(over)) / math.pi
    return np.asarray(ndimage.gaussian_filter(share, _SOFT_CELLS), dtype=np.float32)


def _span(kept: Flags) -> slice:
    found = np.flatnonzero(kept)
    return slice(int(found[0]), int(found[-1]) + 1) if found.size else slice(0, 0)


def _reached(at: Singles) -> slice:
    """The rows or columns of a raster that lie about what is seen."""
    if np.isnan(at).all():
        return slice(0, 4)
    return slice(max(int(np.nanmin(at)) - 2, 0), int(np.nanmax(at)) + 4)
