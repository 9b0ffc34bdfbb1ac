"""What a camera sees as colour: ridges that pale with distance, and mist with its shores."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from matplotlib.colors import LightSource, to_rgb
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.sight.seen import SeenGround

__all__ = ["Light", "paling_m", "scenery", "sky"]

_MIST_OPAQUE_M = 5.0
_LIGHTS = ((55.0, 28.0, 0.65), (-130.0, 40.0, 0.45))
_LIGHT_TINT = np.array([0.62, 0.60, 0.52], dtype=np.float32)
_LEAST_PALING_M, _MOST_PALING_M = 5000.0, 30_000.0

Floats = NDArray[np.float64]
Colours = NDArray[np.float32]
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
    if not ground.any():
        return np.zeros((*ground.shape, 4), dtype=np.float32)
    at = _Sampler(seen, ground)
    distance = np.where(ground, seen.distance_m, np.float32(0))
    pale = 1.0 - np.exp(-distance / np.float32(paling_m(seen)))
    colour = _ridges(pale, at.of(_shade(dem, light, at.rows, at.cols), windowed=True))
    if mist is not None:
        colour = _under_mist(colour, pale, at.of(mist.height_over(dem)))
    colour = _with_crests(colour, distance, ground, pale)
    return np.concatenate([np.clip(colour, 0.0, 1.0), ground[..., np.newaxis]], axis=2)


def sky(azimuth_deg: Floats, altitude_deg: Floats, light: Light) -> Floats:
    """Colours of a sky before sunrise, (rows, cols, 3), palest round the light."""
    azimuth, altitude = np.meshgrid(azimuth_deg, altitude_deg)
    colour = palette.mixed(palette.SKY_LOW, palette.SKY_HIGH, (altitude + 0.5) / 11.0)
    aside = ((azimuth - light.azimuth_deg) / 11.0) ** 2
    above = ((altitude - light.altitude_deg) / 4.5) ** 2
    glow = 0.85 * np.exp(-0.5 * (aside + above))[..., np.newaxis]
    return np.asarray((1.0 - glow) * colour + glow * np.array(to_rgb(palette.SUN_GLOW)))


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
    shaded = colour * (1.0 - (0.75 * dark * faint)[..., np.newaxis])
    return np.asarray(shaded + (light * faint)[..., np.newaxis] * _LIGHT_TINT, dtype=np.float32)


def _under_mist(colour: Colours, pale: Numbers, over_m: Numbers) -> Colours:
    veil = 1.0 - np.exp(np.minimum(over_m, 0.0) / _MIST_OPAQUE_M)
    mist = palette.mixed(palette.MIST_DEEP, palette.MIST, 1.1 * np.sqrt(pale))
    colour = _toward(colour, mist, veil)
    covered = over_m < 0.0
    edge = ~covered & (_moved(covered, 1, 0) | _moved(covered, 0, 1) | _moved(covered, 0, -1))
    return _toward(colour, np.array(to_rgb(palette.SHORE)), edge * (0.6 * (1.0 - 0.8 * pale)))


def _with_crests(
    colour: Colours, distance: Numbers, ground: NDArray[np.bool_], pale: Numbers
) -> Colours:
    """A thin dark line along each crest: where what is seen just above is much farther off."""
    above, is_ground_above = _moved(distance, -1, 0), _moved(ground, -1, 0)
    crest = ground & (~is_ground_above | (above > 1.07 * distance + 80.0))
    crest[-1] = False
    return _toward(colour, np.array(to_rgb(palette.INK)), crest * (0.5 * (1.0 - 0.75 * pale)))


def _toward(colour: Colours, other: NDArray[np.floating], share: NDArray[np.floating]) -> Colours:
    part = share[..., np.newaxis].astype(np.float32)
    return colour + part * (other.astype(np.float32) - colour)


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

    def __init__(self, seen: SeenGround, ground: NDArray[np.bool_]) -> None:
        self._ground = ground
        self._row, self._col = seen.row[ground], seen.col[ground]
        self.rows = slice(max(int(self._row.min()) - 2, 0), int(self._row.max()) + 4)
        self.cols = slice(max(int(self._col.min()) - 2, 0), int(self._col.max()) + 4)

    def of(self, values: NDArray[np.floating], *, windowed: bool = False) -> Colours:
        """(rows, cols) of the picture, 0 in the sky; `windowed` values are of rows and cols."""
        row, col = self._row, self._col
        if windowed:
            row, col = row - self.rows.start, col - self.cols.start
        found = np.zeros(self._ground.shape, dtype=np.float32)
        found[self._ground] = ndimage.map_coordinates(
            values, np.stack([row, col]), order=1, mode="nearest", prefilter=False
        )
        return found
