"""Make the invented island upland that the demo runs on: `python data/make_upland.py [folder]`.

The same seed gives the same heights. The drawing is in skeleton.py, the weather in erosion.py,
what people have named and built in settlement.py.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import rasterio
from erosion import Climate, Field, Mask, scoured, wear, without_hollows
from rasterio.transform import from_origin
from scipy.ndimage import gaussian_filter, map_coordinates, zoom
from settlement import write_settlement
from skeleton import (
    CELL_M,
    CELLS,
    CRAGS,
    CRS,
    LAKE,
    SOUTH_M,
    WEST_M,
    along_line,
    dry_land,
    inland_m,
    map_places,
    rough,
    uplift,
)

SEED: Final = 24
RISE_M: Final = 1.6
CUTTING: Final = 0.034
STAGES: Final = [(4, 900, 1.0, 10.0), (2, 150, 1.0, 9.0), (1, 50, 0.7, 8.0)]
"""Coarse to fine: cells to a side, steps, share of the full rise, metres of creep."""
SWELL_M: Final = 55.0
LEAST_BASIN_M2: Final = 1.5e6
HEIGHT_STEP_M: Final = 0.125
"""Heights are whole eighths of a metre: exact in float32, and small once compressed."""


@dataclass(frozen=True, kw_only=True)
class Rock:
    """What the weather works on: places bent so that no drawn line shows, uplift and strength."""

    east_m: Field
    north_m: Field
    dry: Mask
    rise_m: Field
    steepest: Field
    grain: Field


def rock(dice: np.random.Generator) -> Rock:
    """Turn the drawn skeleton into ground that can rise."""
    east_m, north_m = map_places()
    east_m = east_m + 170.0 * rough(dice, 2500.0, 2.4)
    north_m = north_m + 170.0 * rough(dice, 2500.0, 2.4)
    dry = dry_land(
        east_m + 130.0 * rough(dice, 1500.0, 2.6, 90.0),
        north_m + 130.0 * rough(dice, 1500.0, 2.6, 90.0),
    )
    rise_m = RISE_M * uplift(east_m, north_m, dry) * np.exp(0.28 * rough(dice, 1200.0, 1.8))
    steepest = np.clip(0.75 * np.exp(0.18 * rough(dice, 900.0, 1.6)), 0.5, 1.1)
    grain = rough(dice, 600.0, 1.6)
    return Rock(
        east_m=east_m, north_m=north_m, dry=dry, rise_m=rise_m, steepest=steepest, grain=grain
    )


def shrunk(field: Field, times: int) -> Field:
    """Block means over `times` by `times` cells."""
    side = CELLS // times
    return np.asarray(field.reshape(side, times, side, times).mean(axis=(1, 3)))


def bent(height_m: Field, times: int, dice: np.random.Generator) -> Field:
    """Shift the ground sideways by some 80 m, so that no valley keeps a direction of the grid."""
    rows, cols = np.indices(height_m.shape).astype(np.float64)
    shifts = [55.0 * rough(dice, 500.0, 2.6) + 60.0 * rough(dice, 1500.0, 2.6) for _ in range(2)]
    down, right = (shrunk(shift, times) / (CELL_M * times) for shift in shifts)
    places = np.stack([rows + down, cols + right])
    return np.asarray(map_coordinates(height_m, places, order=3, mode="nearest"))


def weathered(stone: Rock, dice: np.random.Generator) -> Field:
    """Raise and wear the ground from coarse cells to fine ones, with ice before the last frost."""
    ground = np.zeros((CELLS // 8, CELLS // 8))
    for times, steps, share, creep_m in STAGES:
        sea = shrunk((~stone.dry).astype(np.float64), times) > 0.5
        ground = zoom(ground, 2, order=3, mode="nearest", grid_mode=True)
        ground = bent(ground, times, dice) + 1.5 * shrunk(stone.grain, times)
        ground = np.where(sea, 0.0, np.maximum(ground, 0.3))
        if times == 1:
            ground = scoured(ground, sea, cell_m=CELL_M, least_basin_m2=LEAST_BASIN_M2)
        climate = Climate(
            uplift_m=share * shrunk(stone.rise_m, times),
            steepest=shrunk(stone.steepest, times),
            cutting=CUTTING,
            creep_m=creep_m,
        )
        ground = wear(ground, sea, climate, cell_m=CELL_M * times, steps=steps)
    return ground


def mellowed(height_m: Field, stone: Rock) -> Field:
    """Ice once more, a little late wear without uplift, and a swell of the whole island."""
    sea = ~stone.dry
    ground = scoured(height_m, sea, cell_m=CELL_M, least_basin_m2=LEAST_BASIN_M2)
    late = Climate(
        uplift_m=np.zeros_like(ground),
        steepest=stone.steepest,
        cutting=0.3 * CUTTING,
        creep_m=12.0,
    )
    ground = wear(ground, sea, late, cell_m=CELL_M, steps=4)
    swell = SWELL_M * (1.0 - np.exp(-gaussian_filter(inland_m(stone.dry), 12.0) / 2000.0))
    return np.where(sea, 0.0, ground + swell * np.clip(inland_m(stone.dry) / 400.0, 0.0, 1.0))


def with_crags(height_m: Field, grain: Field, cracks: Field) -> Field:
    """Steepen a band of height around each crag; far above and below, heights are kept."""
    east_m, north_m = map_places()
    ground = height_m.copy()
    for east_km, north_km, radius_m, middle_m in CRAGS:
        away = np.hypot(east_m - east_km * 1e3, north_m - north_km * 1e3) / radius_m
        above = height_m - middle_m - 24.0 * cracks
        ground += (
            1.3
            * above
            * np.clip(0.8 + 0.5 * grain, 0.0, 1.2)
            * np.exp(-0.5 * (above / 26.0) ** 2 - away**3)
        )
    return ground


def with_lake(height_m: Field, grain: Field) -> Field:
    """Dig the lake's bed below the lowest ground at its outlet, then let it fill to the rim."""
    east_m, north_m = map_places()
    away, (half_m,) = along_line(east_m, north_m, LAKE)
    outlet = np.hypot(east_m - LAKE[-1][0] * 1e3, north_m - LAKE[-1][1] * 1e3) < 250.0
    level_m = height_m[outlet].min()
    inside = np.clip((half_m * (1.0 + 0.1 * grain) - away) / 120.0, 0.0, 1.0)
    dug = inside**2 * (3.0 - 2.0 * inside) * np.clip((level_m + 35.0 - height_m) / 20.0, 0.0, 1.0)
    return without_hollows(height_m - dug * np.maximum(height_m - level_m + 18.0, 0.0))


