"""Every command on grounds that no surveyor would deliver."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray

from tests.attacks import Case
from tests.attacks.asking import about, drawn
from tests.attacks.environment import COMMANDS

_UTM: Final = "EPSG:32628"
# the corner of all in metres, in zone 28
_CORNER: Final = (398_000, 6_030_000)
_UTM_SPOT, _UTM_HILL = "54.40311,-16.56365", "54.39970,-16.54966"


@dataclass(frozen=True)
class Ground:
    """A raster to be, and two places on it, if it has room for two."""

    heights: Callable[[], NDArray[Any]]
    crs: str | None = _UTM
    transform: Affine = Affine(50, 0, _CORNER[0], 0, -50, _CORNER[1])  # noqa: RUF009
    spot: str = _UTM_SPOT
    hill: str = _UTM_HILL
    nodata: float | None = None


def _filled(rows: int, cols: int, height_m: float = 200.0) -> Callable[[], NDArray[Any]]:
    return lambda: np.full((rows, cols), height_m, dtype=np.float32)


def _hilly(size: int = 40, rise_m: float = 300.0) -> NDArray[Any]:
    row, col = np.indices((size, size))
    away = ((row - 18) / 4.0) ** 2 + ((col - 28) / 4.0) ** 2
    from_spot = ((row - 10) / 3.0) ** 2 + ((col - 10) / 3.0) ** 2
    hill = rise_m * np.exp(-away) + 0.5 * rise_m * np.exp(-from_spot)
    return (100.0 + hill).astype(np.float32)


def _with(value: float, at: object = (0, 0)) -> Callable[[], NDArray[Any]]:
    def made() -> NDArray[Any]:
        heights = _hilly()
        heights[at] = value  # type: ignore[index]
        return heights

    return made


def _noise(seed: int) -> NDArray[Any]:
    rng = drawn(f"noise {seed}")
    size = rng.integers(1, 60, 2)
    heights = rng.normal(0.0, 10.0 ** rng.integers(-3, 5), size)
    heights[rng.random(heights.shape) < rng.random() ** 3] = np.nan
    return heights.astype(rng.choice(["float32", "float64"]))


def _in_degrees(lon: float, lat: float) -> dict[str, Any]:
    """A ground of 40 x 40 cells in degrees about a place, with its spot and its hill."""
    step = 0.001
    east = min(step / max(np.cos(np.radians(lat)), 0.001), 1.0)
    west, north = lon - 20 * east, lat + 20 * step
    spot, hill = (
        f"{north - step * (row + 0.5):.6f},{west + east * (col + 0.5):.6f}"
        for row, col in ((10, 10), (18, 28))
    )
    transform = Affine(east, 0, west, 0, -step, north)
    return {"crs": "EPSG:4326", "transform": transform, "spot": spot, "hill": hill}


_GROUNDS: Final[dict[str, Ground]] = {
    "one cell": Ground(_filled(1, 1)),
    "two cells": Ground(_filled(1, 2)),
    "one row": Ground(_filled(1, 300)),
    "one column": Ground(_filled(300, 1)),
    "three by three": Ground(_filled(3, 3)),
    "all flat": Ground(_filled(40, 40)),
    "all sea": Ground(_filled(40, 40, 0.0)),
    "all unknown": Ground(_filled(40, 40, np.nan)),
    "all nodata": Ground(_filled(40, 40, -9999.0), nodata=-9999.0),
    "one known cell": Ground(lambda: np.pad([[200.0]], 20, constant_values=np.nan)),
    "huge heights": Ground(_filled(40, 40, 3e38)),
    "one huge height": Ground(_with(3e38)),
    "one deep hole": Ground(_with(-3e38)),
    "an infinite height": Ground(_with(np.inf)),
    "minus infinity": Ground(_with(-np.inf)),
    "nodata not said": Ground(_with(-32768.0, slice(0, 9))),
    "half unknown": Ground(_with(np.nan, (slice(None), slice(24, None)))),
    "chequered": Ground(lambda: np.where(np.indices((40, 40)).sum(0) % 2, 500.0, 0.0)),
    "a chequer of gaps": Ground(lambda: np.where(np.indices((40, 40)).sum(0) % 2, 500.0, np.nan)),
    "a wall": Ground(_with(8000.0, (slice(None), 20))),
    "whole numbers": Ground(lambda: _hilly().astype(np.int16)),
    "small numbers": Ground(lambda: _hilly(rise_m=140.0).astype(np.uint8)),
    "below the sea": Ground(lambda: _hilly() - 500.0),
    "microscopic relief": Ground(lambda: _hilly(rise_m=1e-4)),
    "no system": Ground(_hilly, crs=None),
    "a system in feet": Ground(_hilly, crs="EPSG:2264"),
    "web mercator": Ground(_hilly, crs="EPSG:3857"),
    "a system round the earth's middle": Ground(_hilly, crs="EPSG:4978"),
    "heights alone for a system": Ground(_hilly, crs="EPSG:5701"),
    "turned": Ground(
        _hilly, transform=Affine.translation(*_CORNER) @ Affine.rotation(30) @ Affine.scale(50, -50)
    ),
    "south up": Ground(_hilly, transform=Affine(50, 0, _CORNER[0], 0, 50, _CORNER[1] - 2000)),
    "no place": Ground(_hilly, transform=Affine.identity()),
    "oblong cells": Ground(_hilly, transform=Affine(500, 0, _CORNER[0], 0, -5, _CORNER[1])),
    "tiny cells": Ground(_hilly, transform=Affine(1e-6, 0, _CORNER[0], 0, -1e-6, _CORNER[1])),
    "cells as wide as a country": Ground(
        _hilly, transform=Affine(1e6, 0, _CORNER[0], 0, -1e6, _CORNER[1])
    ),
    "far off the zone": Ground(_hilly, transform=Affine(50, 0, 9e6, 0, -50, 2e7)),
    "the date line": Ground(_hilly, **_in_degrees(180.0, -16.5)),
    "beyond the date line": Ground(_hilly, **_in_degrees(181.0, -16.5)),
    "near the north pole": Ground(_hilly, **_in_degrees(10.0, 89.9)),
    "over the north pole": Ground(_hilly, **_in_degrees(10.0, 90.0)),
    "over the south pole": Ground(_hilly, **_in_degrees(10.0, -90.0)),
    "on the equator": Ground(_hilly, **_in_degrees(0.0, 0.0)),
    "round the pole": Ground(
        _hilly,
        crs="EPSG:3413",
        transform=Affine(50, 0, -1000, 0, -50, 1000),
        spot="89.9935,-180",
        hill="89.9962,59",
    ),
    "the whole earth": Ground(
        lambda: np.abs(drawn("earth").normal(0.0, 900.0, (18, 36))),
        crs="EPSG:4326",
        transform=Affine(10, 0, -180, 0, -10, 90),
        spot="45,5",
        hill="46,15",
    ),
    **{f"noise {seed}": Ground(functools.partial(_noise, seed)) for seed in range(6)},
}
_EACH: Final = 5
_QUICK: Final = (("one cell", "skyline"), ("all unknown", "sunrise"))


def cases() -> Iterator[Case]:
    """Each ground for a few of the commands, in turn."""
    turn = itertools.cycle(COMMANDS)
    for name, ground in _GROUNDS.items():
        for command in itertools.islice(turn, _EACH):
            yield Case(
                f"{command} on {name}",
                [command, "ground.tif", *about(command, ground.spot, ground.hill)],
                {"ground.tif": functools.partial(_lay, ground)},
                quick=(name, command) in _QUICK,
            )


def _lay(ground: Ground, at: Path) -> None:
    heights = np.asarray(ground.heights())
    with rasterio.open(
        at,
        "w",
        driver="GTiff",
        height=heights.shape[0],
        width=heights.shape[1],
        count=1,
        dtype=heights.dtype,
        crs=ground.crs,
        transform=ground.transform,
        nodata=ground.nodata,
    ) as raster:
        raster.write(heights, 1)
