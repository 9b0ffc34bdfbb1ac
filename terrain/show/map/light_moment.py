"""One moment of a morning's light: what the sun has reached, what lies in shade still.

A run of such frames, one every few minutes, shows the light pour down the valley. They are all of
one size and layout, so that nothing but the light moves from one to the next.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley
from terrain.mist.mist import Mist
from terrain.show.map.extent import Frame, draw_degrees, draw_scale_and_north
from terrain.show.map.legend import write_notes
from terrain.show.map.light_ground import (
    UNKNOWN_HATCH,
    LitPart,
    draw_mist_veil,
    draw_unlit,
    draw_valleys,
    frame_of,
    hour_minute,
    lit_page,
    lit_part,
    zone_words,
)
from terrain.show.paper import palette
from terrain.show.paper.key import compass, text_width_pt
from terrain.show.paper.marks import RADIUS_PT, draw_mark, from_points, in_points
from terrain.sun.position import SunPosition, sun_position

__all__ = ["draw_light", "light_frame"]

_TEXT_PT: Final = 8.0
_BAR_PT, _ROW_PT, _PERCENT_PT = 62.0, 16.0, 30.0
_SUN_IN_PT: Final = 13.0
_DOWN_DEG: Final = -0.3  # less than this and no part of the disc stands over a level horizon

Floats = NDArray[np.float64]


def _between(first: str, second: str, share: float) -> Floats:
    return np.asarray(palette.mixed(first, second, np.array(share)), dtype=float)


_LIT: Final = _between(palette.SUN_GLOW, to_hex(palette.GROUND(0.4)), 0.3)
_SHADED: Final = _between(palette.RIDGE_NEAR, palette.RIDGE_FAR, 0.3)
_MIST_LIT: Final = _between(palette.MIST, palette.SUN_GLOW, 0.3)
_MIST_SHADED: Final = _between(palette.RIDGE_FAR, palette.MIST, 0.15)


def draw_light(
    ax: Axes,
    dem: Dem,
    arrival: Arrival,
    moment: dt.datetime,
    *,
    frame_m: Frame | None = None,
    mist: Mist | None = None,
    valleys: Sequence[Valley] = (),
    light: LitPart | None = None,
) -> list[Artist]:
    """Draw what the sun has reached by a moment on axes of a final size; returns what was drawn.

    The rest is as for `terrain.show.map.light.draw_light_map`. light: what `lit_part` gave for
    this frame, worked out here unless given. An open ring at the edge is where the sun stands.
    """
    frame_m = frame_of(dem, valleys) if frame_m is None else frame_m
    ax.set(xlim=frame_m[:2], ylim=frame_m[2:], facecolor=palette.PAPER)
    light = lit_part(arrival, frame_m) if light is None else light
    lit = light.lit(arrival, moment)
    misty = None if mist is None else light.part.thinned(mist.covers.astype(np.float32))
    artists: list[Artist] = [*draw_unlit(ax, light, never=False)]
    artists.append(
        ax.imshow(_colours(light, lit, misty), extent=light.part.extent_m, aspect="auto",
                  interpolation="bilinear", zorder=1.0, gid="light")
    )  # fmt: skip
    if mist is not None:
        artists += draw_mist_veil(ax, dem, mist, light.part, 0.0)
    artists += draw_valleys(ax, dem, light.part, valleys)
    lon, lat = dem.grid.centre_lonlat
    sun = sun_position([moment], lon_deg=lon, lat_deg=lat)
    at = _sun_place(ax, dem, sun)
    if at is not None:
        artists += ax.plot([at[0]], [at[1]], marker="o", markersize=11.0, markeredgewidth=2.0,
                           markerfacecolor=palette.SUN_GLOW, markeredgecolor=palette.SUN,
                           linestyle="none", zorder=9.0, gid="sun")  # fmt: skip
    keep_clear = np.empty((0, 2)) if at is None else at[np.newaxis]
    artists += draw_scale_and_north(ax, dem.grid, keep_clear)
    return artists + draw_degrees(ax, dem.grid)


def light_frame(
    dem: Dem,
    arrival: Arrival,
    moment: dt.datetime,
    *,
    title: str,
    frame_m: Frame | None = None,
    mist: Mist | None = None,
    valleys: Sequence[Valley] = (),
    notes: Sequence[str] = (),
    light: LitPart | None = None,
) -> Figure:
    """A page with the light at one moment, and beside it how much of each valley is lit.

    title: what it shows; the clock time is put after it. The rest is as for `draw_light`.
    """
    frame_m = frame_of(dem, valleys) if frame_m is None else frame_m
    light = lit_part(arrival, frame_m) if light is None else light
    lon, lat = dem.grid.centre_lonlat
    sun = sun_position([moment], lon_deg=lon, lat_deg=lat)
    rows = _rows(arrival, valleys, mist, moment)
    names_pt = max(text_width_pt(name) for _, name, _ in rows)
    key_pt = 2.0 * RADIUS_PT + 8.0 + names_pt + 8.0 + _BAR_PT + _PERCENT_PT
    page, ax, side = lit_page(
        frame_m,
        f"{title} at {hour_minute(moment)} ({zone_words(moment)})",
        [_sun_line(sun)],
        key_pt=key_pt,
        high_pt=_ROW_PT * len(rows) + 100.0,
        notes=notes,
    )
    draw_light(ax, dem, arrival, moment, frame_m=frame_m, mist=mist, valleys=valleys, light=light)
    foot = _draw_bars(side, rows, names_pt)
    _draw_looks(side, foot + 16.0, light, mist)
    write_notes(side, notes)
    return page


def _rows(
    arrival: Arrival, valleys: Sequence[Valley], mist: Mist | None, moment: dt.datetime
) -> list[tuple[str, str, float]]:
    """Mark, name and lit share of each valley, and of the whole."""
    parts = [(str(n), valley.name, valley.cells) for n, valley in enumerate(valleys, start=1)]
    whole = ~np.isnan(arrival.surface.heights_m)
    if mist is not None:
        parts += [("", "all mist", mist.covers), ("", "all clear ground", whole & ~mist.covers)]
    else:
        parts.append(("", "all ground", whole))
    return [
        (mark, name, float(arrival.share_lit(cells, [moment])[0])) for mark, name, cells in parts
    ]


def _sun_line(sun: SunPosition) -> str:
    azimuth, altitude = float(sun.azimuth_deg[0]), float(sun.apparent_altitude_deg[0])
    height = f"{abs(altitude):.1f}° {'high' if altitude >= 0.0 else 'below the horizontal'}"
    return f"The sun at {azimuth:.0f}° ({compass(azimuth)}), its middle {height}"


def _colours(light: LitPart, lit: Floats, misty: Floats | None) -> Floats:
    """(rows, cols, 4) RGBA: ground and mist, each in the sun and out of it."""
    shade = np.nan_to_num(light.shade, nan=1.0)
    tones = [
        _LIT * (0.25 + 0.75 * shade)[..., np.newaxis],
        _SHADED * (0.45 + 0.55 * shade)[..., np.newaxis],
    ]
    if misty is not None:
        over = misty[..., np.newaxis]
        veils = (_MIST_LIT, _MIST_SHADED)
        tones = [tone + over * (veil - tone) for tone, veil in zip(tones, veils, strict=True)]
    rgb = tones[1] + lit[..., np.newaxis] * (tones[0] - tones[1])
    known = ~np.isnan(light.shade) & (light.unknown <= 0.5)
    return np.concatenate([np.clip(rgb, 0.0, 1.0), known[..., np.newaxis].astype(float)], axis=2)


def _sun_place(ax: Axes, dem: Dem, sun: SunPosition) -> Floats | None:
    """Just inside the edge of the map in the sun's direction, in data units; None at night."""
    if float(sun.apparent_altitude_deg[0]) < _DOWN_DEG:
        return None
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    (left, low), (right, high) = in_points(ax, np.array([[west, south], [east, north]]))
    turned = math.radians(
        float(dem.grid.grid_azimuth_deg(sun.azimuth_deg[0], *dem.grid.centre_lonlat))
    )
    step = np.array([math.sin(turned), math.cos(turned)])
    half = np.array([right - left, high - low]) / 2.0 - _SUN_IN_PT
    away = float(np.min(half / np.maximum(np.abs(step), 1e-9)))
    return from_points(ax, np.array([left + right, low + high]) / 2.0 + away * step)


