"""The year picture: days across, hills down, and for each morning as much ink as it is worth."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.transforms import ScaledTranslation
from numpy.typing import ArrayLike

from terrain.arrays import Floats
from terrain.show.chart.season_key import bests_of, called
from terrain.show.paper import palette
from terrain.show.paper.marks import beside, corners_pt
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, notes_height_pt, text_width_pt, write, write_notes

_WIDTH_IN: Final = 11.0
_SHORT_DAYS: Final = 100
"""Spans up to this many days have their weeks marked as well as their months."""

_LANE_IN, _TOP_IN, _LEGEND_IN, _LOW_IN, _GAP_IN = 0.46, 0.26, 0.42, 0.3, 0.16
_TALL: Final = 0.7
"""Of a lane's height: a stroke of the best score there can be."""
_LEAST_SPAN: Final = 0.15
"""Scores that lie nearer together than that are not drawn as far apart as ink allows."""
_GAP_PT: Final = 1.0
_RING_PT: Final = 6.0
_APART_PT: Final = 9.0
_NAME_PT: Final = 8.5
_SAMPLES: Final = 4

_Span = tuple[dt.date, dt.date]
"""The first day and the last."""


class _Scale(NamedTuple):
    """The scores that get the least ink and the most."""

    low: float
    high: float

    def worth(self, score: ArrayLike) -> Floats:
        """How much of the most ink a score gets."""
        share = (np.asarray(score, dtype=float) - self.low) / (self.high - self.low)
        return np.clip(0.12 + 0.88 * share, 0.06, 1.0)


def _scale_of(table: gpd.GeoDataFrame) -> _Scale:
    """From the lowest score of a table to its highest, so that they can be told apart."""
    if table.empty:
        return _Scale(0.0, 1.0)
    low, high = float(table["score"].min()), float(table["score"].max())
    return _Scale(min(low, high - _LEAST_SPAN), high)


def draw_season(
    ax: Axes, table: gpd.GeoDataFrame, hills: Sequence[str], span: _Span, step_days: int = 1
) -> None:
    """Draw the mornings of a season on axes.

    table: from `plan_season`; of several mornings of a hill on a day the best is seen. hills: the
    lanes, from the top down. step_days: the width of a stroke. A stroke stands on its lane, the
    taller and the darker the higher its score; an open ring is over the best of each hill.
    """
    first_day, last_day = span
    ax.set(xlim=(first_day.toordinal() - 0.5, last_day.toordinal() + 0.5))
    ax.set(ylim=(float(len(hills)), 0.0), facecolor="none")
    ax.set_axis_off()
    _draw_months(ax, span)
    if (last_day - first_day).days < _SHORT_DAYS:
        _draw_mondays(ax, span)
    for lane, hill in enumerate(hills):
        _draw_lane(ax, lane, table[table["hill"] == hill], step_days, _scale_of(table))


