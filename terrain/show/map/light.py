"""The light of a morning as one map: contours of clock time, the moment of the first direct sun.

The earlier a place is lit the paler it is, so that the map reads as the morning itself does: the
heights first, the light down the slopes, and last what lies in the lee of a ridge. Of an evening
the contours are of the last direct sun, and the longer a place keeps it the paler it is; what the
colours mean is told in the order of the clock for both.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy import ndimage

from terrain.arrays import Floats
from terrain.errors import NoAnswer
from terrain.show.map.contour_labels import draw_isolines
from terrain.show.map.light_moment import light_frame
from terrain.show.map.light_sheet import clock_names, light_sheet
from terrain.show.map.lit_ground import (
    NEVER_HATCH,
    LitGround,
    draw_lit_ground,
    light_page,
    unknown_rows,
    worth_a_row,
)
from terrain.show.map.mist import mist_row
from terrain.show.map.surround import finish_map, hatch_cells
from terrain.show.paper import palette
from terrain.show.paper.key import Columns, Key, draw_key, key_of
from terrain.show.paper.legend import Row, draw_box, draw_rows, swatch_row
from terrain.show.paper.marks import from_points
from terrain.show.paper.style import own_style
from terrain.show.paper.text import notes_height_pt, write, write_notes
from terrain.words.clocks import hour_minute, long_day, short_day, zone_in_hours

_LATEST: Final = 0.78  # how far towards the dark end the last light goes, so that ink shows on it
_MOST_CONTOURS: Final = 24
_STEPS_MIN: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0)
_SMOOTH: Final = 1.0  # cells of the picture: less than a line is wide
_SWATCH_PT, _LAST_PT, _LEAST_SCALE_PT = 13.0, 18.0, 130.0


@dataclass(frozen=True, kw_only=True)
class LightPages:
    """What is drawn of one morning or evening; every_min: between contours, as suits the map."""

    area_name: str
    lit: LitGround
    every_min: float | None = None

    @cached_property
    def times(self) -> list[dt.datetime]:
        """The clock times of the contours: at the step asked for, or at one that suits the map."""
        shown = self.lit.cells.mask(self.lit.dem.shape)
        steps = _STEPS_MIN if self.every_min is None else (self.every_min,)
        times: list[dt.datetime] = []
        for step in steps:
            times = self.lit.arrival.clock_times(step, cells=shown)
            if len(times) <= _MOST_CONTOURS:
                break
        if not times:
            does = "leaves" if self.lit.arrival.evening else "comes to"
            when = f"on {short_day(self.lit.arrival.day)}: nothing to draw"
            raise NoAnswer(f"the sun {does} no ground of the map {when}")
        return times

    def contours(self, table: pd.DataFrame, disc_words: str, notes: Sequence[str]) -> Figure:
        """The map whose contours are clock times.

        table: as `valley_times` has it of the valleys. disc_words: how much of the sun counts.
        """
        contours = self.times[:: -(-len(self.times) // (2 * _MOST_CONTOURS))]
        step = (contours[1] - contours[0]).total_seconds() / 60.0 if len(contours) > 1 else 0.0
        day, noon = self.lit.arrival.day, self.lit.arrival.moment(43200.0)
        coming = f"when the sun {'goes' if self.lit.arrival.evening else 'comes'}"
        return light_map_figure(
            self.lit,
            contours,
            title=f"{self.area_name}: {coming}" if self.area_name else coming.capitalize(),
            subtitle=(
                f"{long_day(day)}, by the clock in {zone_in_hours(noon)}; "
                f"{disc_words}, a line every {step:g} min"
            ),
            table=table,
            notes=notes,
        )

    def sheet(self) -> Figure:
        """The light at the times of contours as one sheet of small maps."""
        title = f"{self.area_name or 'The light'} on {short_day(self.lit.arrival.day)}"
        return light_sheet(self.lit, self.times, title=title)

    def moments(self) -> Iterator[tuple[str, Figure]]:
        """The light at the time of each contour, with a name for the time."""
        title = f"{self.area_name or 'The light'} on {short_day(self.lit.arrival.day)}"
        for moment, name in zip(self.times, clock_names(self.times), strict=True):
            yield name, light_frame(self.lit, moment, title=title)


def draw_light_map(ax: Axes, lit: LitGround, times: Sequence[dt.datetime]) -> None:
    """Draw a map of the first or last direct sun on axes of a final size.

    times: of the contours, aware, in order, at least two.
    """
    levels_s = [lit.arrival.seconds(time) for time in times]
    colours = _bands(lit, levels_s)
    marks_pt = draw_lit_ground(ax, lit, colours, interpolation="nearest", mist_alpha=0.35)
    hatch_cells(ax, lit.cells, lit.never, NEVER_HATCH, zorder=2.2, gid="never")
    scale_pt = finish_map(ax, lit.dem.grid, from_points(ax, marks_pt))
    labels = {level: hour_minute(time) for level, time in zip(levels_s, times, strict=True)}
    draw_isolines(
        ax,
        lit.cells.centres(),
        _smoothed(lit.arrives_s),
        labels,
        bold=frozenset(label for label in labels.values() if label.endswith(":00")),
        keep_out_pt=np.concatenate([marks_pt, _spots_within(scale_pt)]),
    )


@own_style()
def light_map_figure(
    lit: LitGround,
    times: Sequence[dt.datetime],
    *,
    title: str,
    subtitle: str = "",
    table: pd.DataFrame | None = None,
    notes: Sequence[str] = (),
) -> Figure:
    """A page with the map of the first direct sun, or the last, and the key to its times.

    Parameters
    ----------
    lit : LitGround
        What it shows.
    times : sequence of datetime
        Of the contours, aware, in order, at least two.
    title : str
        What it shows, one line.
    subtitle : str, optional
        The same.
    table : pandas.DataFrame, optional
        Of the valleys, from `valley_times`.
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
    >>> times = arrival.clock_times(5.0)
    >>> page = terrain.light_map_figure(lit, times, title="The light comes")
    >>> len(page.axes) > 0
    True
    """
    key = valley_key(table) if table is not None else Key(marks=(), columns={})
    key_pt = key.height_pt + 14.0 if key.marks else 0.0
    rows = _legend(lit)
    rest_pt = sum(row.height_pt for row in rows) + key_pt + 40.0
    least_pt = key.width_pt, _LEAST_SCALE_PT + rest_pt
    page, ax, side = light_page(lit.shown, title, subtitle, least_pt, notes)
    draw_light_map(ax, lit, times)
    room_pt = side.get_ylim()[0] - notes_height_pt(notes, side.get_xlim()[1]) - rest_pt
    foot = _draw_times(side, times, room_pt, evening=lit.arrival.evening)
    foot = draw_rows(side, foot + 14.0, rows)
    if key.marks:
        draw_key(side, key, top_pt=foot + 6.0)
    write_notes(side, notes)
    return page


def valley_key(table: pd.DataFrame) -> Key:
    """When each numbered valley is lit, from a table of `terrain.valley_times`."""
    sun = "first_light" if "first_light" in table.columns else "last_light"
    headings = {
        name: name.replace("_", "\n") if name == sun else f"{name[4:]} %\nlit"
        for name in map(str, table.columns)
        if name == sun or name.startswith("lit_")
    }
    columns: Columns = {
        "valley": ("valley", str),
        **{heading: (name, hour_minute) for name, heading in headings.items()},
    }
    return key_of(table.assign(valley=table.index), columns, whole=True)


def _bands(lit: LitGround, levels_s: Sequence[float]) -> Floats:
    """(rows, cols, 4) RGBA: the tint of the band of times each cell lies in, on the relief."""
    band = np.searchsorted(levels_s, np.nan_to_num(lit.arrives_s))
    tone = _tone(band, len(levels_s), evening=lit.arrival.evening)
    tint = palette.mixed(palette.SUN_GLOW, palette.RIDGE_NEAR, tone)
    tint[np.isnan(lit.arrives_s)] = to_rgb(palette.RIDGE_NEAR)
    shade = np.nan_to_num(lit.shade, nan=1.0)[..., np.newaxis]
    rgb = np.clip(tint * (0.53 + 0.47 * shade), 0.0, 1.0)
    return np.concatenate([rgb, lit.opacity], axis=2)


def _tone(band: NDArray[np.integer], levels: int, *, evening: bool) -> Floats:
    """How dark a band is, 0 to 1: the first, before the first level, is the palest.

    Of an evening the last, after the last level.
    """
    return _LATEST * (levels - band if evening else band) / max(levels, 1)


def _smoothed(arrives_s: Floats) -> Floats:
    """Times without the steps of single cells, NaN where there are none."""
    known = np.isfinite(arrives_s)
    weight = ndimage.gaussian_filter(known.astype(float), _SMOOTH)
    total = ndimage.gaussian_filter(np.where(known, arrives_s, 0.0), _SMOOTH)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(known, total / weight, np.nan)


def _spots_within(box_pt: Floats) -> Floats:
    """Places (n, 2) all over a box given by two corners, near enough to each other for a label."""
    across, up = (np.arange(low, high + 20.0, 20.0) for low, high in box_pt.T)
    return np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)


def _draw_times(
    side: Axes, times: Sequence[dt.datetime], room_pt: float, *, evening: bool
) -> float:
    """The scale of tints from the first time down, and where its foot is, points.

    Under the last line is what is lit later, or of an evening over the first what was left earlier.
    """
    count = len(times)
    high = min(_SWATCH_PT, (room_pt - _LAST_PT - 14.0) / max(count - 1, 1))
    step = next(s for s in (1, 2, 3, 4, 6, 12, count) if s * high >= 10.0 or s == count)
    which, beyond = ("last", "earlier") if evening else ("first", "later")
    write(side, (0.0, 2.0), f"{which} direct sun, by the clock", colour=palette.QUIET)
    tone = _tone(np.arange(count) + (not evening), count, evening=evening)
    deep = [high] * count
    deep[0 if evening else -1] = _LAST_PT
    edges = 14.0 + np.concatenate([[0.0], np.cumsum(deep)])
    tones = palette.mixed(palette.SUN_GLOW, palette.RIDGE_NEAR, tone)
    for top, pt, colour in zip(edges, deep, tones, strict=False):
        draw_box(side, (0.5, top), (26.0, pt), {"facecolor": colour, "linewidth": 0.0})
    # whole hours keep their labels where not all of them have room
    every_s = (times[1] - times[0]).total_seconds() if count > 1 else 60.0
    first = round((60 * times[0].hour + times[0].minute) * 60.0 / every_s)
    lines = edges[1:] if evening else edges[:-1]
    for number, (top, time) in enumerate(zip(lines, times, strict=True)):
        side.plot([0.5, 26.5], [top, top], color=palette.INK, linewidth=0.5)
        if (first + number) % step == 0:
            write(side, (32.0, top), hour_minute(time))
    write(side, (32.0, edges[0] + 6.3 if evening else edges[-1] - 6.3), beyond)
    return float(edges[-1])


def _legend(lit: LitGround) -> list[Row]:
    """What is not a time."""
    rows = []
    if worth_a_row(lit.all_night):
        words = "up still when the day ends" if lit.arrival.evening else "up all night"
        rows.append(swatch_row(f"the sun is {words}", {"facecolor": palette.SUN_GLOW}))
    if worth_a_row(lit.never):
        pattern, colour = NEVER_HATCH
        look = {"facecolor": palette.RIDGE_NEAR, "edgecolor": colour, "hatch": pattern}
        rows.append(swatch_row("no sun that day", look | {"linewidth": 0.0}))
    mist = [] if lit.mist is None else [mist_row(lit.mist)]
    return [*rows, *unknown_rows(lit), *mist]
