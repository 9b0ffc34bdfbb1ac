"""The map: ground, mist with its shoreline, the hill, and numbered places keyed to a table."""

from __future__ import annotations

import string
from collections.abc import Sequence
from typing import Final

import geopandas as gpd
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from numpy.typing import NDArray
from shapely import LineString, get_parts, line_merge
from shapely.geometry.base import BaseGeometry

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.show.map.extent import (
    Frame,
    draw_degrees,
    draw_scale_and_north,
    frame_about,
    map_places,
)
from terrain.show.map.legend import HIDDEN_HATCH, UNKNOWN_HATCH, legend_rows, start_letters
from terrain.show.map.margin import Room, Side
from terrain.show.map.mist_cover import draw_mist
from terrain.show.map.pouring_marks import Pours, draw_passes, draw_ways
from terrain.show.map.relief import Part, part_of, relief
from terrain.show.paper import palette
from terrain.show.paper.key import Key, summit_key, vantage_key
from terrain.show.paper.marks import HILL_MARK, RADIUS_PT, draw_mark, draw_marks, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, head_in, new_page, points_axes

__all__ = ["draw_map", "map_figure"]

SIZE_IN: Final = (11.0, 8.0)
MOST_SUMMITS: Final = 20

_LEFT_IN, _RIGHT_IN, _LOW_IN, _GAP_IN = MARGIN_IN, 0.35, 0.45, 0.3
_LOOK_SHARE = 0.15
_BESIDE_PT = 8.5

Floats = NDArray[np.float64]


def draw_map(
    ax: Axes,
    dem: Dem,
    *,
    frame_m: Frame | None = None,
    mist: Mist | None = None,
    hill: Hill | None = None,
    vantages: gpd.GeoDataFrame | None = None,
    summits: gpd.GeoDataFrame | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
    hidden: NDArray[np.bool_] | None = None,
    contour_m: float | None = None,
    pours: Pours | None = None,
) -> list[Artist]:
    """Draw a map on axes of a final size; returns what was drawn.

    frame_m: what it shows; unless given, the hill with its vantages and starts, or else all of
    the raster. vantages, summits: tables of points in EPSG:4326, numbered in their order (of the
    summits at most 20). starts: lettered. paths: lines. hidden: (rows, cols), ground to hatch.
    contour_m: height between two contours, or none.
    """
    places = _places(dem, hill, vantages, starts)
    if frame_m is None:
        box = ax.get_window_extent()
        frame_m = frame_about(dem.grid, places, aspect=box.width / box.height)
    ax.set(xlim=frame_m[:2], ylim=frame_m[2:], facecolor=palette.PAPER)
    part = part_of(dem, frame_m)
    artists = _draw_ground(ax, dem, part, contour_m)
    if mist is not None:
        artists += draw_mist(ax, dem, mist, part)
    if hidden is not None:
        artists += _draw_hidden(ax, part, hidden)
    if paths is not None:
        artists += _draw_paths(ax, dem, paths)
    if pours is not None:
        artists += draw_ways(ax, dem, pours.ways)
    if hill is not None and vantages is not None:
        artists += _draw_directions(ax, dem, hill, vantages)
    numbered = _numbered(vantages, summits)
    beside = mist is not None and vantages is None
    artists += _draw_places(ax, dem, hill, numbered, starts, beside=beside)
    if pours is not None and pours.passes is not None:
        artists += draw_passes(ax, dem, pours.passes, keep_out=_discs(ax, artists))
    if numbered is not None:
        places = np.concatenate([places, _points(dem, numbered)])
    artists += draw_scale_and_north(ax, dem.grid, places)
    return artists + draw_degrees(ax, dem.grid)


