"""Mist from above: the deeper it lies the whiter and the denser, with its shore as a line.

::

    depth   0      10      40          150         400 m
    ground  shows  dimly   hardly      no          no
    mist    grey-blue  ->  paler  ->   white

The scale is the same on every map, so that maps of several heights can be compared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.show.paper import palette

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from terrain.ground.dem import Dem
    from terrain.mist.mist import Mist
    from terrain.show.map.relief import Part

__all__ = ["SPECK_MM2", "draw_mist", "speck_m2", "veil", "without_specks"]

SPECK_MM2: Final = 1.0
"""Isles and pools smaller than this on the page are left off a map: they read as dirt."""

# chosen by their look on real valleys, no source
_THINNEST: Final = 0.5
_DENSE_M: Final = 18.0
_WHITE_M: Final = 400.0
_SHALLOW_M: Final = 15.0
_MM_PER_PT: Final = 25.4 / 72.0
_TOUCHING: Final = np.ones((3, 3), dtype=bool)

Floats = NDArray[np.float64]


def veil(depth_m: NDArray[np.floating]) -> Floats:
    """Colour and density of mist so deep, (..., 4) RGBA; below 0 as at 0.

    >>> thin, deep = veil(np.array([1.0, 200.0]))
    >>> bool(deep[3] > 0.95 > thin[3]), bool(deep[:3].min() > thin[:3].min())
    (True, True)
    """
    depth = np.clip(np.nan_to_num(np.asarray(depth_m, dtype=float)), 0.0, _WHITE_M)
    density = 1.0 - (1.0 - _THINNEST) * np.exp(-depth / _DENSE_M)
    white = np.log1p(depth / _SHALLOW_M) / np.log1p(_WHITE_M / _SHALLOW_M)
    colour = palette.mixed(palette.MIST_THIN, palette.MIST_THICK, white)
    return np.concatenate([colour, density[..., np.newaxis]], axis=-1)


def draw_mist(ax: Axes, dem: Dem, mist: Mist, part: Part) -> list[Artist]:
    """The mist over a part of the ground, and its shore; the axes' limits must be final."""
    cell_m2 = (dem.cell_m * part.step) ** 2
    over = without_specks(part.thinned(mist.height_over(dem)), speck_m2(ax) / cell_m2)
    centres = part.centres()
    area = ax.contourf(*centres, over, levels=[-1e9, 0.0], colors="none", zorder=2.0)
    shore = ax.contour(*centres, over, levels=[0.0], colors=palette.SHORE, linewidths=0.8,
                       zorder=2.5)  # fmt: skip
    shade = ax.imshow(veil(-over), extent=part.extent_m, interpolation="bilinear", zorder=2.0,
                      aspect="auto", gid="mist")  # fmt: skip
    # the picture has whole cells, the shore runs between them
    for path in area.get_paths():
        shade.set_clip_path(path, ax.transData)
    shore.set_gid("shore")
    return [shade, shore]


def speck_m2(ax: Axes) -> float:
    """Area of the ground that is a speck at the scale of a map, square metres."""
    (west, east), width_pt = ax.get_xlim(), _width_pt(ax)
    per_mm = (east - west) / (width_pt * _MM_PER_PT)
    return float(SPECK_MM2 * per_mm**2)


def without_specks(over_m: Floats, least_cells: float) -> Floats:
    """Heights over the mist (rows, cols) without isles and pools of fewer cells than that.

    What is left out becomes a hair of mist, or of dry ground.
    """
    cleaned = over_m.copy()
    for sign in (1.0, -1.0):
        number, count = ndimage.label(sign * cleaned > 0.0, _TOUCHING if sign > 0.0 else None)
        small = np.bincount(number.ravel(), minlength=count + 1) < least_cells
        small[0] = False
        cleaned[small[number]] = -sign * 0.01
    return cleaned


def _width_pt(ax: Axes) -> float:
    box = ax.get_window_extent()
    return float(box.width * 72.0 / ax.figure.dpi)
