"""The year atlas as a picture: ground coloured by the date on which the sun passes the hill.

Two maps side by side, for the sun twice passes every place, once going north and once going south;
between them a calendar ring is the key to both. Its left half belongs to the left map::

               Jun                     lightness says how far the sun is from the December
           .-''   ''-.                 solstice, hue on which of its two ways it is: so each map
     Mar  /           \\  Sep          can be read in grey, and the two are told apart by anyone
          \\           /               who tells blue from orange, as nearly everybody can
           '-._   _.-'
               Dec
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.colors import LinearSegmentedColormap, to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle, Wedge
from numpy.typing import ArrayLike, NDArray

from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.map.extent import (
    Frame,
    draw_degrees,
    draw_scale_and_north,
    frame_about,
    map_places,
)
from terrain.show.map.legend import draw_legend, write_notes
from terrain.show.map.relief import Part, part_of, relief
from terrain.show.paper import palette
from terrain.show.paper.key import text_width_pt
from terrain.show.paper.marks import HILL_MARK, draw_mark
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.year.atlas import Atlas

__all__ = ["YEAR_RING", "atlas_figure", "draw_atlas", "draw_ring", "ring_place"]

YEAR_RING: Final = LinearSegmentedColormap.from_list(
    "year ring",
    [
        (0.0, "#2b1f3b"),
        (0.125, "#27457e"),
        (0.25, "#2f75ad"),
        (0.375, "#62aecb"),
        (0.44, "#a4d6bd"),
        (0.5, "#fbe68c"),
        (0.56, "#f4c064"),
        (0.625, "#e5974a"),
        (0.75, "#b85a2b"),
        (0.875, "#752c33"),
        (1.0, "#2b1f3b"),
    ],
    N=730,
)
"""Colour of the date, from one December solstice (0) over that of June (1/2) to the next (1)."""

_DECEMBER, _JUNE = 355.0, 172.0  # days of the year of the solstices, to a day either way
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SECTORS = 146
_GREY = "#d3d4d3"
_ASPECTS = (0.8, 1.25)  # of a map, width over height, at the least and the most
_MAP_IN, _KEY_IN, _GAP_IN = 4.75, 2.05, 0.34
_LOW_IN, _TOP_IN, _RIGHT_IN = 0.45, 1.15, 0.35
_LEAST_IN = 4.3
_RING_PT = 50.0

Floats = NDArray[np.float64]


def ring_place(day_of_year: ArrayLike, year_days: int = 365) -> Floats:
    """Where on the ring of the year days lie, 0 to 1, any shape; NaN stays NaN.

    >>> ring_place([355, 172, 80]).round(2).tolist()
    [0.0, 0.5, 0.25]
    """
    day = np.asarray(day_of_year, dtype=float)
    since = np.mod(day - _DECEMBER, year_days)
    north = _JUNE - _DECEMBER + year_days
    return np.where(
        since <= north, 0.5 * since / north, 0.5 + 0.5 * (since - north) / (year_days - north)
    )


def draw_atlas(
    ax: Axes,
    dem: Dem,
    atlas: Atlas,
    day: NDArray[np.floating],
    *,
    frame_m: Frame | None = None,
    mist: Mist | None = None,
) -> list[Artist]:
    """Draw a map of days on axes of a final size; returns what was drawn.

    dem: the ground of the atlas. day: (rows, cols) of the year, such as `atlas.north_day`; ground
    without one is left grey. frame_m: what it shows; unless given, all of the raster.
    """
    if frame_m is None:
        box = ax.get_window_extent()
        frame_m = frame_about(dem.grid, np.empty((0, 2)), aspect=box.width / box.height)
    ax.set(xlim=frame_m[:2], ylim=frame_m[2:], facecolor=palette.PAPER)
    part = part_of(dem, frame_m)
    place, share = _day_of_blocks(part, day)
    artists: list[Artist] = [
        _unknown(ax),
        ax.imshow(_coloured(dem, part, place, share), extent=part.extent_m, zorder=1.0,
                  interpolation="nearest", aspect="auto", gid="days"),
        *_draw_month_lines(ax, part, np.where(share > 0.0, place, np.nan), atlas.year),
    ]  # fmt: skip
    if mist is not None:
        artists += _draw_mist(ax, dem, mist, part)
    summit = map_places(dem.grid, atlas.hill.lon_deg, atlas.hill.lat_deg)
    artists += draw_mark(ax, (float(summit[0, 0]), float(summit[0, 1])), HILL_MARK, zorder=8.5)
    keep_clear = np.concatenate([summit, _some_of(part, share > 0.0)])
    artists += draw_scale_and_north(ax, dem.grid, keep_clear)
    return artists + draw_degrees(ax, dem.grid)


def draw_ring(
    ax: Axes, centre_pt: tuple[float, float], atlas: Atlas, *, radius_pt: float = _RING_PT
) -> list[Artist]:
    """The calendar ring that is the key to the colours, on axes in points from their top left.

    The December solstice is at its foot and the year runs clockwise, so that the left half is the
    sun's way north.
    """
    edges = np.linspace(0.0, 1.0, _SECTORS + 1)
    wide = 0.36 * radius_pt
    sectors = [
        # the axes count downwards, so that angles run clockwise from the right
        Wedge(centre_pt, radius_pt, 90.0 + 360.0 * first, 90.0 + 360.0 * last + 0.4, width=wide)
        for first, last in pairwise(edges)
    ]
    ring = PatchCollection(sectors, facecolors=YEAR_RING((edges[:-1] + edges[1:]) / 2.0),
                           linewidths=0.0, gid="ring")  # fmt: skip
    artists: list[Artist] = [ax.add_collection(ring)]
    style: dict[str, Any] = {"ha": "center", "va": "center", "color": palette.INK}
    starts, length = _month_starts(atlas.year)
    for name, start, end in zip(_MONTHS, starts, [*starts[1:], length + 1], strict=True):
        along = _on_ring(centre_pt, ring_place(start, length), radius_pt - wide, radius_pt)
        artists += ax.plot(*along, color=palette.PAPER, linewidth=0.8)
        middle = ring_place((start + end) / 2.0, length)
        (across,), (down,) = _on_ring(centre_pt, middle, radius_pt + 10.0)
        artists.append(ax.text(across, down, name, fontsize=7.5, **style))
    for place in (0.0, 0.5):
        along = _on_ring(centre_pt, place, radius_pt - wide - 3.0, radius_pt + 3.0)
        artists += ax.plot(*along, color=palette.INK, linewidth=1.2, solid_capstyle="butt")
    for up, text, size, weight in (
        (5.0, f"{atlas.year}", 10.5, "bold"),
        (-7.0, atlas.event, 8.0, "normal"),
    ):
        across, down = centre_pt[0], centre_pt[1] - up
        artists.append(ax.text(across, down, text, fontsize=size, fontweight=weight, **style))
    return artists


def atlas_figure(
    dem: Dem,
    atlas: Atlas,
    *,
    title: str,
    subtitle: str = "",
    notes: Sequence[str] = (),
    mist: Mist | None = None,
    reach_m: float = 12_000.0,
) -> Figure:
    """A page with both maps of a year atlas and the ring that is their key.

    title, subtitle: what it shows, each one line. notes: lines under the ring. mist: that of the
    atlas. reach_m: how far from the hill the maps reach, on ground that is there.
    """
    frame_m = _frame(dem, atlas, reach_m)
    height_in = _MAP_IN * (frame_m[3] - frame_m[2]) / (frame_m[1] - frame_m[0])
    named_pt = text_width_pt(f"{atlas.hill.label}, {atlas.hill.height_m:.0f} m")
    key_in = max(_KEY_IN, (named_pt + 24.0) / 72.0)
    width_in = MARGIN_IN + 2.0 * (_MAP_IN + _GAP_IN) + key_in + _RIGHT_IN
    page = new_page((width_in, _TOP_IN + max(height_in, _LEAST_IN) + _LOW_IN), title, [subtitle])
    heads = ("as the sun goes north, December to June", "as it goes south, June to December")
    for number, (day, head) in enumerate(zip((atlas.north_day, atlas.south_day), heads,
                                             strict=True)):  # fmt: skip
        left_in = MARGIN_IN + number * (_MAP_IN + _GAP_IN)
        low_in = _LOW_IN + max(height_in, _LEAST_IN) - height_in
        ax = axes_at(page, left_in, low_in, _MAP_IN, height_in)
        draw_atlas(ax, dem, atlas, day, frame_m=frame_m, mist=mist)
        ax.set_title(head, loc="left", fontsize=9.0, color=palette.INK, pad=5.0)
        if number:
            ax.tick_params(axis="y", labelleft=False)
    side = points_axes(
        page, width_in - key_in - _RIGHT_IN, _LOW_IN, key_in, max(height_in, _LEAST_IN)
    )
    middle = key_in * 36.0
    draw_ring(side, (middle, _RING_PT + 18.0), atlas)
    foot = 2.0 * _RING_PT + 58.0
    _draw_swatches(side, foot, atlas)
    draw_legend(side, foot + 36.0, mist, atlas.hill, (), None, None)
    write_notes(side, notes)
    return page


def _frame(dem: Dem, atlas: Atlas, reach_m: float) -> Frame:
    """About the hill and all ground near it that has a day."""
    if atlas.has_days.any():
        # a hill may be seen from afar alone
        reach_m = max(reach_m, float(np.median(atlas.distance_m[atlas.has_days])))
    near = np.nonzero(atlas.has_days & (atlas.distance_m <= reach_m))
    ends = np.array([[part.min(), part.max()] for part in near if part.size], dtype=float)
    row, col = ends if len(ends) else np.empty((2, 0))
    turn = dem.transform
    corners = np.stack([turn.c + turn.a * (col + 0.5), turn.f + turn.e * (row + 0.5)], axis=1)
    summit = map_places(dem.grid, atlas.hill.lon_deg, atlas.hill.lat_deg)
    places = np.concatenate([summit, corners])
    across, up = np.maximum(np.ptp(places, axis=0), 1.0)
    return frame_about(dem.grid, places, aspect=float(np.clip(across / up, *_ASPECTS)))


def _coloured(dem: Dem, part: Part, place: Floats, share: Floats) -> Floats:
    """(rows, cols, 4) RGBA: the colour of the date where there is one, else grey relief."""
    ground = relief(part.thinned(dem.heights_m), dem.cell_m * part.step)
    grey = ground[..., :3] @ np.array([0.2126, 0.7152, 0.0722])
    known = grey[ground[..., 3] > 0.0]
    middle = float(np.median(known)) if known.size else 1.0
    shade = np.clip(grey / middle, 0.0, 1.3)[..., np.newaxis]
    plain = np.clip(np.array(to_rgb(_GREY)) * (0.4 + 0.6 * shade), 0.0, 1.0)
    dated = np.clip(YEAR_RING(place)[..., :3] * (0.7 + 0.3 * shade), 0.0, 1.0)
    cover = np.clip(2.0 * share, 0.0, 1.0)[..., np.newaxis]
    return np.concatenate([plain + cover * (dated - plain), ground[..., 3:]], axis=2)


def _draw_month_lines(ax: Axes, part: Part, place: Floats, year: int) -> list[Artist]:
    """Lines where a month begins, as the ring has them, and a fine edge round dated ground."""
    if min(place.shape) < 2 or np.isnan(place).all():
        return []
    dated = np.where(np.isnan(place), 0.0, 1.0)
    edge = ax.contour(*part.centres(), dated, levels=[0.5], colors=palette.INK, linewidths=0.35,
                      alpha=0.55, zorder=1.6, gid="edge")  # fmt: skip
    middle = np.angle(np.nansum(np.exp(2j * np.pi * place))) / (2.0 * np.pi)
    around = np.mod(place - middle + 0.5, 1.0)
    starts, length = _month_starts(year)
    levels = np.unique(np.mod(ring_place(starts, length) - middle + 0.5, 1.0))
    low, high = np.nanmin(around), np.nanmax(around)
    levels = levels[(levels > low) & (levels < high)]
    if not levels.size:
        return [edge]
    lines = ax.contour(*part.centres(), around, levels=levels, colors=palette.PAPER,
                       linewidths=0.7, zorder=1.5, gid="months")  # fmt: skip
    return [lines, edge]


def _day_of_blocks(part: Part, day: NDArray[np.floating]) -> tuple[Floats, Floats]:
    """Where on the ring the cells of the picture lie, and the share of each that has a day.

    The mean of days is taken round the ring, so that of late December and early January is not
    in July.
    """
    turn = 2.0 * np.pi * ring_place(day[part.rows, part.cols])
    rows, cols = (size // part.step for size in turn.shape)
    blocks = turn.reshape(rows, part.step, cols, part.step)
    known = ~np.isnan(blocks)
    east = np.where(known, np.sin(blocks), 0.0).sum(axis=(1, 3))
    north = np.where(known, np.cos(blocks), 0.0).sum(axis=(1, 3))
    return np.mod(np.arctan2(east, north) / (2.0 * np.pi), 1.0), known.mean(axis=(1, 3))


def _some_of(part: Part, dated: NDArray[np.bool_]) -> Floats:
    """Places (n, 2) of some of the dated cells of the picture, in map coordinates."""
    easting, northing = part.centres()
    row, col = np.nonzero(dated)
    some = slice(None, None, max(row.size // 2000, 1))
    return np.stack([easting[col[some]], northing[row[some]]], axis=1)


def _unknown(ax: Axes) -> Artist:
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    sheet = Rectangle((west, south), east - west, north - south, facecolor=palette.PAPER,
                      edgecolor=palette.FAINT, hatch="////", linewidth=0.0, zorder=0.5,
                      gid="unknown")  # fmt: skip
    return ax.add_patch(sheet)


def _draw_mist(ax: Axes, dem: Dem, mist: Mist, part: Part) -> list[Artist]:
    """The mist as a pale veil with its shore."""
    over = part.thinned(mist.height_over(dem))
    veil = ax.contourf(*part.centres(), over, levels=[-1e9, 0.0], colors=palette.MIST, alpha=0.85,
                       antialiased=False, zorder=2.0)  # fmt: skip
    shore = ax.contour(*part.centres(), over, levels=[0.0], colors=palette.SHORE, linewidths=0.8,
                       zorder=2.5)  # fmt: skip
    return [veil, shore]


def _month_starts(year: int) -> tuple[list[int], int]:
    """The day of the year on which each month begins, and how many days there are."""
    starts = [dt.date(year, month, 1).timetuple().tm_yday for month in range(1, 13)]
    return starts, dt.date(year, 12, 31).timetuple().tm_yday


def _on_ring(
    centre_pt: tuple[float, float], place: ArrayLike, *radii_pt: float
) -> tuple[list[float], list[float]]:
    """Across and down of points at a place of the ring, one for each radius."""
    turn = 2.0 * np.pi * float(np.asarray(place))
    return (
        [centre_pt[0] - radius * float(np.sin(turn)) for radius in radii_pt],
        [centre_pt[1] + radius * float(np.cos(turn)) for radius in radii_pt],
    )


def _draw_swatches(side: Axes, top_pt: float, atlas: Atlas) -> None:
    """What the colour and the grey mean."""
    verb = "sets" if atlas.evening else "rises"
    words = (
        (YEAR_RING(0.25), f"the sun {verb} behind the summit,"),
        (None, f"within {atlas.tolerance_deg:g}°, about this date"),
    )
    for line, (colour, text) in enumerate(words):
        at = top_pt + 11.0 * line
        if colour is not None:
            side.add_patch(Rectangle((0.5, at - 5.0), 8.0, 10.0, facecolor=YEAR_RING(0.25)))
            side.add_patch(Rectangle((8.5, at - 5.0), 8.0, 10.0, facecolor=YEAR_RING(0.75)))
        side.text(22.0, at, text, fontsize=8.0, va="center_baseline", color=palette.INK)