def map_figure(
    dem: Dem,
    *,
    title: str,
    subtitle: str = "",
    key: Key | None = None,
    notes: Sequence[str] = (),
    mist: Mist | None = None,
    hill: Hill | None = None,
    vantages: gpd.GeoDataFrame | None = None,
    summits: gpd.GeoDataFrame | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
    hidden: NDArray[np.bool_] | None = None,
    pours: Pours | None = None,
    room: Room | None = None,
) -> Figure:
    """A page with a map and, beside it, the key to its numbers.

    title, subtitle: what it shows, each one line. key: the table; unless given, that of the
    vantages or of the summits. notes: lines under the key. room: for one of a series. The rest
    is as for `draw_map`.
    """
    if key is None:
        key = _default_key(vantages, summits, starts)
    places = _places(dem, hill, vantages, starts)
    rows = legend_rows(
        mist, hill, starts, paths, hidden, depths=True, pours=pours is not None,
        looks=hill is not None and vantages is not None, unknown=_has_unknown(dem, places),
    )  # fmt: skip
    side = Side(key=key, legend=rows, pours=pours, notes=notes, room=room or Room())
    width_in, height_in, across_in = _map_in(
        dem, side.width_in, head_in(title, [subtitle], SIZE_IN[0]),
        alone=not len(places),
    )  # fmt: skip
    body_in = max(height_in, side.height_in)
    top_in = head_in(title, [subtitle], across_in)
    page = new_page((across_in, top_in + body_in + _LOW_IN), title, [subtitle])
    ax = axes_at(page, _LEFT_IN, _LOW_IN + body_in - height_in, width_in, height_in)
    draw_map(
        ax, dem, mist=mist, hill=hill, vantages=vantages, summits=summits, starts=starts,
        paths=paths, hidden=hidden, pours=pours,
    )  # fmt: skip
    left_in = _LEFT_IN + width_in + _GAP_IN
    side.draw(points_axes(page, left_in, _LOW_IN, side.width_in, body_in))
    return page


def _has_unknown(dem: Dem, places: Floats) -> bool:
    """Whether a map about places shows unknown ground; its shape is not settled yet."""
    part = part_of(dem, frame_about(dem.grid, places, aspect=1.0))
    return bool(np.isnan(part.thinned(dem.heights_m)).any())


def _map_in(dem: Dem, side_in: float, top_in: float, *, alone: bool) -> tuple[float, float, float]:
    """Width and height of the map, and width of its page, inches.

    alone: nothing but the ground is shown, so all of it: a map of the raster's own shape, on a
    page no wider than it takes.
    """
    height_in = SIZE_IN[1] - top_in - _LOW_IN
    beside_in = _LEFT_IN + _RIGHT_IN + _GAP_IN + side_in
    width_in = SIZE_IN[0] - beside_in
    if not alone:
        return width_in, height_in, SIZE_IN[0]
    rows, cols = dem.shape
    width_in = min(width_in, height_in * cols / rows)
    return width_in, min(height_in, width_in * rows / cols), beside_in + width_in


def _default_key(
    vantages: gpd.GeoDataFrame | None, summits: gpd.GeoDataFrame | None, starts: Sequence[Spot]
) -> Key | None:
    if vantages is not None:
        return vantage_key(vantages, letters=start_letters(starts))
    return None if summits is None else summit_key(summits.iloc[:MOST_SUMMITS])


def _numbered(
    vantages: gpd.GeoDataFrame | None, summits: gpd.GeoDataFrame | None
) -> gpd.GeoDataFrame | None:
    """The table whose rows are numbered on the map: of summits as many as it has room for."""
    if vantages is not None or summits is None:
        return vantages
    return summits.iloc[:MOST_SUMMITS]


def _points(dem: Dem, table: gpd.GeoDataFrame) -> Floats:
    return map_places(dem.grid, table.geometry.x.to_numpy(), table.geometry.y.to_numpy())


def _places(
    dem: Dem, hill: Hill | None, vantages: gpd.GeoDataFrame | None, starts: Sequence[Spot]
) -> Floats:
    """What a map must show, (n, 2) in map coordinates."""
    places = [map_places(dem.grid, place.lon_deg, place.lat_deg) for place in starts]
    if hill is not None:
        places.append(map_places(dem.grid, hill.lon_deg, hill.lat_deg))
    if vantages is not None:
        places.append(_points(dem, vantages))
    return np.concatenate(places) if places else np.empty((0, 2))


