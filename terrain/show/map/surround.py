"""What goes round a map: its paper, its degrees, its scale and its north."""

from __future__ import annotations

import math
from typing import Any, Final, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.image import AxesImage
from matplotlib.patches import FancyBboxPatch, Polygon
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.ground.grid import Grid
from terrain.show.map.extent import Extent, MapCells
from terrain.show.paper import palette
from terrain.show.paper.legend import Hatch, draw_box
from terrain.show.paper.marks import RADIUS_PT, corners_pt, in_points
from terrain.show.paper.text import SMALL_PT, write

Interpolation = Literal["nearest", "bilinear"]

UNKNOWN_HATCH: Final = Hatch("////", palette.FAINT)

_BOX_HIGH_PT, _BAR_FROM_PT, _BAR_PT, _AFTER_BAR_PT = 34.0, 38.0, 66.0, 30.0
_STEPS_DEG = (2.0, 1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005)
_APART_PT = 58.0
_LABEL_PT = 44.0
_LENGTHS_M = (100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000)


def begin_map(ax: Axes, extent: Extent) -> None:
    """The limits of a map and its paper, hatched: it shows where ground that is drawn is clear."""
    ax.set(xlim=extent[:2], ylim=extent[2:], facecolor=palette.PAPER)
    size = extent.east - extent.west, extent.north - extent.south
    pattern, colour = UNKNOWN_HATCH
    look = {"facecolor": palette.PAPER, "edgecolor": colour, "hatch": pattern, "linewidth": 0}
    draw_box(ax, (extent.west, extent.south), size, look | {"zorder": 0.5})


def finish_map(ax: Axes, grid: Grid, places_m: Floats) -> Floats:
    """Degrees round a map, and a scale clear of places (n, 2); its box, (2, 2) in points."""
    box_pt = draw_scale_and_north(ax, grid, places_m)
    _draw_degrees(ax, grid)
    return box_pt


def draw_cells(
    ax: Axes, cells: MapCells, colours: Floats, gid: str, interpolation: Interpolation = "bilinear"
) -> AxesImage:
    """Colours (rows, cols, 4) of the cells of a picture."""
    # matplotlib resamples single numbers in two thirds of the time
    colours = np.asarray(colours, dtype=np.float32)
    shown = ax.imshow(colours, extent=cells.extent, interpolation=interpolation, aspect="auto")
    shown.set(zorder=1.0, gid=gid)
    return shown


def hatch_cells(
    ax: Axes, cells: MapCells, share: Floats, hatch: Hatch, *, zorder: float, gid: str
) -> None:
    """Hatching over the cells of a picture of which more than half of the share is wanted."""
    if share.max(initial=0.0) > 0.5 and min(share.shape) > 1:
        look: dict[str, Any] = {"levels": [0.5, 1.5], "colors": "none", "hatches": [hatch.pattern]}
        filled = ax.contourf(*cells.centres(), share, zorder=zorder, **look)
        filled.set(edgecolor=hatch.colour, linewidth=0.0, gid=gid)


def _draw_degrees(ax: Axes, grid: Grid) -> None:
    """Ticks where whole steps of latitude and longitude cross the left and the lower edge."""
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    along = np.linspace(0.0, 1.0, 201)
    easting, northing = west + along * (east - west), south + along * (north - south)
    lon, _ = _lonlat(grid, easting, np.full_like(along, south))
    _, lat = _lonlat(grid, np.full_like(along, west), northing)
    across_pt, up_pt = np.ptp(corners_pt(ax), axis=0)
    per_deg = min(across_pt / abs(lon[-1] - lon[0]), up_pt / abs(lat[-1] - lat[0]))
    step = min((s for s in _STEPS_DEG if s * per_deg >= _APART_PT), default=_STEPS_DEG[0])
    upright: dict[str, Any] = {"rotation": 90, "va": "center"}
    for axis, degrees, places, letters, look in (
        (ax.xaxis, lon, easting, "EW", {}),
        (ax.yaxis, lat, northing, "NS", upright),
    ):
        # no nearer to a corner than half a label, or two of them meet there
        half = 0.5 * _LABEL_PT / per_deg
        first, last = math.ceil((degrees[0] + half) / step), math.floor((degrees[-1] - half) / step)
        ticks = np.arange(first, last + 1) * step
        labels = [_degrees(tick, step, letters) for tick in ticks]
        axis.set_ticks(np.interp(ticks, degrees, places), labels, **look)
    ax.tick_params(labelsize=7.5, colors=palette.QUIET, length=4.0, width=0.7)
    ax.spines[:].set(color=palette.INK, linewidth=0.8)


