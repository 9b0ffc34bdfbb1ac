"""The engine of a day's light: the first sun on every cell of a surface, or the last.

Its time is that of the search (see `terrain.light.field`), so that an evening is a morning to it.

See the pictures in `terrain.light._sweep_kernels`. How far off the moments are, against the
whole disc over each cell's own skyline: see `terrain.light.arrival`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from terrain.arrays import Flags, Floats, Numbers
from terrain.cores import share_out
from terrain.country import Country
from terrain.light._dark_kernels import stay_dark
from terrain.light._disc_kernels import SkyAtNodes, by_rays
from terrain.light._ray_kernels import block_tops
from terrain.light._sweep_kernels import FirstLight, Relief, SunBetween, Sweep, by_sweeps
from terrain.light.dark import sectors_of
from terrain.light.field import SunField, Tables
from terrain.sight.bend import bend_per_m
from terrain.sight.horizon import horizon_and_distance, horizon_on_grid

SWEEP_S: Final = 120.0
WIDER_DEG: Final = 5.0  # over each so much altitude a further SWEEP_S: high horizons are near ones
WIDEST_S: Final = 480.0
RAYS_S: Final = 150.0
# the rays of a cell that waits take as long as so many cells of a sweep
_RAY_CELLS: Final = 400.0
_LEAST_DEG: Final = 2.0
_NONE: Final = np.empty((0, 0), dtype=np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Search:
    """What is looked for on one day: how far up the sun is followed, and what was found so far."""

    country: Country
    relief: Relief
    field: SunField
    light: FirstLight
    until_deg: float

    @cached_property
    def least_deg(self) -> float:
        """As far up as this all cells are swept; single rays know no ground beyond the raster."""
        relief, far = self.relief, self.country.seen.far
        if far is None:
            return _LEAST_DEG
        return max(_LEAST_DEG, far.highest_deg(relief.heights.shape, relief.low_m))

    def sweep(self, azimuth_deg: float, tables: Tables, step: int) -> Sweep:
        """The horizons along one azimuth, with the sun as it stands there in its tables."""
        dem, refraction = self.country.seen, self.country.refraction
        if self.light.distance_m.size:
            ground, distance_m = horizon_and_distance(dem, azimuth_deg, refraction=refraction)
        else:
            ground, distance_m = horizon_on_grid(dem, azimuth_deg, refraction=refraction), _NONE
        return Sweep(azimuth_deg, ground, distance_m, tables.limb_deg[step], tables.time_s[step])


def first_light(
    country: Country,
    field: SunField,
    *,
    with_distance: bool = False,
    until_deg: float = 90.0,
    progress: Callable[[float], None] = lambda share: None,
) -> FirstLight:
    """The first sun on every cell of a country, or of the mist on it; of an evening the last.

    until_deg: no further than this altitude of the limb is looked. Of an evening `arrives_s` is
    +inf where the disc is up when the day's search begins at its end.
    """
    heights = country.seen.heights_m
    relief = Relief(
        heights=heights,
        tops=block_tops(heights),
        cell_m=country.dem.cell_m,
        bend=bend_per_m(country.refraction),
        low_m=field.low_m,
        span_m=field.span_m,
    )
    found = [np.full(heights.shape, np.nan, dtype=np.float32) for _ in range(3 + with_distance)]
    distance_m = found[3] if with_distance else _NONE
    light = FirstLight(found[0], found[1], found[2], distance_m)
    search = _Search(country=country, relief=relief, field=field, light=light, until_deg=until_deg)
    swept = _sweep(search, progress)
    if swept is not None:
        _cast(search, swept)
    light.arrives_s[np.isposinf(light.arrives_s)] = np.nan
    if field.path.evening:
        np.subtract(field.path.length_s, light.arrives_s, out=light.arrives_s)
    progress(1.0)
    return light


def _sweep(search: _Search, progress: Callable[[float], None]) -> Floats | None:
    """Sweep while many cells wait; up to when each node was swept, or None where all are done."""
    field = search.field
    count = int(np.count_nonzero(~np.isnan(search.relief.heights)))
    times = _sweep_times(field)
    tables, waiting = field.along(times), count
    azimuth = [float(degrees) for degrees in field.path.at(times)[0]]
    before = search.sweep(azimuth[0], tables, 0)
    for step in range(1, times.size):
        waited, after = waiting, search.sweep(azimuth[step], tables, step)
        waiting = _mark(search, before, after, _sun_between(field, tables, step))
        before = after
        progress(1.0 - waiting / count)
        lowest = float(after.limb.min())
        if waiting == 0 or lowest > search.until_deg:
            return None
        rest = count * (times.size - 1 - step)
        pays = (waited - waiting) * _RAY_CELLS > count or waiting * _RAY_CELLS > rest
        if lowest > search.least_deg and not pays:
            return after.time_s
    return None


def _mark(search: _Search, before: Sweep, after: Sweep, sun: SunBetween) -> int:
    """Mark the cells that the limb reaches between two sweeps; how many still wait."""
    relief, light = search.relief, search.light
    return sum(
        share_out(
            len(relief.heights),
            lambda first, end: by_sweeps(first, end, relief, before, after, sun, light),
        )
    )


def _sweep_times(field: SunField) -> Floats:
    """Moments of the sweeps, seconds of the search, farther apart the higher the sun."""
    times = [field.starts_s]
    while times[-1] < field.ends_s:
        _, altitude = field.path.at(times[-1])
        step_s = min(SWEEP_S * (1.0 + max(float(altitude), 0.0) / WIDER_DEG), WIDEST_S)
        times.append(min(times[-1] + step_s, field.ends_s))
    return np.array(times)


def _sun_between(field: SunField, tables: Tables, step: int) -> SunBetween:
    """What `by_sweeps` needs to know of the sun between two sweeps."""
    centre, limb = tables.centre_deg[step - 1 : step + 1], tables.limb_deg[step - 1 : step + 1]
    return SunBetween(
        level=float(np.cos(np.radians(centre.mean()))),
        swell=float((limb - centre).mean()),
        half=field.reach_deg,
        turn=field.turn_deg,
        up_at_start=step == 1 and field.up_at_start,
    )


def _cast(search: _Search, swept: Floats) -> None:
    """First light of the cells that still wait, by rays."""
    field, heights = search.field, search.relief.heights
    cells = np.flatnonzero(np.isnan(search.light.arrives_s) & ~np.isnan(heights))
    start = float(swept.min()) - RAYS_S
    times = np.arange(max(start, 0.0), field.ends_s, RAYS_S)
    tables = field.at(times)
    over = np.flatnonzero(tables.limb_deg.min(axis=(1, 2, 3)) > search.until_deg)
    last = int(over[0]) + 1 if over.size else times.size
    sky = SkyAtNodes(
        times=times[:last],
        since=swept,
        tables=_sky(field, tables)[:last],
        turn=field.convergence_deg,
        half=field.reach_deg,
    )
    waiting = cells[~_stay_dark(search.relief, cells, sky)]
    share_out(
        waiting.size,
        lambda first, end: by_rays(first, end, search.relief, waiting, sky, search.light),
    )


def _stay_dark(relief: Relief, cells: Numbers, sky: SkyAtNodes) -> Flags:
    """(cells,) whether near ground hides the sun from them at all the moments that are left."""
    sectors = sectors_of(relief, sky)
    if sectors is None:
        return np.zeros(cells.size, dtype=bool)
    dark = np.empty(cells.size, dtype=np.uint8)
    share_out(
        cells.size,
        lambda first, end: stay_dark(first, end, relief.heights, cells, sectors, dark),
    )
    return dark.view(np.bool_)


def _sky(field: SunField, tables: Tables) -> Floats:
    """(moments, 6, nodes, nodes) as the rays take it: north and east on the grid, and tangents."""
    turned = np.radians(tables.azimuth_deg - field.turn_deg - field.middle_turn_deg)
    direction = np.stack([np.cos(turned), np.sin(turned)], axis=1)
    steepest = 89.0  # beyond it a tangent between two moments has no meaning, nor any shade
    centre, limb = (
        np.tan(np.radians(np.minimum(angle, steepest)))
        for angle in (tables.centre_deg, tables.limb_deg)
    )
    return np.concatenate([direction, centre, limb], axis=1)
