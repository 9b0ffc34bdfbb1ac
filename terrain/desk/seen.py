"""The view of a spot as planes: what ground lies in each direction, how far off, and where.

A view is kept under a number, and its planes are fetched by it. Rows go from the highest altitude
down, columns from the first azimuth clockwise, both by the same step.
"""

from __future__ import annotations

import itertools
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

import terrain
from terrain.arrays import Floats
from terrain.desk.asked import Asked
from terrain.desk.planes import MOST, NONE, Plane
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import TerrainError
from terrain.ground.grid import nearest_cells
from terrain.sight.seen import SeenGround, seen_ground

_ROUND_STEP_DEG: Final = 0.3
_LOWEST_DEG: Final = -60.0
_HIGHEST_DEG: Final = 75.0
_MOST_WIDE: Final = 2048
_FINEST_DEG: Final = 0.01
_SKY_ROWS: Final = 4

DISTANCE_STEPS: Final = 256.0
DISTANCE_M: Final = 10.0
"""A distance is kept as so many steps for each doubling of 1 + distance / 10 m."""


class Frame(NamedTuple):
    """What of the view is asked for: all round, or between two azimuths, and how finely."""

    azimuth0_deg: float
    width: int
    step_deg: float
    low_deg: float
    high_deg: float

    @property
    def azimuths_deg(self) -> Floats:
        """Of the columns."""
        return np.asarray(np.mod(self.azimuth0_deg + self.step_deg * np.arange(self.width), 360.0))

    @property
    def altitudes_deg(self) -> Floats:
        """Of the rows, from the lowest up."""
        count = int((self.high_deg - self.low_deg) / self.step_deg + 1e-9) + 1
        return np.asarray(self.high_deg - self.step_deg * np.arange(count, dtype=float)[::-1])


class Planes(NamedTuple):
    """A view: what is said of it, and its planes (4, height, width)."""

    about: dict[str, Any]
    planes: Plane


_numbers = itertools.count(1)


def seen(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """See what lies round a spot, and say under which number its planes are."""
    given, frame = table.given(asked), frame_asked(asked)
    camera = table.camera(given)
    job.check()
    found: Planes = table.views.get((camera, frame), lambda: _see(table, camera, frame), job)
    return found.about


def planes(table: Table, asked: Asked, job: Job) -> Plane:
    """The planes of a view: distance, height, row and column of the ground, sky being NONE."""
    number = asked.whole("id", least=1, most=2**31)
    for found in table.views.values():
        if found.about["id"] == number:
            kept: Plane = found.planes
            return kept
    raise TerrainError(f"the view {number} is no longer kept: ask for it anew")


def frame_asked(asked: Asked) -> Frame:
    """The frame of a request: all round unless it says from where to where."""
    if not asked.said.get("from_deg"):
        width = round(360.0 / _ROUND_STEP_DEG)
        return Frame(0.0, width, _ROUND_STEP_DEG, _LOWEST_DEG, _HIGHEST_DEG)
    begin = asked.number("from_deg", least=-720.0, most=720.0)
    span = asked.number("to_deg", least=-720.0, most=720.0) - begin
    if not 0.0 < span <= 360.0:
        raise TerrainError(f"from_deg to to_deg goes over {span:g}°: give more than 0, 360 at most")
    step = max(asked.number("step_deg", span / 1600.0, least=0.0, most=5.0), _FINEST_DEG)
    step = max(step, span / (_MOST_WIDE - 1))
    half = min(span / 2.0, 45.0)
    low = asked.number("low_deg", -half, least=-89.0, most=89.0)
    high = asked.number("high_deg", half, least=-89.0, most=89.0)
    if not low < high:
        raise TerrainError(f"low_deg={low:g} is not below high_deg={high:g}")
    return Frame(begin, int(span / step + 1e-9) + 1, step, low, high)


def _see(table: Table, camera: terrain.Spot, frame: Frame) -> Planes:
    country = table.country
    dem = country.dem
    found = seen_ground(
        dem, camera, frame.azimuths_deg, frame.altitudes_deg, refraction=country.refraction
    )
    held = _below_sky(found)
    row, col = nearest_cells(found.row[:held], found.col[:held], dem.shape)
    sky = np.isnan(found.distance_m[:held])
    layers = [
        _distances(found.distance_m[:held]),
        table.scale.plane(np.maximum(found.height_m[:held], table.scale.low)),
        *(np.where(sky, NONE, cells).astype("<u2") for cells in (row, col)),
    ]
    about = {
        "id": next(_numbers),
        "width": frame.width,
        "height": held,
        "azimuth0_deg": frame.azimuth0_deg % 360.0,
        "step_deg": frame.step_deg,
        "altitude_top_deg": float(found.altitude_deg[held - 1]),
        "spot": _spot(table, camera),
    }
    return Planes(about, np.stack(layers)[:, ::-1])


def _spot(table: Table, camera: terrain.Spot) -> dict[str, Any]:
    dem = table.country.dem
    row, col = (float(part) for part in dem.grid.rowcol(camera.lon_deg, camera.lat_deg))
    return {
        "lat_deg": camera.lat_deg,
        "lon_deg": camera.lon_deg,
        "row": row,
        "col": col,
        "eye_m": camera.eye_m,
        "height_m": dem.height_at(camera.lon_deg, camera.lat_deg),
    }


def _below_sky(found: SeenGround) -> int:
    """How many rows from the lowest up hold ground, and a few of sky over it."""
    grounded = np.flatnonzero(~np.isnan(found.distance_m).all(axis=1))
    top = int(grounded[-1]) + 1 if grounded.size else 0
    return min(top + _SKY_ROWS, len(found.distance_m))


def _distances(distance_m: NDArray[np.float32]) -> Plane:
    steps = np.rint(DISTANCE_STEPS * np.log2(1.0 + distance_m / DISTANCE_M))
    return np.where(np.isnan(steps), NONE, np.minimum(steps, MOST)).astype("<u2")