def upland(seed: int = SEED) -> Field:
    """Heights of the invented island in metres, 0 on the sea, without a closed hollow."""
    dice = np.random.default_rng(seed)
    stone = rock(dice)
    ground = mellowed(weathered(stone, dice), stone)
    ground = with_crags(ground, stone.grain, rough(dice, 300.0, 1.7))
    ground = with_lake(without_hollows(ground, by="breaching"), stone.grain)
    return without_hollows(np.round(ground / HEIGHT_STEP_M) * HEIGHT_STEP_M)


def write_raster(height_m: Field, path: Path) -> None:
    """Write heights as a tiled, compressed GeoTIFF."""
    north_m = SOUTH_M + CELLS * CELL_M
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=CELLS,
        height=CELLS,
        count=1,
        dtype="float32",
        crs=CRS,
        transform=from_origin(WEST_M, north_m, CELL_M, CELL_M),
        tiled=True,
        blockxsize=256,
        blockysize=256,
        compress="deflate",
        predictor=3,
        zlevel=9,
    ) as raster:
        raster.write(height_m.astype(np.float32), 1)


def main() -> None:
    """Make the island and write it to a folder, by default the one this script is in."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    height_m = upland()
    write_raster(height_m, folder / "upland.tif")
    write_settlement(height_m, folder)


if __name__ == "__main__":
    main()
