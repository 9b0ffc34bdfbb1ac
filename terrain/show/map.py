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
from matplotlib.patches import Rectangle
from numpy.typing import NDArray
from shapely import LineString, get_parts, line_merge
from shapely.geometry.base import BaseGeometry

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.surface import Mist
from terrain.show import palette
from terrain.show.frame import (
    Frame,
    draw_degrees,
    draw_scale_and_north,
    frame_about,
    map_places,
)
from terrain.show.key import Key, draw_key, summit_key, vantage_key
from terrain.show.legend import HIDDEN_HATCH, draw_legend, start_letters, write_notes
from terrain.show.marks import HILL_MARK, RADIUS_PT, draw_mark, draw_marks, in_points
from terrain.show.page import MARGIN_IN, axes_at, head_in, new_page, points_axes
from terrain.show.relief import Part, part_of, relief

__all__ = ["draw_map", "map_figure"]

SIZE_IN: Final = (11.0, 8.0)
MOST_SUMMITS: Final = 20

_LEFT_IN, _RIGHT_IN, _LOW_IN, _GAP_IN = MARGIN_IN, 0.35, 0.45, 0.3
_DEEP_M = 20.0
_LOOK_SHARE = 0.15

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
        artists += _draw_mist(ax, dem, mist, part)
    if hidden is not None:
        artists += _draw_hidden(ax, part, hidden)
    if paths is not None:
        artists += _draw_paths(ax, dem, paths)
    if hill is not None and vantages is not None:
        artists += _draw_directions(ax, dem, hill, vantages)
    numbered = _numbered(vantages, summits)
    artists += _draw_places(ax, dem, hill, numbered, starts)
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
) -> Figure:
    """A page with a map and, beside it, the key to its numbers.

    title, subtitle: what it shows, each one line. key: the table; unless given, that of the
    vantages or of the summits. notes: lines under the key. The rest is as for `draw_map`.
    """
    size_in = SIZE_IN
    if key is None:
        key = _default_key(vantages, summits, starts)
    key_in = 2.2 if key is None else float(np.clip(key.width_pt / 72.0, 2.2, 0.5 * size_in[0]))
    top_in = head_in(title, [subtitle], size_in[0])
    height_in = size_in[1] - top_in - _LOW_IN
    width_in = size_in[0] - _LEFT_IN - _RIGHT_IN - _GAP_IN - key_in
    if not len(_places(dem, hill, vantages, starts)):
        # all of the raster is shown: a map of its own shape, on a page no wider than it takes
        width_in = min(width_in, height_in * dem.shape[1] / dem.shape[0])
        height_in = min(height_in, width_in * dem.shape[0] / dem.shape[1])
        across_in = _LEFT_IN + width_in + _GAP_IN + key_in + _RIGHT_IN
        size_in = across_in, head_in(title, [subtitle], across_in) + height_in + _LOW_IN
    page = new_page(size_in, title, [subtitle])
    ax = axes_at(page, _LEFT_IN, _LOW_IN, width_in, height_in)
    draw_map(
        ax, dem, mist=mist, hill=hill, vantages=vantages, summits=summits, starts=starts,
        paths=paths, hidden=hidden,
    )  # fmt: skip
    side = points_axes(page, _LEFT_IN + width_in + _GAP_IN, _LOW_IN, key_in, height_in)
    foot = 0.0 if key is None else draw_key(side, key)[1]
    draw_legend(side, foot + 18.0, mist, hill, starts, paths, hidden)
    write_notes(side, notes)
    return page


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
                      hatch="////", linewidth=0.0, zorder=0.5, gid="unknown")  # fmt: skip
    return [ax.add_patch(sheet)]


def _draw_mist(ax: Axes, dem: Dem, mist: Mist, part: Part) -> list[Artist]:
    over = part.thinned(mist.height_over(dem))
    centres = part.centres()
    veils = [
        ax.contourf(*centres, over, levels=[-1e9, top], colors=palette.MIST, alpha=alpha,
                    antialiased=False, zorder=2.0)
        for top, alpha in ((0.0, 0.70), (-_DEEP_M, 0.6))
    ]  # fmt: skip
    shore = ax.contour(*centres, over, levels=[0.0], colors=palette.SHORE, linewidths=0.9,
                       zorder=2.5)  # fmt: skip
    for name, artist in zip(("mist", "mist-deep", "shore"), [*veils, shore], strict=True):
        artist.set_gid(name)
    return [*veils, shore]


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


def _draw_places(
    ax: Axes,
    dem: Dem,
    hill: Hill | None,
    table: gpd.GeoDataFrame | None,
    starts: Sequence[Spot],
) -> list[Artist]:
    places, labels = [np.empty((0, 2))], []
    if table is not None:
        places.append(_points(dem, table))
        labels += [str(number) for number in range(1, len(table) + 1)]
    for letter, start in zip(string.ascii_uppercase, starts, strict=False):
        places.append(map_places(dem.grid, start.lon_deg, start.lat_deg))
        labels.append(letter)
    artists: list[Artist] = []
    keep_out = np.empty((0, 3))
    if hill is not None:
        summit = map_places(dem.grid, hill.lon_deg, hill.lat_deg)
        keep_out = np.append(in_points(ax, summit), [[RADIUS_PT]], axis=1)
        artists += draw_mark(ax, (float(summit[0, 0]), float(summit[0, 1])), HILL_MARK, zorder=8.5)
    return artists + draw_marks(ax, np.concatenate(places), labels, keep_out=keep_out)
