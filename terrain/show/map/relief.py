"""The shaded relief of a map: ground as colour, and its light and dark alone."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import LightSource
from scipy import ndimage

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.show.map.extent import MapCells
from terrain.show.map.water import tinted, water_share
from terrain.show.paper import palette

_STEEP_SHOWN = np.tan(np.radians(38.0))
_LIGHT = LightSource(azdeg=315.0, altdeg=42.0)
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def ground_colours(dem: Dem, cells: MapCells) -> Floats:
    """The relief of the cells that a map shows, with its water, (rows, cols, 4) RGBA."""
    colours = relief(cells.thinned(dem.heights_m), dem.cell_m * cells.step)
    return tinted(colours, water_share(dem, cells))


def relief(heights_m: Floats, cell_m: float) -> Floats:
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


def grey_shade(colours: Floats) -> Floats:
    """Light and dark of a relief's colours, (rows, cols), 1 in the middle; NaN where unknown."""
    grey = colours[..., :3] @ _LUMINANCE
    known = colours[..., 3] > 0.0
    middle = float(np.median(grey[known])) if known.any() else 1.0
    return np.where(known, np.clip(grey / middle, 0.0, 1.3), np.nan)


def _without_gaps(heights_m: Floats, unknown: Flags) -> Floats:
    if not unknown.any():
        return heights_m
    nearest = ndimage.distance_transform_edt(unknown, return_distances=False, return_indices=True)
    return np.asarray(heights_m[tuple(nearest)])


def _shade(ground: Floats, cell_m: float, sigma: float) -> Floats:
    smooth = ndimage.gaussian_filter(ground, sigma)
    down, along = np.gradient(smooth, cell_m)
    steep = float(np.percentile(np.hypot(down, along), 92.0))
    steeper = float(np.clip(_STEEP_SHOWN / max(steep, 1e-3), 1.0, 8.0))
    shade = _LIGHT.hillshade(smooth, vert_exag=steeper, dx=cell_m, dy=cell_m)
    return np.asarray(shade)


def _stretched(shade: Floats) -> Floats:
    """Shade with its median at the middle, so that level ground keeps its own tint."""
    middle = float(np.median(shade))
    return np.clip(0.5 + 0.85 * (shade - middle), 0.02, 0.98)