@own_style()
def season_figure(
    table: gpd.GeoDataFrame,
    *,
    title: str,
    subtitle: str = "",
    hills: Sequence[str] | None = None,
    first_day: dt.date | None = None,
    last_day: dt.date | None = None,
    step_days: int = 1,
    notes: Sequence[str] = (),
) -> Figure:
    """A page with the mornings of a season and, in each hill's lane, its best one in words.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        From `plan_season`; of several mornings of a hill on a day the best is seen.
    title : str
        What it shows, one line.
    subtitle : str, optional
        The same.
    hills : sequence of str, optional
        The lanes, from the top down; those in the table unless given.
    first_day : datetime.date, optional
        The span begins; as the table says unless given.
    last_day : datetime.date, optional
        It ends.
    step_days : int, optional
        The width of a stroke, days.
    notes : sequence of str, optional
        Lines at the foot.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Raises
    ------
    ValueError
        Where neither table nor arguments say what to show.

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
    >>> first, last = dt.date(2025, 3, 30), dt.date(2025, 3, 31)
    >>> season = terrain.plan_season(cone, [hill], first, last)
    >>> page = terrain.season_figure(season, title="The end of March")
    >>> len(page.axes) > 0
    True
    """
    lanes = list(dict.fromkeys(table["hill"])) if hills is None else list(hills)
    if not lanes or (table.empty and (first_day is None or last_day is None)):
        raise ValueError("a year picture needs hills, and days or mornings")
    span = first_day or min(table["day"]), last_day or max(table["day"])
    bests = bests_of(table, lanes)
    widths_pt = {heading: _APART_PT + width for heading, width in bests.widths_pt.items()}
    names_of = [called(hill, table) for hill in lanes]
    name_in = max(text_width_pt(hill, _NAME_PT, "bold") for hill in names_of) / 72.0
    side_in = sum(widths_pt.values()) / 72.0
    left_in, right_in = MARGIN_IN + name_in + _GAP_IN, MARGIN_IN + side_in + _GAP_IN
    notes_in = notes_height_pt(notes, 72.0 * (_WIDTH_IN - 1.0)) / 72.0
    lanes_in, low_in = _LANE_IN * len(lanes), _LOW_IN + notes_in + _LEGEND_IN
    page = new_page(_WIDTH_IN, _TOP_IN + lanes_in + low_in, title, [subtitle])
    ax = axes_at(page, left_in, low_in, _WIDTH_IN - left_in - right_in, lanes_in)
    draw_season(ax, table, lanes, span, step_days)
    names = points_axes(page, MARGIN_IN, low_in, name_in, lanes_in + _TOP_IN)
    _write_column(names, 0.0, "", names_of, weight="bold")
    side = points_axes(page, _WIDTH_IN - MARGIN_IN - side_in, low_in, side_in, lanes_in + _TOP_IN)
    across = 0.0
    for heading, cells in bests.columns.items():
        across += widths_pt[heading]
        _write_column(side, across, heading, cells, ha="right")
    legend = points_axes(page, left_in, low_in - _LEGEND_IN, _WIDTH_IN - left_in, _LEGEND_IN)
    _draw_legend(legend, _scale_of(table))
    foot_in = _WIDTH_IN - 2.0 * MARGIN_IN, max(notes_in, _LOW_IN)
    write_notes(points_axes(page, MARGIN_IN, _LOW_IN, *foot_in), notes)
    return page


def _draw_months(ax: Axes, span: _Span) -> None:
    """A line at the first of each month, and its name over it."""
    for start, end in _months(*span):
        if start > span[0]:
            ax.axvline(start.toordinal() - 0.5, linewidth=0.7, color=palette.FAINT, zorder=1.0)
        room_pt = ((end - start).days + 1) * _day_pt(ax)
        name = _month_name(start, room_pt, start == span[0])
        middle = 0.5 * (start.toordinal() + end.toordinal())
        over = beside(ax, (middle, ax.get_ylim()[1]), (0.0, 6.0))
        write(ax, over, name, ha="center", va="baseline")


def _draw_mondays(ax: Axes, span: _Span) -> None:
    """The day of the month of each Monday under the lanes."""
    look: dict[str, Any] = {"size_pt": 7.0, "ha": "center", "va": "top", "colour": palette.QUIET}
    for monday in pd.date_range(*span, freq="W-MON"):
        under = beside(ax, (monday.toordinal(), ax.get_ylim()[0]), (0.0, -4.0))
        write(ax, under, f"Mon {monday.day}", **look)


def _draw_lane(ax: Axes, lane: int, rows: gpd.GeoDataFrame, step_days: int, scale: _Scale) -> None:
    floor = lane + 0.94
    ax.axhline(floor, color=palette.QUIET, linewidth=0.5, zorder=2.0)
    if rows.empty:
        place = beside(ax, (ax.get_xlim()[0], floor), (3.0, 4.0))
        write(ax, place, "no morning", size_pt=SMALL_PT, va="bottom", colour=palette.QUIET)
        return
    # the best last, so that nothing lies over it
    rows = rows.sort_values("score", kind="stable")
    day = np.array([day.toordinal() for day in rows["day"]], dtype=float)
    score = rows["score"].to_numpy(dtype=float)
    worth = scale.worth(score)
    strokes = _strokes(day, floor, worth, _half_days(ax, step_days), _TALL)
    strokes.set_gid(f"mornings-{lane + 1}")
    ax.add_collection(strokes, autolim=False)
    top = floor - _TALL * float(worth[-1])
    _draw_ring(ax, float(day[-1]), top, f"best-{lane + 1}")


