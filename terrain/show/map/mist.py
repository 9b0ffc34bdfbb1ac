"""Mist from above: the deeper it lies the whiter and the denser, with its shore as a line.

Where it pours over a pass stands a lettered disc, with an arrow the way it goes.

::

    depth   0      10      40          150         400 m
    ground  shows  dimly   hardly      no          no
    mist    grey-blue  ->  paler  ->   white

The scale is the same on every map, so that maps of several heights can be compared.
"""

from __future__ import annotations

import string
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.patches import FancyArrowPatch
from matplotlib.path import Path
from matplotlib.patheffects import Normal, Stroke
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.mist.mist import Mist
from terrain.show.map.extent import MapCells, map_places, shape_places
from terrain.show.map.surround import draw_cells
from terrain.show.paper import palette
from terrain.show.paper.legend import Row, draw_box, swatch_row
from terrain.show.paper.marks import RADIUS_PT, corners_pt, draw_marks, from_points, in_points
from terrain.show.paper.text import SMALL_PT, write

SPECK_MM2: Final = 1.0
"""Isles and pools smaller than this on the page are left off a map: they read as dirt."""

MOST_PASSES: Final = 6

# chosen by their look on real valleys, no source
_THINNEST: Final = 0.5
_DENSE_M: Final = 18.0
_WHITE_M: Final = 400.0
_SHALLOW_M: Final = 15.0
_MM_PER_PT: Final = 25.4 / 72.0
_DEPTHS_M: Final = (1, 10, 40, 150, 400)
_BOX_PT: Final = 22.0
_BETWEEN_PT: Final = 3.0
_LEAST_ARROW_PT: Final = 24.0
_CASING_PT: Final = 2.2
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
    shade = draw_cells(ax, cells, veil(-over), "mist")
    shade.set_zorder(2.0)
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
    wide_m, wide_pt = np.ptp(ax.get_xlim()), np.ptp(corners_pt(ax)[:, 0])
    return float(SPECK_MM2 * (wide_m / (wide_pt * _MM_PER_PT)) ** 2)


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


def lettered(poured: gpd.GeoDataFrame, marks: dict[Any, str] | None = None) -> gpd.GeoDataFrame:
    """At most six rows of `pouring`, lowest pass first, with a letter each in a column `mark`.

    marks: letters by the index of the row, for the maps of a series; a, b, c ... unless given.
    """
    shown = poured.head(MOST_PASSES).sort_values("height_m", kind="stable")
    if marks is None:
        marks = dict(zip(shown.index, string.ascii_lowercase, strict=False))
    return shown.assign(mark=[marks.get(label, "") for label in shown.index])


def draw_ways(ax: Axes, grid: Grid, ways: gpd.GeoDataFrame) -> None:
    """An arrow along each way that mist pours, from the pass down; lines in EPSG:4326.

    A way too short to be seen at the scale of the map is drawn as a short arrow the way it goes.
    """
    casing = Stroke(linewidth=1.3 + _CASING_PT, foreground=palette.PAPER, alpha=0.9)
    look: dict[str, Any] = {
        "arrowstyle": "-|>,head_length=4.2,head_width=2.1",
        "linewidth": 1.3,
        "color": palette.SHORE,
        "capstyle": "butt",
        "joinstyle": "round",
        "path_effects": [casing, Normal()],
        "shrinkA": 0.0,
        "shrinkB": 0.0,
    }
    for line in ways.geometry:
        along = Path(_long_enough(ax, shape_places(grid, line)))
        ax.add_patch(FancyArrowPatch(path=along, zorder=4.2, gid="pour", **look))


def draw_passes(ax: Axes, grid: Grid, passes: gpd.GeoDataFrame, *, keep_out: ArrayLike) -> None:
    """A disc with its letter beside each pass, on the side that the mist comes from."""
    places = shape_places(grid, passes.geometry)
    beyond = map_places(grid, passes["to_lon_deg"].to_numpy(), passes["to_lat_deg"].to_numpy())
    down = in_points(ax, beyond) - in_points(ax, places)
    away = down / np.maximum(np.hypot(*down.T), 1e-9)[:, np.newaxis]
    offset = -(RADIUS_PT + 3.0) * away
    marks = list(passes["mark"])
    draw_marks(ax, places, marks, offset_pt=offset, keep_out=keep_out, zorder=7.5)


def _long_enough(ax: Axes, along: Floats) -> Floats:
    at_pt = in_points(ax, along)
    steps = np.hypot(*np.diff(at_pt, axis=0).T)
    if steps.sum() >= _LEAST_ARROW_PT:
        return along
    way = at_pt[-1] - at_pt[0]
    way = np.array([1.0, 0.0]) if not way.any() else way / np.hypot(*way)
    return np.stack([along[0], from_points(ax, at_pt[0] + _LEAST_ARROW_PT * way)])