def draw_scale_and_north(ax: Axes, grid: Grid, places_m: Floats) -> Floats:
    """A bar of round kilometres and an arrow to true north, in the emptiest corner of a map.

    The arrow leans by the grid's convergence at the middle of the map. The axes' limits are in
    metres and final. Returns the corners of the box about them, (2, 2) in points.
    """
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    per_pt = (east - west) / float(np.ptp(corners_pt(ax)[:, 0]))
    room = _BAR_PT * per_pt
    length = max((size for size in _LENGTHS_M if size <= room), default=_LENGTHS_M[0])
    width = length + (_BAR_FROM_PT + _AFTER_BAR_PT) * per_pt
    height = _BOX_HIGH_PT * per_pt
    pad = 7.0 * per_pt
    right, top = east - pad - width, north - pad - height
    left, low = west + pad, south + pad
    corners = [(left, low), (right, low), (right, top), (left, top)]
    # a mark that would be hidden weighs more than one touched, that more than one near
    reaches = 0.0, (RADIUS_PT + 1.0) * per_pt, 0.35 * height
    at = min(
        corners,
        key=lambda corner: [_crowd(places_m, corner, (width, height), reach) for reach in reaches],
    )
    shape = f"round,pad=0,rounding_size={3 * per_pt}"
    box = FancyBboxPatch(at, width, height, boxstyle=shape, linewidth=0.6, alpha=0.92)
    # under the marks: where they leave no corner free, each is still whole
    box.set(facecolor=palette.PAPER, edgecolor=palette.FAINT, zorder=7.2, gid="scale")
    ax.add_patch(box)
    lon, lat = _lonlat(grid, (west + east) / 2.0, (south + north) / 2.0)
    lean = -float(grid.convergence_deg(lon, lat))
    _draw_arrow(ax, (at[0] + 18.0 * per_pt, at[1] + 13.5 * per_pt), lean, per_pt)
    _draw_bar(ax, (at[0] + _BAR_FROM_PT * per_pt, at[1] + 10.0 * per_pt), length, per_pt)
    return in_points(ax, np.array([at, (at[0] + width, at[1] + height)]))


def _draw_arrow(ax: Axes, at: tuple[float, float], lean_deg: float, per_pt: float) -> None:
    """A needle whose azimuth on the page is `lean_deg`, with an N at its tip."""
    shape = np.array([[0.0, 13.0], [4.0, -9.0], [0.0, -5.5], [-4.0, -9.0]]) * per_pt
    turn = math.radians(lean_deg)
    about = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    look: dict[str, Any] = {"facecolor": palette.INK, "linewidth": 0, "zorder": 7.4}
    ax.add_patch(Polygon(shape @ about + at, closed=True, gid="north", **look))
    tip = at[0] - 9.5 * per_pt, at[1] + 9.0 * per_pt
    write(ax, tip, "N", size_pt=SMALL_PT, ha="center", va="center", zorder=7.4)


def _draw_bar(ax: Axes, at: tuple[float, float], length: float, per_pt: float) -> None:
    half = length / 2.0
    edge: dict[str, Any] = {"edgecolor": palette.INK, "linewidth": 0.7, "zorder": 7.4, "gid": "bar"}
    for left, colour in ((at[0], palette.INK), (at[0] + half, palette.PAPER)):
        draw_box(ax, (left, at[1]), (half, 4.0 * per_pt), {"facecolor": colour, **edge})
    figures = {share * length: f"{share * length / 1000.0:g}" for share in (0.0, 0.5, 1.0)}
    up = at[1] + 6.5 * per_pt
    for along, words in figures.items():
        place = at[0] + along, up
        write(ax, place, words, size_pt=SMALL_PT, ha="center", va="bottom", zorder=7.4)
    past = at[0] + length + (2.5 + 2.5 * len(figures[length])) * per_pt
    write(ax, (past, up), "km", size_pt=SMALL_PT, va="bottom", zorder=7.4)


def _lonlat(grid: Grid, easting: ArrayLike, northing: ArrayLike) -> tuple[Floats, Floats]:
    turn = grid.transform
    col = (np.asarray(easting, dtype=float) - turn.c) / turn.a - 0.5
    return grid.lonlat((np.asarray(northing, dtype=float) - turn.f) / turn.e - 0.5, col)


def _degrees(value: float, step: float, letters: str) -> str:
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    decimals += f"{step:.4f}".rstrip("0").endswith("25")
    side = letters[0] if value >= 0 else letters[1]
    return f"{abs(value):.{decimals}f}° {side}"


def _crowd(
    places_m: Floats, corner: tuple[float, float], size: tuple[float, float], reach: float
) -> int:
    """How many places lie in the box at a corner, or within reach of it."""
    low = np.array(corner) - reach
    high = np.array(corner) + size + reach
    return int(((places_m >= low) & (places_m <= high)).all(axis=1).sum())
