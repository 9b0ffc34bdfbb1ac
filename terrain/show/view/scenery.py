"""What a camera sees as colour: ridges that pale with distance, and mist with its shores."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.colors import LightSource, to_rgb
from scipy import ndimage

from terrain.arrays import Floats, Singles
from terrain.cores import share_out
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.show.view._scenery_kernels import Ground, Tints, colour_rays, sample_rays
from terrain.sight.seen import SeenGround

_MIST_OPAQUE_M = 5.0
_LIGHTS = ((55.0, 28.0, 0.65), (-130.0, 40.0, 0.45))
_LEAST_PALING_M, _MOST_PALING_M = 5000.0, 30_000.0

_TINTS = Tints(
    *(
        np.array(colour, dtype=np.float32)
        for colour in (
            to_rgb(palette.RIDGE_NEAR),
            to_rgb(palette.RIDGE_FAR),
            (0.62, 0.60, 0.52),
            to_rgb(palette.MIST_DEEP),
            to_rgb(palette.MIST),
            to_rgb(palette.SHORE),
            to_rgb(palette.INK),
        )
    )
)


@dataclass(frozen=True, kw_only=True)
class Light:
    """Where the dawn is brightest: azimuth from true north and altitude, degrees.

    to_right: whether the sun moves to the right from there, as it does in the north.
    """

    azimuth_deg: float
    altitude_deg: float
    to_right: bool = True


def scenery(seen: SeenGround, dem: Dem, light: Light, *, mist: Mist | None = None) -> Singles:
    """Colours of the ground and mist of a picture, (rows, cols, 4) RGBA, clear where it is sky.

    Ground goes from dark to pale with distance and is shaded as if by a soft light from the side
    to which the sun will move; mist is pale, and thins out over its shores.
    """
    rows, cols = seen.distance_m.shape
    colours = np.zeros((cols, rows, 4), dtype=np.float32)
    if not np.isnan(seen.distance_m).all():
        ground = _ground(seen, dem, light, mist)
        share_out(cols, lambda first, end: colour_rays(first, end, ground, _TINTS, colours))
    return colours.transpose(1, 0, 2)


def sky(azimuth_deg: Floats, altitude_deg: Floats, light: Light) -> Floats:
    """Colours of a sky before sunrise, (rows, cols, 3), palest round the light."""
    aside = np.exp(-0.5 * ((azimuth_deg - light.azimuth_deg) / 11.0) ** 2)
    above = np.exp(-0.5 * ((altitude_deg - light.altitude_deg) / 4.5) ** 2)
    colour = palette.mixed(palette.SKY_LOW, palette.SKY_HIGH, (altitude_deg + 0.5) / 11.0)
    glow = np.outer(0.85 * above, aside)[..., np.newaxis]
    return np.asarray((1.0 - glow) * colour[:, np.newaxis] + glow * to_rgb(palette.SUN_GLOW))


def paling_m(seen: SeenGround) -> float:
    """Distance over which ridges pale by two thirds: less where all that is seen is near."""
    if np.isnan(seen.distance_m).all():
        return _LEAST_PALING_M
    far = float(np.nanpercentile(seen.distance_m, 97.0))
    return float(np.clip(0.55 * far, _LEAST_PALING_M, _MOST_PALING_M))


def _ground(seen: SeenGround, dem: Dem, light: Light, mist: Mist | None) -> Ground:
    """What lies in each cell of a picture in which some ground is seen."""
    rows, cols = (_reached(part) for part in (seen.row, seen.col))
    # as the kernels take them, ray by ray
    distance_m = np.ascontiguousarray(seen.distance_m.T)
    row = np.ascontiguousarray(seen.row.T) - np.float32(rows.start)
    col = np.ascontiguousarray(seen.col.T) - np.float32(cols.start)

    def at(values: Floats) -> Floats:
        found = np.full(row.shape, np.inf)
        share_out(len(row), lambda first, end: sample_rays(first, end, values, row, col, found))
        return found

    over_m = np.full(row.shape, np.inf, dtype=np.float32)
    if mist is not None:
        over_m = at(mist.height_over(dem)[rows, cols].astype(float)).astype(np.float32)
    return Ground(
        distance_m=distance_m,
        pale=1.0 - np.exp(-distance_m / np.float32(paling_m(seen))),
        shade=at(_shade(dem, light, rows, cols)),
        over_m=over_m,
        veil=np.asarray(1.0 - np.exp(np.minimum(over_m, 0.0) / _MIST_OPAQUE_M), np.float32),
    )


def _reached(at: Singles) -> slice:
    """The rows or columns of a raster that lie about what is seen."""
    return slice(max(int(np.nanmin(at)) - 2, 0), int(np.nanmax(at)) + 4)


def _shade(dem: Dem, light: Light, rows: slice, cols: slice) -> Floats:
    """Shade of the cells of a window, 0.5 on level ground.

    Two thirds of the light come from where the sun will move to, the rest from the sky on the
    other side, so that slopes in shadow have forms as well.
    """
    turn = 1.0 if light.to_right else -1.0
    lon, lat = dem.grid.centre_lonlat
    normal = _normals(dem.heights_m[rows, cols].astype(float), dem.cell_m)
    shade = np.full(normal.shape[:2], 0.5)
    for aside, altitude, share in _LIGHTS:
        toward = dem.grid.grid_azimuth_deg(light.azimuth_deg + turn * aside, lon, lat)
        source = LightSource(azdeg=float(toward), altdeg=altitude)
        shade += share * (normal @ source.direction - math.sin(math.radians(altitude)))
    return np.asarray(np.clip(shade, 0.0, 1.0))


def _normals(heights: Floats, cell_m: float) -> Floats:
    """Unit normals of the ground, made a little steeper: east, north, up."""
    heights = np.nan_to_num(heights, nan=float(np.nanmin(heights)))
    down, along = np.gradient(1.3 * ndimage.gaussian_filter(heights, 0.7), cell_m)
    normal = np.stack([-along, down, np.ones_like(down)], axis=-1)
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))
