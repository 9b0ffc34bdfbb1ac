"""Ground and mist as colour: the shaded relief of a map, and where exactly the shore of mist is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.colors import LightSource
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.show.paper import palette

__all__ = ["Part", "part_of", "relief"]

_MOST_CELLS = 1500
_STEEP_SHOWN = np.tan(np.radians(38.0))
_LIGHT = LightSource(azdeg=315.0, altdeg=42.0)


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part of a raster at the fineness of a picture.

    extent_m: west, east, south, north edges, in map coordinates; rows, cols: slices of the raster;
    step: cells of the raster to one of the picture.
    """

    extent_m: tuple[float, float, float, float]
    rows: slice
    cols: slice
    step: int

    def thinned(self, values: NDArray[np.floating]) -> NDArray[np.float64]:
        """Values of the raster (rows, cols) at the cells of the picture, averaged where thinned."""
        block = np.asarray(values[self.rows, self.cols], dtype=float)
        rows, cols = (size // self.step for size in block.shape)
        tiles = block.reshape(rows, self.step, cols, self.step)
        return np.asarray(tiles.mean(axis=(1, 3)))

    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Easting of the columns and northing of the rows of the picture."""
        west, east, south, north = self.extent_m
        cols = (self.cols.stop - self.cols.start) // self.step
        rows = (self.rows.stop - self.rows.start) // self.step
        return (
            west + (np.arange(cols) + 0.5) * (east - west) / cols,
            north - (np.arange(rows) + 0.5) * (north - south) / rows,
        )


def part_of(dem: Dem, frame_m: tuple[float, float, float, float]) -> Part:
    """The part of a raster that fills a frame (west, east, south, north) as far as it reaches."""
    west, east, south, north = frame_m
    cell, left, top = dem.cell_m, dem.transform.c, dem.transform.f
    rows, cols = dem.shape
    first_row, last_row = _ends((top - north) / cell, (top - south) / cell, rows)
    first_col, last_col = _ends((west - left) / cell, (east - left) / cell, cols)
    step = max(1, -(-max(last_row - first_row, last_col - first_col) // _MOST_CELLS))
    last_row -= (last_row - first_row) % step
    last_col -= (last_col - first_col) % step
    return Part(
        extent_m=(
            left + first_col * cell,
            left + last_col * cell,
            top - last_row * cell,
            top - first_row * cell,
        ),
        rows=slice(first_row, last_row),
        cols=slice(first_col, last_col),
        step=step,
    )


def relief(heights_m: NDArray[np.float64], cell_m: float) -> NDArray[np.float64]:
    """The ground as a map shows it, (rows, cols, 4) RGBA, clear where it is unknown.

    Light comes from the top left, as on most maps. Slopes are made steeper as far as it takes
    for the steep ones to stand out; forms of all sizes are shaded, the larger ones more softly.
    """
    unknown = np.isnan(heights_m)
    if unknown.all() or min(heights_m.shape) < 2:
        return np.zeros((*heights_m.shape, 4))
    ground = _without_gaps(heights_m, unknown)
    low, high = np.percentile(ground[~unknown], [1.0, 99.5])
    colour = palette.GROUND(np.clip((ground - low) / max(high - low, 1.0), 0.0, 1.0))[..., :3]
    shade = 0.62 * _shade(ground, cell_m, 0.7) + 0.38 * _shade(ground, cell_m, 5.0)
    lit = _LIGHT.blend_soft_light(colour, _stretched(shade)[..., np.newaxis])
    return np.concatenate([np.clip(lit, 0.0, 1.0), ~unknown[..., np.newaxis]], axis=2)


def _ends(first: float, last: float, count: int) -> tuple[int, int]:
    start = min(max(int(np.floor(first)), 0), count - 1)
    return start, max(min(int(np.ceil(last)), count), start + 1)


def _without_gaps(
    heights_m: NDArray[np.float64], unknown: NDArray[np.bool_]
) -> NDArray[np.float64]:
    if not unknown.any():
        return heights_m
    nearest = ndimage.distance_transform_edt(unknown, return_distances=False, return_indices=True)
    return np.asarray(heights_m[tuple(nearest)])


def _shade(ground: NDArray[np.float64], cell_m: float, sigma: float) -> NDArray[np.float64]:
    smooth = ndimage.gaussian_filter(ground, sigma)
    down, along = np.gradient(smooth, cell_m)
    steep = float(np.percentile(np.hypot(down, along), 92.0))
    steeper = float(np.clip(_STEEP_SHOWN / max(steep, 1e-3), 1.0, 8.0))
    shade = _LIGHT.hillshade(smooth, vert_exag=steeper, dx=cell_m, dy=cell_m)
    return np.asarray(shade)


def _stretched(shade: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shade with its median at the middle, so that level ground keeps its own tint."""
    middle = float(np.median(shade))
    return np.clip(0.5 + 0.85 * (shade - middle), 0.02, 0.98)