def _draw_ring(ax: Axes, across: float, top: float, gid: str) -> None:
    """An open ring over a place, by its own height whatever the size of the page."""
    lift = ScaledTranslation(0.0, 1.4 * _RING_PT / 2.0 / 72.0, ax.figure.dpi_scale_trans)
    look: dict[str, Any] = {"marker": "o", "markersize": _RING_PT, "linestyle": "none"}
    edge: dict[str, Any] = {"markeredgecolor": palette.SUN, "markeredgewidth": 1.3}
    (ring,) = ax.plot(across, top, markerfacecolor="none", **look, **edge)
    ring.set(transform=ax.transData + lift, clip_on=False, zorder=4.0, gid=gid)


def _day_pt(ax: Axes) -> float:
    """How wide a day is, points."""
    return float(np.ptp(corners_pt(ax)[:, 0]) / np.ptp(ax.get_xlim()))


def _half_days(ax: Axes, step_days: int) -> float:
    """Half of a stroke's width: a step, less a gap where there is room for one."""
    gap_days = _GAP_PT / _day_pt(ax) if step_days * _day_pt(ax) > 4.0 * _GAP_PT else 0.0
    return 0.5 * (step_days - gap_days)


def _strokes(at: Floats, floor: float, worth: Floats, half: float, tall: float) -> PolyCollection:
    """Upright strokes that stand on a floor; down is positive. tall: one of the best score."""
    left, right, top = at - half, at + half, floor - tall * worth
    low = np.full_like(at, floor)
    corners = np.stack([left, low, left, top, right, top, right, low], axis=1).reshape(-1, 4, 2)
    inks = palette.mixed(palette.FAINT, palette.INK, worth)
    return PolyCollection(list(corners), facecolors=inks, linewidths=0.0, zorder=3.0)


def _months(first_day: dt.date, last_day: dt.date) -> list[tuple[dt.date, dt.date]]:
    """First and last day of each month, as far as it lies in a span.

    >>> _months(dt.date(2026, 12, 30), dt.date(2027, 1, 2))[1]
    (datetime.date(2027, 1, 1), datetime.date(2027, 1, 2))
    """
    return [
        (max(month.start_time.date(), first_day), min(month.end_time.date(), last_day))
        for month in pd.period_range(first_day, last_day, freq="M")
    ]


def _month_name(month: dt.date, room_pt: float, is_first: bool) -> str:
    """As much of a month's name as there is room for, with the year at the first and in January."""
    year = f" {month.year}" if is_first or month.month == 1 else ""
    for name in (f"{month:%B}{year}", f"{month:%b}{year}", f"{month:%b}", f"{month:%b}"[0]):
        if text_width_pt(name) <= room_pt - 2.0:
            return name
    return ""


def _write_column(
    ax: Axes, across_pt: float, heading: str, cells: Sequence[str], **look: Any
) -> None:
    """Texts beside the lanes, on axes whose head is that of the months."""
    head_pt, lane_pt = 72.0 * _TOP_IN, 72.0 * _LANE_IN
    above = across_pt, head_pt - 6.0
    write(ax, above, heading, colour=palette.QUIET, va="baseline", **look)
    for lane, text in enumerate(cells):
        low = across_pt, head_pt + (lane + 0.94) * lane_pt - 2.0
        write(ax, low, text, va="baseline", **look)


def _draw_legend(ax: Axes, scale: _Scale) -> None:
    """What a stroke and a ring mean, on axes in points under the lanes."""
    floor_pt = ax.get_ylim()[0] - 4.0
    lead = "a stroke is a morning with a place to stand, the taller and darker the better:"
    words = {0.0: lead}
    at = text_width_pt(lead, SMALL_PT) + 6.0
    for score in np.linspace(*scale, _SAMPLES):
        tall_pt = 0.5 * 72.0 * _LANE_IN * _TALL
        ax.add_collection(_strokes(np.array([at]), floor_pt, scale.worth([score]), 2.0, tall_pt))
        words[at + 4.5] = f"{score:.2f}"
        at += 10.0 + text_width_pt(f"{score:.2f}", SMALL_PT)
    _draw_ring(ax, at + 12.0, floor_pt + 1.0, "best")
    words[at + 19.0] = "the best of a hill"
    for across, text in words.items():
        place = across, floor_pt
        write(ax, place, text, size_pt=SMALL_PT, va="baseline", colour=palette.QUIET)
