"""What goes round a map: where it is cut, its degrees, its scale and its north."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import FancyBboxPatch, Polygon
from numpy.typing import ArrayLike, NDArray

from terrain.ground.grid import Grid
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points

__all__ = [
    "Frame",
    "draw_degrees",
    "draw_scale_and_north",
    "frame_about",
    "frame_round",
    "map_places",
]

Frame = tuple[float, float, float, float]
"""West, east, south and north edge, in map coordinates."""

LEAST_SIDE_M: Final = 3000.0

_BOX_HIGH_PT, _BAR_FROM_PT, _BAR_PT, _AFTER_BAR_PT = 34.0, 38.0, 66.0, 30.0
_STEPS_DEG = (2.0, 1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005)
_APART_PT = 58.0
_LABEL_PT = 44.0
_LENGTHS_M = (100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000)


def map_places(grid: Grid, lon_deg: ArrayLike, lat_deg: ArrayLike) -> NDArray[np.float64]:
    """Easting and northing (n, 2) of places, in the coordinates of a grid's map."""
    row, col = grid.rowcol(np.atleast_1d(lon_deg), np.atleast_1d(lat_deg))
    turn = grid.transform
    return np.stack([turn.c + turn.a * (col + 0.5), turn.f + turn.e * (row + 0.5)], axis=1)


def frame_about(grid: Grid, places_m: NDArray[np.float64], *, aspect: float) -> Frame:
    """The frame of a map about places (n, 2); without any, about the whole raster.

    aspect: width over height. The places keep a margin; the frame is moved, not cut, where it
    would reach beyond the raster, and is no wider than that if the places allow it.
    """
    rows, cols = grid.shape
    turn = grid.transform
    whole = (turn.c, turn.c + turn.a * cols, turn.f + turn.e * rows, turn.f)
    if not len(places_m):
        return _with_aspect(whole, aspect)
    low, high = places_m.min(axis=0), places_m.max(axis=0)
    side = max(float((high - low).max()), LEAST_SIDE_M)
    middle, half = (low + high) / 2.0, np.maximum((high - low) / 2.0 + 0.13 * side, 0.25 * side)
    about = (middle[0] - half[0], middle[0] + half[0], middle[1] - half[1], middle[1] + half[1])
    west, east, south, north = _with_aspect(about, aspect)
    return (
        *_within(west, east, whole[0], whole[1]),
        *_within(south, north, whole[2], whole[3]),
    )


def frame_round(grid: Grid, lon_deg: float, lat_deg: float, reach_m: float) -> Frame:
    """The frame that reaches so far round a place, cut where the raster ends."""
    (rows, cols), turn = grid.shape, grid.transform
    east, north = map_places(grid, lon_deg, lat_deg)[0].tolist()
    return (
        max(east - reach_m, turn.c),
        min(east + reach_m, turn.c + turn.a * cols),
        max(north - reach_m, turn.f + turn.e * rows),
        min(north + reach_m, turn.f),
    )


def draw_degrees(ax: Axes, grid: Grid) -> list[Artist]:
    """Ticks where whole steps of latitude and longitude cross the left and the lower edge."""
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    along = np.linspace(0.0, 1.0, 201)
    easting, northing = west + along * (east - west), south + along * (north - south)
    lon, _ = _lonlat(grid, easting, np.full_like(along, south))
    _, lat = _lonlat(grid, np.full_like(along, west), northing)
    (left, foot), (right, head) = in_points(ax, np.array([[west, south], [east, north]]))
    per_deg = min((right - left) / abs(lon[-1] - lon[0]), (head - foot) / abs(lat[-1] - lat[0]))
    step = min((s for s in _STEPS_DEG if s * per_deg >= _APART_PT), default=_STEPS_DEG[0])
    for axis, degrees, places, letters in (
        (ax.xaxis, lon, easting, "EW"),
        (ax.yaxis, lat, northing, "NS"),
    ):
        # no nearer to a corner than half a label, or two of them meet there
        half = 0.5 * _LABEL_PT / per_deg
        first, last = math.ceil((degrees[0] + half) / step), math.floor((degrees[-1] - half) / step)
        ticks = np.arange(first, last + 1) * step
        axis.set_ticks(
            np.interp(ticks, degrees, places), [_degrees(t, step, letters) for t in ticks]
        )
    ax.tick_params(labelsize=7.5, colors=palette.QUIET, length=4.0, width=0.7)
    ax.tick_params(axis="y", rotation=90)
    for label in ax.get_yticklabels():
        label.set_verticalalignment("center")
    for spine in ax.spines.values():
        spine.set(color=palette.INK, linewidth=0.8)
    return [*ax.xaxis.get_major_ticks(), *ax.yaxis.get_major_ticks()]