def _draw_bars(side: Axes, rows: Sequence[tuple[str, str, float]], names_pt: float) -> float:
    """A bar for each valley as long as it is lit, and where the last one ends, points."""
    name_at = 2.0 * RADIUS_PT + 8.0
    bar_at = name_at + names_pt + 8.0
    side.text(bar_at, 2.0, "lit so far", fontsize=_TEXT_PT, va="center_baseline",
              color=palette.QUIET)  # fmt: skip
    at = 20.0
    for mark, name, share in rows:
        draw_mark(side, (RADIUS_PT + 0.5, at), mark)
        style: dict[str, Any] = {
            "fontsize": _TEXT_PT,
            "va": "center_baseline",
            "color": palette.INK,
        }
        side.text(name_at, at, name, **style)
        known = not math.isnan(share)
        for width, colour in ((_BAR_PT, palette.RIDGE_NEAR), (_BAR_PT * share, palette.SUN_GLOW)):
            if known:
                side.add_patch(Rectangle((bar_at, at - 4.5), width, 9.0, facecolor=colour,
                                         edgecolor=palette.INK, linewidth=0.5))  # fmt: skip
        words = f"{100.0 * share:.0f} %" if known else "–"
        side.text(bar_at + _BAR_PT + _PERCENT_PT, at, words, ha="right", **style)
        at += _ROW_PT
    return at


def _draw_looks(side: Axes, top_pt: float, light: LitPart, mist: Mist | None) -> None:
    looks: list[tuple[list[dict[str, Any]], str]] = [
        ([{"facecolor": _LIT}], "the sun has reached it"),
        ([{"facecolor": _SHADED}], "in shade still"),
    ]
    if mist is not None:
        edge = {"edgecolor": palette.SHORE, "linewidth": 0.9}
        looks.append(([{"facecolor": _MIST_LIT, **edge}, {"facecolor": _MIST_SHADED, **edge}],
                      f"mist, lit and in shade, top at {mist.label}"))  # fmt: skip
    if light.has_unknown:
        looks.append(([{"facecolor": palette.PAPER, "edgecolor": palette.HIDDEN,
                        "hatch": UNKNOWN_HATCH, "linewidth": 0.4}], "not known when"))  # fmt: skip
    at = top_pt
    for swatches, words in looks:
        wide = 15.0 / len(swatches)
        for number, look in enumerate(swatches):
            side.add_patch(Rectangle((0.5 + number * wide, at - 5.0), wide, 10.0, **look))
        side.text(22.0, at, words, fontsize=_TEXT_PT, va="center_baseline", color=palette.INK)
        at += 15.0
    side.plot([8.0], [at], marker="o", markersize=9.0, markeredgewidth=1.8, linestyle="none",
              markerfacecolor=palette.SUN_GLOW, markeredgecolor=palette.SUN)  # fmt: skip
    side.text(22.0, at, "the side the sun stands on", fontsize=_TEXT_PT, va="center_baseline",
              color=palette.INK)  # fmt: skip
