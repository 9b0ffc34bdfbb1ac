"""Mist from above: the deeper it lies the whiter and the denser, with its shore as a line.

::

    depth   0      10      40          150         400 m
    ground  shows  dimly   hardly      no          no
    mist    grey-blue  ->  paler  ->   white

The scale is the same on every map, so that maps of several heights can be compared.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.arrays import Floats
from terrain.show.map.surround import draw_cells
from terrain.show.paper import palette
from terrain.show.paper.legend import Row, draw_box, swatch_row
from terrain.show.paper.text import SMALL_PT, write

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet

    from terrain.ground.dem import Dem
    from terrain.mist.mist import Mist
    from terrain.show.map.extent import MapCells

__all__ = [
    "SPECK_MM2",
    "depth_row",
    "draw_flat_mist",
    "draw_mist",
    "mist_row",
    "speck_m2",
    "veil",
    "without_specks",
]

SPECK_MM2: Final = 1.0
"""Isles and pools smaller than this on the page are left off a map: they read as dirt."""

# chosen by their look on real valleys, no source
_THINNEST: Final = 0.5
_DENSE_M: Final = 18.0
_WHITE_M: Final = 400.0
_SHALLOW_M: Final = 15.0
_MM_PER_PT: Final = 25.4 / 72.0
_DEPTHS_M: Final = (1, 10, 40, 150, 400)
_BOX_PT: Final = 22.0
_BETWEEN_PT: Final = 3.0
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


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


def draw_mist(ax: Axes, dem: Dem, mist: Mist, cells: MapCells) -> None:
    """The mist by its depth, without specks, and its shore; the axes' limits must be final."""
    cell_m2 = (dem.cell_m * cells.step) ** 2
    over = without_specks(cells.thinned(mist.height_over(dem)), speck_m2(ax) / cell_m2)
    shade = draw_cells(ax, cells, veil(-over), "mist", zorder=2.0)
    area = _area(ax, cells, over, colors="none")
    # the picture has whole cells, the shore runs between them
    for path in area.get_paths():
        shade.set_clip_path(path, ax.transData)
    _draw_shore(ax, cells, over)


def draw_flat_mist(ax: Axes, dem: Dem, mist: Mist, cells: MapCells, alpha: float) -> None:
    """The mist as one pale tint over what is under it, and its shore."""
    over = cells.thinned(mist.height_over(dem))
    if min(over.shape) > 1:
        _area(ax, cells, over, colors=palette.MIST, alpha=alpha).set_gid("mist")
        _draw_shore(ax, cells, over)


def _area(ax: Axes, cells: MapCells, over_m: Floats, **look: Any) -> ContourSet:
    style: dict[str, Any] = {"levels": [-1e9, 0.0], "antialiased": False, "zorder": 2.0}
    return ax.contourf(*cells.centres(), over_m, **style, **look)


def _draw_shore(ax: Axes, cells: MapCells, over_m: Floats) -> None:
    look: dict[str, Any] = {"colors": palette.SHORE, "linewidths": 0.8, "zorder": 2.5}
    ax.contour(*cells.centres(), over_m, levels=[0.0], **look).set_gid("shore")


def mist_row(mist: Mist) -> Row:
    """What a pale tint with a shore is, for the legend of a map."""
    look = {"facecolor": palette.MIST, "edgecolor": palette.SHORE, "linewidth": 0.9}
    return swatch_row(f"mist and its shore, top at {mist.label}", look)


def depth_row() -> Row:
    """What the tints of mist by its depth mean: a row of swatches, metres under them."""
    wide_pt = _BOX_PT * len(_DEPTHS_M)
    return Row(words="m deep", sign=_draw_depths, words_at_pt=9.0 + wide_pt, height_pt=27.0)


def _draw_depths(side: Axes, at: float) -> None:
    """Mist of several depths over ground half dark and half pale, with the depths under it."""
    half_pt = (_BOX_PT - _BETWEEN_PT) / 2.0
    for number, depth in enumerate(_DEPTHS_M):
        left = 0.5 + number * _BOX_PT
        *colour, density = veil(np.array(depth))
        for half, ground in enumerate((palette.GROUND(0.0), palette.GROUND(0.75))):
            for face, alpha in ((ground, 1.0), (tuple(colour), density)):
                look = {"facecolor": face, "alpha": alpha, "linewidth": 0.0}
                draw_box(side, (left + half * half_pt, at - 5.0), (half_pt, 10.0), look)
        edge = {"facecolor": "none", "edgecolor": palette.FAINT, "linewidth": 0.6}
        draw_box(side, (left, at - 5.0), (2.0 * half_pt, 10.0), edge)
        place = left + half_pt, at + 13.5
        write(side, place, f"{depth:g}", size_pt=SMALL_PT, ha="center", colour=palette.QUIET)


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