def draw_scale_and_north(ax: Axes, grid: Grid, places_m: NDArray[np.float64]) -> list[Artist]:
    """A bar of round kilometres and an arrow to true north, in the emptiest corner of a map.

    The arrow leans by the grid's convergence at the middle of the map. The axes' limits are in
    metres and final.
    """
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    (left, _), (right, _) = in_points(ax, np.array([[west, south], [east, north]]))
    per_pt = (east - west) / (right - left)
    room = _BAR_PT * per_pt
    length = max((size for size in _LENGTHS_M if size <= room), default=_LENGTHS_M[0])
    width = length + (_BAR_FROM_PT + _AFTER_BAR_PT) * per_pt
    height = _BOX_HIGH_PT * per_pt
    pad = 7.0 * per_pt
    corners = [
        (west + pad, south + pad),
        (east - pad - width, south + pad),
        (east - pad - width, north - pad - height),
        (west + pad, north - pad - height),
    ]
    at = min(corners, key=lambda corner: _crowd(places_m, corner, width, height))
    box = FancyBboxPatch(
        at, width, height, boxstyle=f"round,pad=0,rounding_size={3 * per_pt}", linewidth=0.6,
        facecolor=palette.PAPER, edgecolor=palette.FAINT, alpha=0.92, zorder=9, gid="scale",
    )  # fmt: skip
    ax.add_patch(box)
    north_at = at[0] + 18.0 * per_pt, at[1] + 13.5 * per_pt
    lon, lat = _lonlat(grid, (west + east) / 2.0, (south + north) / 2.0)
    lean = -float(grid.convergence_deg(lon, lat))
    bar_at = at[0] + _BAR_FROM_PT * per_pt, at[1] + 10.0 * per_pt
    return [
        box,
        *_arrow(ax, north_at, lean, per_pt),
        *_bar(ax, bar_at, length, per_pt),
    ]


def _arrow(ax: Axes, at: tuple[float, float], lean_deg: float, per_pt: float) -> list[Artist]:
    """A needle whose azimuth on the page is `lean_deg`, with an N at its tip."""
    shape = np.array([[0.0, 13.0], [4.0, -9.0], [0.0, -5.5], [-4.0, -9.0]]) * per_pt
    turn = math.radians(lean_deg)
    about = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    corners = shape @ about + at
    needle = Polygon(corners, closed=True, facecolor=palette.INK, linewidth=0, zorder=9.5,
                     gid="north")  # fmt: skip
    ax.add_patch(needle)
    letter = ax.text(at[0] - 9.5 * per_pt, at[1] + 9.0 * per_pt, "N", fontsize=7.5, ha="center",
                     va="center", color=palette.INK, zorder=9.5)  # fmt: skip
    return [needle, letter]


def _bar(ax: Axes, at: tuple[float, float], length: float, per_pt: float) -> list[Artist]:
    artists: list[Artist] = []
    for part, colour in enumerate((palette.INK, palette.PAPER)):
        corner = at[0] + part * length / 2.0
        block = Polygon(
            [(corner, at[1]), (corner + length / 2.0, at[1]),
             (corner + length / 2.0, at[1] + 4.0 * per_pt), (corner, at[1] + 4.0 * per_pt)],
            closed=True, facecolor=colour, edgecolor=palette.INK, linewidth=0.7, zorder=9.5,
        )  # fmt: skip
        artists.append(ax.add_patch(block))
    style: dict[str, Any] = {"fontsize": 7.5, "va": "bottom", "color": palette.INK, "zorder": 9.5}
    up = at[1] + 6.5 * per_pt
    for share in (0.0, 0.5, 1.0):
        words = f"{share * length / 1000.0:g}"
        artists.append(ax.text(at[0] + share * length, up, words, ha="center", **style))
    past = (2.5 + 2.5 * len(f"{length / 1000.0:g}")) * per_pt
    artists.append(ax.text(at[0] + length + past, up, "km", **style))
    return artists


def _with_aspect(frame: Frame, aspect: float) -> Frame:
    west, east, south, north = frame
    width, height = east - west, north - south
    more_x, more_y = max(height * aspect - width, 0.0) / 2, max(width / aspect - height, 0.0) / 2
    return west - more_x, east + more_x, south - more_y, north + more_y


def _within(low: float, high: float, least: float, most: float) -> tuple[float, float]:
    if high - low >= most - least:
        return low, high
    move = max(least - low, 0.0) + min(most - high, 0.0)
    return low + move, high + move


def _lonlat(
    grid: Grid, easting: ArrayLike, northing: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    turn = grid.transform
    col = (np.asarray(easting, dtype=float) - turn.c) / turn.a - 0.5
    return grid.lonlat((np.asarray(northing, dtype=float) - turn.f) / turn.e - 0.5, col)


def _degrees(value: float, step: float, letters: str) -> str:
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    decimals += f"{step:.4f}".rstrip("0").endswith("25")
    side = letters[0] if value >= 0 else letters[1]
    return f"{abs(value):.{decimals}f}° {side}"


def _crowd(
    places_m: NDArray[np.float64], corner: tuple[float, float], width: float, height: float
) -> int:
    """How many places lie in or near the box at a corner."""
    low = np.array(corner) - 0.35 * height
    high = np.array([corner[0] + width, corner[1] + height]) + 0.35 * height
    return int(((places_m >= low) & (places_m <= high)).all(axis=1).sum())
