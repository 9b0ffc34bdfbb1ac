"""The light of a morning as one map: contours of clock time, the moment of the first direct sun.

The earlier a place is lit the paler it is, so that the map reads as the morning itself does: the
heights first, the light down the slopes, and last what lies in the lee of a ridge.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley
from terrain.mist.mist import Mist
from terrain.show.map.contour_labels import draw_isolines
from terrain.show.map.extent import Frame, draw_degrees, draw_scale_and_north
from terrain.show.map.legend import write_notes
from terrain.show.map.light_ground import (
    NEVER_HATCH,
    UNKNOWN_HATCH,
    LitPart,
    draw_mist_veil,
    draw_unlit,
    draw_valleys,
    frame_of,
    hour_minute,
    lit_page,
    lit_part,
    notes_pt,
)
from terrain.show.paper import palette
from terrain.show.paper.key import Key, draw_key
from terrain.show.paper.marks import in_points

__all__ = ["draw_light_map", "light_map_figure", "valley_key"]

_LATEST: Final = 0.78  # how far towards the dark end the last light goes, so that ink shows on it
_SMOOTH: Final = 1.0  # cells of the picture: less than a line is wide
_SWATCH_PT, _LAST_PT, _LOOK_PT, _LEAST_SCALE_PT = 13.0, 18.0, 15.0, 130.0
_TEXT_PT: Final = 8.0

Floats = NDArray[np.float64]


def draw_light_map(
    ax: Axes,
    dem: Dem,
    arrival: Arrival,
    times: Sequence[dt.datetime],
    *,
    frame_m: Frame | None = None,
    mist: Mist | None = None,
    valleys: Sequence[Valley] = (),
) -> list[Artist]:
    """Draw a map of the first direct sun on axes of a final size; returns what was drawn.

    dem: the ground. arrival: the light on it, or on it and the mist. times: of the contours,
    aware, in order, at least two. frame_m: what it shows; unless given, the valleys, or else the
    whole raster. valleys: outlined and numbered in their order.
    """
    frame_m = frame_of(dem, valleys) if frame_m is None else frame_m
    ax.set(xlim=frame_m[:2], ylim=frame_m[2:], facecolor=palette.PAPER)
    light = lit_part(arrival, frame_m)
    levels_s = [arrival.seconds(time) for time in times]
    artists = draw_unlit(ax, light)
    artists.append(
        ax.imshow(_bands(light, levels_s), extent=light.part.extent_m, interpolation="nearest",
                  aspect="auto", zorder=1.0, gid="light")
    )  # fmt: skip
    if mist is not None:
        artists += draw_mist_veil(ax, dem, mist, light.part, 0.35)
    marks = draw_valleys(ax, dem, light.part, valleys)
    artists += marks
    scale = draw_scale_and_north(ax, dem.grid, _data_places(marks))
    labels = {level: hour_minute(time) for level, time in zip(levels_s, times, strict=True)}
    artists += draw_isolines(
        ax,
        light.part.centres(),
        _smoothed(light.arrives_s),
        labels,
        bold=frozenset(label for label in labels.values() if label.endswith(":00")),
        keep_out_pt=np.concatenate([in_points(ax, _data_places(marks)), _under(ax, scale[0])]),
    )
    artists += scale
    return artists + draw_degrees(ax, dem.grid)


def light_map_figure(
    dem: Dem,
    arrival: Arrival,
    times: Sequence[dt.datetime],
    *,
    title: str,
    subtitle: str = "",
    frame_m: Frame | None = None,
    mist: Mist | None = None,
    valleys: Sequence[Valley] = (),
    table: pd.DataFrame | None = None,
    notes: Sequence[str] = (),
) -> Figure:
    """A page with the map of the first direct sun and the key to its times.

    title, subtitle: what it shows, each one line. table: of the valleys, from
    `terrain.valley_times`. notes: lines at the foot. The rest is as for `draw_light_map`.
    """
    frame_m = frame_of(dem, valleys) if frame_m is None else frame_m
    key = None if table is None or table.empty else valley_key(table)
    light = lit_part(arrival, frame_m)
    looks = _looks(light, mist)
    rest_pt = _LOOK_PT * len(looks) + (0.0 if key is None else key.height_pt + 14.0) + 40.0
    page, ax, side = lit_page(
        frame_m,
        title,
        [subtitle],
        key_pt=0.0 if key is None else key.width_pt,
        high_pt=_LEAST_SCALE_PT + rest_pt,
        notes=notes,
    )
    draw_light_map(ax, dem, arrival, times, frame_m=frame_m, mist=mist, valleys=valleys)
    room_pt = side.get_ylim()[0] - notes_pt(notes, side.get_xlim()[1]) - rest_pt
    foot = _draw_looks(side, _draw_times(side, times, room_pt) + 14.0, looks)
    if key is not None:
        draw_key(side, key, top_pt=foot + 6.0)
    write_notes(side, notes)
    return page


def valley_key(table: pd.DataFrame) -> Key:
    """When each numbered valley is lit, from a table of `terrain.valley_times`."""
    shares = [name for name in table.columns if str(name).startswith("lit_")]
    columns = {
        "first\nlight": "first_light",
        **{f"{str(name)[4:]} %\nlit": name for name in shares},
    }
    rows = [
        (str(valley), *(_clock(row[column]) for column in columns.values()))
        for valley, row in table.iterrows()
    ]
    marks = tuple(str(number) for number in range(1, len(rows) + 1))
    return Key(headings=("valley", *columns), marks=marks, rows=tuple(rows), left=("valley",))


def _clock(moment: Any) -> str:
    return "–" if pd.isna(moment) else hour_minute(moment.to_pydatetime())


def _bands(light: LitPart, levels_s: Sequence[float]) -> Floats:
    """(rows, cols, 4) RGBA: the tint of the band of times each cell lies in, on the relief."""
    band = np.searchsorted(levels_s, np.nan_to_num(light.arrives_s))
    tint = palette.mixed(palette.SUN_GLOW, palette.RIDGE_NEAR, _tone(band, len(levels_s)))
    dark = np.isnan(light.arrives_s)[..., np.newaxis]
    tint = np.where(dark, palette.mixed(palette.RIDGE_NEAR, palette.PAPER, np.array(0.0)), tint)
    shade = np.nan_to_num(light.shade, nan=1.0)[..., np.newaxis]
    rgb = np.clip(tint * (0.53 + 0.47 * shade), 0.0, 1.0)
    known = ~np.isnan(light.shade) & (light.unknown <= 0.5)
    return np.concatenate([rgb, known[..., np.newaxis].astype(float)], axis=2)


def _tone(band: NDArray[np.int64], levels: int) -> Floats:
    """How dark a band is, 0 to 1: the first, before the first level, is the palest."""
    return _LATEST * band / max(levels, 1)


def _smoothed(arrives_s: Floats) -> Floats:
    """Times without the steps of single cells, NaN where there are none."""
    known = np.isfinite(arrives_s)
    weight = ndimage.gaussian_filter(known.astype(float), _SMOOTH)
    total = ndimage.gaussian_filter(np.where(known, arrives_s, 0.0), _SMOOTH)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(known, total / weight, np.nan)


def _data_places(marks: Sequence[Artist]) -> Floats:
    """Where the numbered discs are, (n, 2) in data units."""
    places = [
        np.column_stack(mark.get_data())  # type: ignore[attr-defined]
        for mark in marks
        if str(mark.get_gid()).startswith("mark-")
    ]
    return np.concatenate(places) if places else np.empty((0, 2))


def _under(ax: Axes, box: Artist) -> Floats:
    """Points on the page that a box covers, (n, 2), near enough to each other for a label."""
    ends = box.get_window_extent().get_points() * 72.0 / ax.figure.dpi
    across, up = (np.arange(low, high + 20.0, 20.0) for low, high in ends.T)
    return np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)


def _draw_times(side: Axes, times: Sequence[dt.datetime], room_pt: float) -> float:
    """The scale of tints from the first light down, and where its foot is, points."""
    count = len(times)
    high = min(_SWATCH_PT, (room_pt - _LAST_PT - 14.0) / max(count - 1, 1))
    step = next(s for s in (1, 2, 3, 4, 6, 12, count) if s * high >= 10.0 or s == count)
    side.text(0.0, 2.0, "first direct sun, by the clock", fontsize=_TEXT_PT, va="center_baseline",
              color=palette.QUIET)  # fmt: skip
    tones = palette.mixed(palette.SUN_GLOW, palette.RIDGE_NEAR, _tone(np.arange(count + 1), count))
    # whole hours keep their labels where not all of them have room
    every_s = (times[1] - times[0]).total_seconds() if count > 1 else 60.0
    first = round((60 * times[0].hour + times[0].minute) * 60.0 / every_s)
    top = 14.0
    for number, colour in enumerate(tones[1:]):
        deep = high if number < count - 1 else _LAST_PT
        side.add_patch(Rectangle((0.5, top + number * high), 26.0, deep, facecolor=colour,
                                 linewidth=0.0))  # fmt: skip
    for number, time in enumerate(times):
        at = top + number * high
        side.plot([0.5, 26.5], [at, at], color=palette.INK, linewidth=0.5)
        if (first + number) % step == 0:
            side.text(32.0, at, hour_minute(time), fontsize=_TEXT_PT, va="center_baseline",
                      color=palette.INK)  # fmt: skip
    foot = top + (count - 1) * high + _LAST_PT
    side.text(32.0, foot - 0.35 * _LAST_PT, "later", fontsize=_TEXT_PT, va="center_baseline",
              color=palette.INK)  # fmt: skip
    return foot


def _looks(light: LitPart, mist: Mist | None) -> list[tuple[dict[str, Any], str]]:
    """What is not a time: how it looks, and what it is."""
    looks: list[tuple[dict[str, Any], str]] = []
    if light.has_all_night:
        looks.append(({"facecolor": palette.SUN_GLOW}, "the sun is up all night"))
    if light.has_never:
        looks.append(({"facecolor": palette.RIDGE_NEAR, "edgecolor": palette.RIDGE_FAR,
                       "hatch": NEVER_HATCH, "linewidth": 0.0}, "no sun that day"))  # fmt: skip
    if light.has_unknown:
        looks.append(({"facecolor": palette.PAPER, "edgecolor": palette.HIDDEN,
                       "hatch": UNKNOWN_HATCH, "linewidth": 0.4}, "not known when"))  # fmt: skip
    if mist is not None:
        looks.append(({"facecolor": palette.MIST, "edgecolor": palette.SHORE, "linewidth": 0.9},
                      f"mist and its shore, top at {mist.label}"))  # fmt: skip
    return looks


def _draw_looks(side: Axes, top_pt: float, looks: Sequence[tuple[dict[str, Any], str]]) -> float:
    at = top_pt
    for look, words in looks:
        side.add_patch(Rectangle((0.5, at - 5.0), 15.0, 10.0, **look))
        side.text(22.0, at, words, fontsize=_TEXT_PT, va="center_baseline", color=palette.INK)
        at += _LOOK_PT
    return at
