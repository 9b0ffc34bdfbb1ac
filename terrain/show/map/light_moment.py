"""One moment of a morning's light: what the sun has reached, what lies in shade still.

Of an evening: what it has left for good, and what not yet. A run of such frames, one every few
minutes, shows the light pour down the valley, or the shade climb out of it. They are all of
one size and layout, so that nothing but the light moves from one to the next.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from scipy import ndimage

from terrain.arrays import Floats
from terrain.ground.grid import Grid
from terrain.show.map.lit_ground import LitGround, draw_lit_ground, light_page, unknown_rows
from terrain.show.map.surround import finish_map
from terrain.show.paper import palette
from terrain.show.paper.legend import Row, draw_box, draw_rows, swatch_row
from terrain.show.paper.marks import RADIUS_PT, corners_pt, draw_mark, from_points
from terrain.show.paper.style import own_style
from terrain.show.paper.text import compass, text_width_pt, write, write_notes
from terrain.sun.position import SunPosition, sun_position
from terrain.words.clocks import hour_minute, zone_in_hours

_NAMES_AT_PT: Final = 2.0 * RADIUS_PT + 8.0
_BAR_PT, _ROW_PT, _PERCENT_PT = 62.0, 16.0, 30.0
_SUN_IN_PT: Final = 13.0
_ROUND_CELLS: Final = 1.2
_DOWN_DEG: Final = -0.3  # less than this and no part of the disc stands over a level horizon
_SUN_LOOK: Final[dict[str, Any]] = {
    "marker": "o",
    "linestyle": "none",
    "markerfacecolor": palette.SUN_GLOW,
    "markeredgecolor": palette.SUN,
}


def _between(first: str, second: str, share: float) -> Floats:
    return np.asarray(palette.mixed(first, second, np.array(share)), dtype=float)


_LIT: Final = _between(palette.SUN_GLOW, to_hex(palette.GROUND(0.4)), 0.3)
_SHADED: Final = _between(palette.RIDGE_NEAR, palette.RIDGE_FAR, 0.3)
_MIST_LIT: Final = _between(palette.MIST, palette.SUN_GLOW, 0.3)
_MIST_SHADED: Final = _between(palette.RIDGE_FAR, palette.MIST, 0.15)


def draw_light(ax: Axes, lit: LitGround, moment: dt.datetime) -> None:
    """Draw what the sun has reached by a moment, or not yet left, on axes of a final size.

    An open ring at the edge is where the sun stands.
    """
    finish_map(ax, lit.dem.grid, draw_moment(ax, lit, moment))


def draw_moment(ax: Axes, lit: LitGround, moment: dt.datetime) -> Floats:
    """The same without degrees and scale, and where the ring is, (1, 2) or (0, 2) at night."""
    draw_lit_ground(ax, lit, _colours(lit, moment), interpolation="bilinear", mist_alpha=0.0)
    at = _sun_place(ax, lit.dem.grid, _sun(lit, moment))
    if len(at):
        ax.plot(*at.T, markersize=11, markeredgewidth=2, zorder=9, gid="sun", **_SUN_LOOK)
    return at


@own_style()
def light_frame(
    lit: LitGround, moment: dt.datetime, *, title: str, notes: Sequence[str] = ()
) -> Figure:
    """A page with the light at one moment, and beside it how much of each valley is lit.

    Parameters
    ----------
    lit : LitGround
        What it shows.
    moment : datetime
        Aware.
    title : str
        What it shows; the clock time is put after it.
    notes : sequence of str, optional
        Lines at the foot.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> arrival = terrain.light_arrival(cone, dt.date(2025, 3, 30))
    >>> lit = terrain.LitGround(dem=cone, arrival=arrival)
    >>> page = terrain.light_frame(lit, arrival.clock_times(5.0)[0], title="The light")
    >>> len(page.axes) > 0
    True
    """
    title = f"{title} at {hour_minute(moment)} ({zone_in_hours(moment)})"
    rows = _shares(lit, moment)
    bar_at = _NAMES_AT_PT + max(text_width_pt(name) for _, name, _ in rows) + 8.0
    key_pt = bar_at + _BAR_PT + _PERCENT_PT, _ROW_PT * len(rows) + 100.0
    line = _sun_line(_sun(lit, moment))
    page, ax, side = light_page(lit.shown, title, line, key_pt, notes)
    draw_light(ax, lit, moment)
    heading = "lit still" if lit.arrival.evening else "lit so far"
    draw_rows(side, _draw_bars(side, rows, bar_at, heading) + 16.0, moment_legend(lit))
    write_notes(side, notes)
    return page


def _sun(lit: LitGround, moment: dt.datetime) -> SunPosition:
    lon, lat = lit.dem.grid.centre_lonlat
    return sun_position([moment], lon_deg=lon, lat_deg=lat)


def _shares(lit: LitGround, moment: dt.datetime) -> list[tuple[str, str, float]]:
    """Mark, name and lit share of each valley, and of the whole."""
    parts = [(str(n), valley.name, valley.cells) for n, valley in enumerate(lit.valleys, start=1)]
    ground = ~np.isnan(lit.arrival.surface.heights_m)
    if lit.mist is None:
        parts.append(("", "all ground", ground))
    else:
        covers = lit.mist.covers
        parts += [("", "all mist", covers), ("", "all clear ground", ground & ~covers)]
    return [
        (mark, name, float(lit.arrival.share_lit(cells, [moment])[0]))
        for mark, name, cells in parts
    ]


def _sun_line(sun: SunPosition) -> str:
    azimuth, altitude = float(sun.azimuth_deg[0]), float(sun.apparent_altitude_deg[0])
    height = f"{abs(altitude):.1f}° {'high' if altitude >= 0.0 else 'below the horizontal'}"
    return f"The sun at {azimuth:.0f}° ({compass(azimuth)}), its middle {height}"


def _colours(lit: LitGround, moment: dt.datetime) -> Floats:
    """(rows, cols, 4) RGBA: ground and mist, each in the sun and out of it."""
    shade = np.nan_to_num(lit.shade, nan=1.0)[..., np.newaxis]
    sunny, dark = _LIT * (0.25 + 0.75 * shade), _SHADED * (0.45 + 0.55 * shade)
    if lit.mist is not None:
        over = lit.cells.thinned(lit.mist.covers)[..., np.newaxis]
        sunny, dark = sunny + over * (_MIST_LIT - sunny), dark + over * (_MIST_SHADED - dark)
    reached = _soft(lit.cells.thinned(lit.arrival.lit(moment)))[..., np.newaxis]
    rgb = np.clip(dark + reached * (sunny - dark), 0.0, 1.0)
    return np.concatenate([rgb, lit.opacity], axis=2)


def _soft(reached: Floats) -> Floats:
    """Shares with the steps of single cells rounded off, as steep at the edge as before."""
    rounded = ndimage.gaussian_filter(reached, _ROUND_CELLS)
    return np.asarray(np.clip(0.5 + 2.0 * (rounded - 0.5), 0.0, 1.0))


def _sun_place(ax: Axes, grid: Grid, sun: SunPosition) -> Floats:
    """Just inside the edge of the map toward the sun, (1, 2) in data units; (0, 2) at night."""
    if float(sun.apparent_altitude_deg[0]) < _DOWN_DEG:
        return np.empty((0, 2))
    low, high = corners_pt(ax)
    turned = math.radians(float(grid.grid_azimuth_deg(sun.azimuth_deg[0], *grid.centre_lonlat)))
    step = np.array([math.sin(turned), math.cos(turned)])
    half = (high - low) / 2.0 - _SUN_IN_PT
    away = float(np.min(half / np.maximum(np.abs(step), 1e-9)))
    return from_points(ax, (low + high) / 2.0 + away * step)[np.newaxis]


def _draw_bars(
    side: Axes, rows: Sequence[tuple[str, str, float]], bar_at: float, heading: str
) -> float:
    """A bar for each valley as long as it is lit, and where the last one ends, points."""
    write(side, (bar_at, 2.0), heading, colour=palette.QUIET)
    at = 20.0
    for mark, name, share in rows:
        draw_mark(side, (RADIUS_PT + 0.5, at), mark)
        write(side, (_NAMES_AT_PT, at), name)
        known = not math.isnan(share)
        bars = ((_BAR_PT, palette.RIDGE_NEAR), (_BAR_PT * share, palette.SUN_GLOW))
        for width, colour in bars if known else ():
            look = {"facecolor": colour, "edgecolor": palette.INK, "linewidth": 0.5}
            draw_box(side, (bar_at, at - 4.5), (width, 9.0), look)
        words = f"{100.0 * share:.0f} %" if known else "–"
        write(side, (bar_at + _BAR_PT + _PERCENT_PT, at), words, ha="right")
        at += _ROW_PT
    return at


def moment_legend(lit: LitGround) -> list[Row]:
    """What the colours and the ring mean."""
    lit_words, shade_words = (
        ("the sun has yet to leave it", "the sun has left it")
        if lit.arrival.evening
        else ("the sun has reached it", "in shade still")
    )
    rows = [
        swatch_row(lit_words, {"facecolor": _LIT}),
        swatch_row(shade_words, {"facecolor": _SHADED}),
    ]
    if lit.mist is not None:
        edge = {"edgecolor": palette.SHORE, "linewidth": 0.9}
        looks = [{"facecolor": colour, **edge} for colour in (_MIST_LIT, _MIST_SHADED)]
        rows.append(swatch_row(f"mist, lit and in shade, top at {lit.mist.label}", *looks))
    return [*rows, *unknown_rows(lit), Row(words="the side the sun stands on", sign=_draw_sun)]


def _draw_sun(side: Axes, at: float) -> None:
    side.plot([8.0], [at], markersize=9.0, markeredgewidth=1.8, **_SUN_LOOK)
