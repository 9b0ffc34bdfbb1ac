"""What a camera sees as colour: ridges that pale with distance, and mist with its shores."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from matplotlib.colors import LightSource, to_rgb
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.sight.seen import SeenGround

_MIST_OPAQUE_M = 5.0
_LIGHTS = ((55.0, 28.0, 0.65), (-130.0, 40.0, 0.45))
_LIGHT_TINT = np.array([0.62, 0.60, 0.52], dtype=np.float32)
_LEAST_PALING_M, _MOST_PALING_M = 5000.0, 30_000.0

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
Mask = NDArray[np.bool_]
Numbers = NDArray[np.floating]
Values = TypeVar("Values", bound=NDArray[Any])


@dataclass(frozen=True, kw_only=True)
class Light:
    """Where the dawn is brightest: azimuth from true north and altitude, degrees.

    to_right: whether the sun moves to the right from there, as it does in the north.
    """

    azimuth_deg: float
    altitude_deg: float
    to_right: bool = True


def scenery(seen: SeenGround, dem: Dem, light: Light, *, mist: Mist | None = None) -> Colours:
    """Colours of the ground and mist of a picture, (rows, cols, 4) RGBA, clear where it is sky.

    Ground goes from dark to pale with distance and is shaded as if by a soft light from the side
    to which the sun will move; mist is pale, and thins out over its shores.
    """
    ground = ~np.isnan(seen.distance_m)
    picture = np.zeros((*ground.shape, 4), dtype=np.float32)
    if not ground.any():
        return picture
    at = _Sampler(seen, ground)
    pale = 1.0 - np.exp(-seen.distance_m[ground] / np.float32(paling_m(seen)))
    colour = _ridges(pale, at.of(_shade(dem, light, at.rows, at.cols), windowed=True))
    if mist is not None:
        _lay_mist(colour, pale, at.of(mist.height_over(dem)), ground)
    _draw_crests(colour, pale, seen, ground)
    picture[ground, :3] = np.clip(colour, 0.0, 1.0)
    picture[..., 3] = ground
    return picture


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


def _ridges(pale: Numbers, shade: Numbers) -> Colours:
    """Dark to pale with distance; light adds to a colour and shadow takes a part of it away."""
    colour = palette.mixed(palette.RIDGE_NEAR, palette.RIDGE_FAR, pale)
    light, dark = np.maximum(shade - 0.5, 0.0), np.maximum(0.5 - shade, 0.0)
    faint = 1.0 - 0.7 * pale
    shaded = colour * (1.0 - (0.75 * dark * faint)[:, np.newaxis])
    return np.asarray(shaded + (light * faint)[:, np.newaxis] * _LIGHT_TINT, dtype=np.float32)


def _lay_mist(colour: Colours, pale: Numbers, over_m: Numbers, ground: Mask) -> None:
    """Mist over colours (n, 3) of the ground seen, so high over it, and a line along its shore."""
    veil = 1.0 - np.exp(np.minimum(over_m, 0.0) / _MIST_OPAQUE_M)
    _blend(colour, palette.mixed(palette.MIST_DEEP, palette.MIST, 1.1 * np.sqrt(pale)), veil)
    covered = np.zeros(ground.shape, dtype=bool)
    covered[ground] = over_m < 0.0
    edge = ~covered & (_moved(covered, 1, 0) | _moved(covered, 0, 1) | _moved(covered, 0, -1))
    _blend(colour, to_rgb(palette.SHORE), edge[ground] * (0.6 * (1.0 - 0.8 * pale)))


def _draw_crests(colour: Colours, pale: Numbers, seen: SeenGround, ground: Mask) -> None:
    """A thin dark line along each crest: where what is seen just above is much farther off."""
    distance = np.nan_to_num(seen.distance_m)
    above, is_ground_above = _moved(distance, -1, 0), _moved(ground, -1, 0)
    crest = ~is_ground_above | (above > 1.07 * distance + 80.0)
    crest[-1] = False
    _blend(colour, to_rgb(palette.INK), crest[ground] * (0.5 * (1.0 - 0.75 * pale)))


def _blend(colour: Colours, other: ArrayLike, share: Numbers) -> None:
    """Mix so much of another colour (n, 3) or (3,) into colours (n, 3)."""
    at = np.flatnonzero(share)
    own, part = colour[at], share[at, np.newaxis].astype(np.float32)
    others = np.broadcast_to(np.asarray(other, dtype=np.float32), colour.shape)[at]
    colour[at] = own + part * (others - own)


def _moved(values: Values, rows: int, cols: int) -> Values:
    """The value `rows` below and `cols` to the left of each cell; at the edges its own."""
    down = np.clip(np.arange(values.shape[0]) - rows, 0, values.shape[0] - 1)
    left = np.clip(np.arange(values.shape[1]) - cols, 0, values.shape[1] - 1)
    return values[down][:, left]  # type: ignore[return-value]


def _shade(dem: Dem, light: Light, rows: slice, cols: slice) -> NDArray[np.float64]:
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


class _Sampler:
    """Looks values of a raster up at what is seen in each cell of a picture."""

    def __init__(self, seen: SeenGround, ground: Mask) -> None:
        self._row, self._col = seen.row[ground], seen.col[ground]
        self.rows = slice(max(int(self._row.min()) - 2, 0), int(self._row.max()) + 4)
        self.cols = slice(max(int(self._col.min()) - 2, 0), int(self._col.max()) + 4)

    def of(self, values: Numbers, *, windowed: bool = False) -> Colours:
        """(n,) of the cells of ground; `windowed` values are of rows and cols alone."""
        row, col = self._row, self._col
        if windowed:
            row, col = row - self.rows.start, col - self.cols.start
        return np.asarray(
            ndimage.map_coordinates(
                values,
                np.stack([row, col]),
                order=1,
                mode="nearest",
                prefilter=False,
            )
        )