def _draw_ground(ax: Axes, dem: Dem, part: Part, contour_m: float | None) -> list[Artist]:
    heights = part.thinned(dem.heights_m)
    colours = relief(heights, dem.cell_m * part.step)
    artists: list[Artist] = [*_hatch(ax, ax.get_xlim(), ax.get_ylim())]
    shown = ax.imshow(colours, extent=part.extent_m, interpolation="bilinear", zorder=1.0,
                      aspect="auto", gid="ground")  # fmt: skip
    artists.append(shown)
    if contour_m:
        levels = np.arange(np.nanmin(heights) // contour_m + 1, np.nanmax(heights) / contour_m)
        artists.append(
            ax.contour(*part.centres(), heights, levels=levels * contour_m, colors=palette.INK,
                       linewidths=0.35, alpha=0.28, zorder=1.5)
        )  # fmt: skip
    return artists


def _hatch(ax: Axes, across: tuple[float, float], up: tuple[float, float]) -> list[Artist]:
    """Ground that is not known: hatched paper under the relief, which is clear there."""
    corner, size = (across[0], up[0]), (across[1] - across[0], up[1] - up[0])
    sheet = Rectangle(corner, *size, facecolor=palette.PAPER, edgecolor=palette.FAINT,
                      hatch=UNKNOWN_HATCH, linewidth=0.0, zorder=0.5, gid="unknown")  # fmt: skip
    return [ax.add_patch(sheet)]


def _draw_hidden(ax: Axes, part: Part, hidden: NDArray[np.bool_]) -> list[Artist]:
    share = part.thinned(hidden.astype(np.float32))
    hatch = ax.contourf(*part.centres(), share, levels=[0.5, 1.5], colors="none",
                        hatches=[HIDDEN_HATCH], zorder=3.0)  # fmt: skip
    hatch.set(edgecolor=palette.HIDDEN, linewidth=0.0)
    return [hatch]


def _draw_paths(ax: Axes, dem: Dem, paths: gpd.GeoDataFrame) -> list[Artist]:
    artists: list[Artist] = []
    # paths that share a stretch must not fill each other's gaps
    for line in _parted(paths.geometry.union_all()):
        lon, lat = np.array(line.coords)[:, :2].T
        along = map_places(dem.grid, lon, lat)
        artists += ax.plot(*along.T, color=palette.PATH, linewidth=1.0, dashes=(3.5, 1.8),
                           zorder=4.0)  # fmt: skip
    return artists


def _parted(lines: BaseGeometry) -> list[LineString]:
    merged = line_merge(lines)
    return [part for part in get_parts(merged) if isinstance(part, LineString)]


def _draw_directions(ax: Axes, dem: Dem, hill: Hill, vantages: gpd.GeoDataFrame) -> list[Artist]:
    """A short stroke from each vantage the way it looks."""
    summit = map_places(dem.grid, hill.lon_deg, hill.lat_deg)[0]
    artists: list[Artist] = []
    for place in _points(dem, vantages):
        ends = np.stack([place, place + _LOOK_SHARE * (summit - place)])
        artists += ax.plot(*ends.T, color=palette.INK, linewidth=0.8, alpha=0.6, zorder=5.0)
    return artists


def _discs(ax: Axes, artists: Sequence[Artist]) -> Floats:
    """The marks among what was drawn: their places and radii, (n, 3) points."""
    marks = [a for a in artists if isinstance(a, Line2D) and str(a.get_gid()).startswith("mark-")]
    places = np.array([np.asarray(mark.get_xydata())[0] for mark in marks]).reshape(-1, 2)
    return np.column_stack([in_points(ax, places), np.full(len(places), RADIUS_PT)])


def _draw_places(
    ax: Axes,
    dem: Dem,
    hill: Hill | None,
    table: gpd.GeoDataFrame | None,
    starts: Sequence[Spot],
    *,
    beside: bool = False,
) -> list[Artist]:
    """The marks; beside: not on their places, so that small islands are not hidden by them."""
    places: list[Floats] = [np.empty((0, 2))]
    labels: list[str] = []
    if table is not None:
        places.append(_points(dem, table))
        numbers = [str(number) for number in range(1, len(table) + 1)]
        labels += list(table["mark"]) if "mark" in table else numbers
    for letter, start in zip(string.ascii_uppercase, starts, strict=False):
        places.append(map_places(dem.grid, start.lon_deg, start.lat_deg))
        labels.append(letter)
    artists: list[Artist] = []
    keep_out = np.empty((0, 3))
    if hill is not None:
        summit = map_places(dem.grid, hill.lon_deg, hill.lat_deg)
        keep_out = np.append(in_points(ax, summit), [[RADIUS_PT]], axis=1)
        artists += draw_mark(ax, (float(summit[0, 0]), float(summit[0, 1])), HILL_MARK, zorder=8.5)
    offset = (_BESIDE_PT, _BESIDE_PT) if beside else (0.0, 0.0)
    return artists + draw_marks(
        ax, np.concatenate(places), labels, offset_pt=offset, keep_out=keep_out
    )
