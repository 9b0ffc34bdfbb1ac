"""The engine of a morning's light: the first sun on every cell of a surface.

See the pictures in `terrain.light._sweep_kernels`. How far off the moments are, against the
whole disc over each cell's own skyline: see `terrain.light.arrival`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.light._ray_kernels import block_tops, by_rays
from terrain.light._sweep_kernels import by_sweeps
from terrain.light.field import SunField, Tables
from terrain.sight.eye import bend_per_m, kernel_heights
from terrain.sight.horizon import horizon, horizon_and_distance

__all__ = ["FirstLight", "first_light"]

Cells = NDArray[np.float32]

SWEEP_S: Final = 120.0
WIDER_DEG: Final = 5.0  # over each so much altitude a further SWEEP_S: high horizons are near ones
WIDEST_S: Final = 480.0
RAYS_S: Final = 150.0
# the rays of a cell that waits take as long as so many cells of a sweep
_RAY_CELLS: Final = 400.0
_LEAST_DEG: Final = 2.0
_NONE: Final = np.empty((0, 0), dtype=np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class FirstLight:
    """The first sun on every cell, (rows, cols) float32, NaN where there is none or no answer.

    arrives_s: seconds of the day; -inf where the disc is up when the lowest sun of the day is.
    azimuth_deg: from true north, of the point where it comes over; known as well where only
    unknown ground lies that way. altitude_deg: of that point. distance_m: to it, or no cells.
    """

    arrives_s: Cells
    azimuth_deg: Cells
    altitude_deg: Cells
    distance_m: Cells


def first_light(
    surface: Dem,
    field: SunField,
    *,
    with_distance: bool = False,
    until_deg: float = 90.0,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> FirstLight:
    """The first sun on every cell of a surface.

    until_deg: no further than this altitude of the limb is looked.
    """
    found = [np.full(surface.shape, np.nan, dtype=np.float32) for _ in range(3 + with_distance)]
    light = FirstLight(
        arrives_s=found[0],
        azimuth_deg=found[1],
        altitude_deg=found[2],
        distance_m=found[3] if with_distance else _NONE,
    )
    swept = _sweep(surface, field, light, until_deg, refraction, progress)
    if swept is not None:
        _cast(surface, field, light, swept, until_deg, refraction)
    light.arrives_s[np.isposinf(light.arrives_s)] = np.nan
    progress(1.0)
    return light


def _sweep(
    surface: Dem,
    field: SunField,
    light: FirstLight,
    until_deg: float,
    refraction: float,
    progress: Callable[[float], None],
) -> NDArray[np.float64] | None:
    """Sweep while many cells wait; up to when each node was swept, or None where all are done."""
    heights = kernel_heights(surface)
    count = int(np.count_nonzero(~np.isnan(heights)))
    times = _sweep_times(field)
    tables, waiting = field.along(times), count
    azimuth, _ = field.path.at(times)
    before = _horizon(surface, float(azimuth[0]), light, refraction)
    for step in range(1, times.size):
        waited = waiting
        after = _horizon(surface, float(azimuth[step]), light, refraction)
        sweep = (
            heights,
            before[0],
            after[0],
            before[1],
            after[1],
            *_pair(tables.limb_deg, step),
            *_pair(tables.time_s, step),
            field.turn_deg,
            _sun_between(field, tables, azimuth, step),
            field.low_m,
            field.span_m,
            bend_per_m(refraction),
            step == 1 and field.up_at_start,
            light.arrives_s,
            light.azimuth_deg,
            light.altitude_deg,
            light.distance_m,
        )
        waiting = sum(share_out(surface.shape[0], partial(_in_rows, sweep)))
        before = after
        progress(1.0 - waiting / count)
        lowest = float(tables.limb_deg[step].min())
        if waiting == 0 or lowest > until_deg:
            return None
        rest = count * (times.size - 1 - step)
        pays = (waited - waiting) * _RAY_CELLS > count or waiting * _RAY_CELLS > rest
        if lowest > _LEAST_DEG and not pays:
            return np.ascontiguousarray(tables.time_s[step])
    return None


def _in_rows(sweep: tuple[Any, ...], first: int, end: int) -> int:
    return by_sweeps(first, end, *sweep)


def _sweep_times(field: SunField) -> NDArray[np.float64]:
    """Moments of the sweeps, seconds of the day, farther apart the higher the sun."""
    times = [field.starts_s]
    while times[-1] < field.ends_s:
        _, altitude = field.path.at(times[-1])
        step_s = min(SWEEP_S * (1.0 + max(float(altitude), 0.0) / WIDER_DEG), WIDEST_S)
        times.append(min(times[-1] + step_s, field.ends_s))
    return np.array(times)


def _horizon(
    surface: Dem, azimuth_deg: float, light: FirstLight, refraction: float
) -> tuple[Cells, Cells]:
    if light.distance_m.size:
        return horizon_and_distance(surface, azimuth_deg, refraction=refraction)
    return horizon(surface, azimuth_deg, refraction=refraction), _NONE


def _pair(table: NDArray[np.float64], step: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.ascontiguousarray(table[step - 1]), np.ascontiguousarray(table[step])


def _sun_between(
    field: SunField, tables: Tables, azimuth: NDArray[np.float64], step: int
) -> NDArray[np.float64]:
    """What `by_sweeps` needs to know of the sun between two sweeps."""
    centre, limb = tables.centre_deg[step - 1 : step + 1], tables.limb_deg[step - 1 : step + 1]
    level = np.cos(np.radians(centre.mean()))
    return np.array(
        [azimuth[step - 1], azimuth[step], level, (limb - centre).mean(), field.reach_deg]
    )


def _cast(
    surface: Dem,
    field: SunField,
    light: FirstLight,
    swept: NDArray[np.float64],
    until_deg: float,
    refraction: float,
) -> None:
    """First light of the cells that still wait, by rays."""
    heights = kernel_heights(surface)
    waits = np.isnan(light.arrives_s) & ~np.isnan(heights)
    start = float(swept.min()) - RAYS_S
    times = np.arange(max(start, 0.0), field.ends_s, RAYS_S)
    tables = field.at(times)
    over = np.flatnonzero(tables.limb_deg.min(axis=(1, 2, 3)) > until_deg)
    last = int(over[0]) + 1 if over.size else times.size
    cells = np.flatnonzero(waits)
    cast = (
        heights,
        block_tops(heights),
        cells,
        times[:last],
        swept,
        _sky(field, tables)[:last],
        np.ascontiguousarray(field.turn_deg + field.middle_turn_deg),
        field.reach_deg,
        surface.cell_m,
        bend_per_m(refraction),
        field.low_m,
        field.span_m,
        light.arrives_s,
        light.azimuth_deg,
        light.altitude_deg,
        light.distance_m,
    )
    share_out(cells.size, lambda first, end: by_rays(first, end, *cast))


def _sky(field: SunField, tables: Tables) -> NDArray[np.float64]:
    """(moments, 6, nodes, nodes) as the rays take it: north and east on the grid, and tangents."""
    turned = np.radians(tables.azimuth_deg - field.turn_deg - field.middle_turn_deg)
    direction = np.stack([np.cos(turned), np.sin(turned)], axis=1)
    steepest = 89.0  # beyond it a tangent between two moments has no meaning, nor any shade
    centre, limb = (
        np.tan(np.radians(np.minimum(angle, steepest)))
        for angle in (tables.centre_deg, tables.limb_deg)
    )
    return np.concatenate([direction, centre, limb], axis=1)
