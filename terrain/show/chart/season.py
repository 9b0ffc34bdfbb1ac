"""The year picture: days across, hills down, and for each morning as much ink as it is worth."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.transforms import ScaledTranslation
from numpy.typing import ArrayLike, NDArray

from terrain.show.paper import palette
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.text import text_width_pt, wrapped

__all__ = ["draw_year", "year_figure"]

WIDTH_IN: Final = 11.0
SHORT_DAYS: Final = 100
"""Spans up to this many days have their weeks marked as well as their months."""

_LANE_IN, _TOP_IN, _LEGEND_IN, _LOW_IN, _GAP_IN = 0.46, 0.26, 0.42, 0.3, 0.16
_TALL: Final = 0.7
"""Of a lane's height: a stroke of the best score there can be."""
_LEAST: Final = 0.3
"""A score that is worth no more than a dot of ink: a place that keeps to its limits has more."""
_GAP_PT: Final = 1.0
_RING_PT: Final = 6.0
_NAME_PT, _SMALL_PT = 8.5, 8.0
_SAMPLES: Final = (0.4, 0.6, 0.8, 1.0)

Floats = NDArray[np.float64]


def draw_year(
    ax: Axes,
    table: gpd.GeoDataFrame,
    *,
    hills: Sequence[str],
    first_day: dt.date,
    last_day: dt.date,
    step_days: int = 1,
) -> list[Artist]:
    """Draw the mornings of a season on axes; returns what was drawn.

    table: from `plan_season`; of several mornings of a hill on a day the best is seen. hills: the
    lanes, from the top down. first_day, last_day: the span. step_days: the width of a stroke.
    A stroke stands on its lane, the taller and the darker the higher its score; an open ring is
    over the best of each hill.
    """
    ax.set(xlim=(first_day.toordinal() - 0.5, last_day.toordinal() + 0.5))
    ax.set(ylim=(float(len(hills)), 0.0), facecolor="none")
    ax.set_axis_off()
    artists = _draw_months(ax, first_day, last_day)
    for lane, hill in enumerate(hills):
        artists += _draw_lane(ax, lane, table[table["hill"] == hill], step_days)
    return artists


def year_figure(
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

    table: from `plan_season`. hills, first_day, last_day: as for `draw_year`; those in the table
    unless given. notes: lines at the foot. ValueError where neither table nor arguments say what
    to show.
    """
    lanes = list(dict.fromkeys(table["hill"])) if hills is None else list(hills)
    if not lanes or (table.empty and (first_day is None or last_day is None)):
        raise ValueError("a year picture needs hills, and days or mornings")
    first_day, last_day = first_day or min(table["day"]), last_day or max(table["day"])
    columns = _columns(table, lanes)
    name_in = max(text_width_pt(hill, _NAME_PT, "bold") for hill in lanes) / 72.0
    side_in = sum(width for _, width, _ in columns) / 72.0
    left_in, right_in = MARGIN_IN + name_in + _GAP_IN, MARGIN_IN + side_in + _GAP_IN
    foot = [line for note in notes for line in wrapped(note, 72.0 * (WIDTH_IN - 1.0), 7.5)]
    lanes_in, low_in = _LANE_IN * len(lanes), _LOW_IN + 0.15 * len(foot) + _LEGEND_IN
    page = new_page(WIDTH_IN, _TOP_IN + lanes_in + low_in, title, [subtitle])
    ax = axes_at(page, left_in, low_in, WIDTH_IN - left_in - right_in, lanes_in)
    draw_year(ax, table, hills=lanes, first_day=first_day, last_day=last_day, step_days=step_days)
    names = points_axes(page, MARGIN_IN, low_in, name_in, lanes_in + _TOP_IN)
    _write_column(names, 0.0, "", lanes, weight="bold")
    side = points_axes(page, WIDTH_IN - MARGIN_IN - side_in, low_in, side_in, lanes_in + _TOP_IN)
    across = 0.0
    for heading, width, cells in columns:
        across += width
        _write_column(side, across, heading, cells, ha="right")
    legend = points_axes(page, left_in, low_in - _LEGEND_IN, WIDTH_IN - left_in, _LEGEND_IN)
    _draw_legend(legend)
    for up, words in enumerate(reversed(foot)):
        page.text(MARGIN_IN / WIDTH_IN, (_LOW_IN + 0.15 * up) / page.get_figheight(), words,
                  fontsize=7.5, va="bottom", color=palette.QUIET)  # fmt: skip
    return page


def _draw_months(ax: Axes, first_day: dt.date, last_day: dt.date) -> list[Artist]:
    """A line at the first of each month, its name over it, and in a short span the Mondays."""
    low, high = ax.get_ylim()
    across_pt = ax.get_window_extent().width * 72.0 / ax.figure.dpi
    day_pt = across_pt / ((last_day - first_day).days + 1)
    words: dict[str, Any] = {"fontsize": _SMALL_PT, "va": "baseline", "color": palette.INK}
    artists: list[Artist] = []
    for start, end in _months(first_day, last_day):
        if start > first_day:
            artists += ax.plot([start.toordinal() - 0.5] * 2, [low, high], linewidth=0.7,
                               color=palette.FAINT, zorder=1.0)  # fmt: skip
        name = _month_name(start, ((end - start).days + 1) * day_pt, start == first_day)
        middle = 0.5 * (start.toordinal() + end.toordinal())
        artists.append(ax.annotate(name, (middle, high), xytext=(0.0, 6.0), ha="center",
                                   textcoords="offset points", **words))  # fmt: skip
    if (last_day - first_day).days < SHORT_DAYS:
        artists += _draw_mondays(ax, first_day, last_day)
    return artists


def _draw_mondays(ax: Axes, first_day: dt.date, last_day: dt.date) -> list[Artist]:
    """The day of the month of each Monday, and a tick, under the lanes."""
    low = ax.get_ylim()[0]
    artists: list[Artist] = []
    monday = first_day + dt.timedelta(days=-first_day.weekday() % 7)
    while monday <= last_day:
        at = float(monday.toordinal())
        artists.append(ax.annotate(f"Mon {monday.day}", (at, low), xytext=(0.0, -4.0), ha="center",
                                   va="top", textcoords="offset points", fontsize=7.0,
                                   color=palette.QUIET))  # fmt: skip
        monday += dt.timedelta(days=7)
    return artists


def _draw_lane(ax: Axes, lane: int, rows: gpd.GeoDataFrame, step_days: int) -> list[Artist]:
    low, high = ax.get_xlim()
    floor = lane + 0.94
    artists: list[Artist] = [
        *ax.plot([low, high], [floor] * 2, color=palette.QUIET, linewidth=0.5, zorder=2.0)
    ]
    if rows.empty:
        words: dict[str, Any] = {"fontsize": 7.5, "color": palette.QUIET, "va": "bottom"}
        return [*artists, ax.annotate("no morning", (low, floor), xytext=(3.0, 4.0),
                                      textcoords="offset points", **words)]  # fmt: skip
    # the best last, so that nothing lies over it
    rows = rows.sort_values("score", kind="stable")
    day = np.array([day.toordinal() for day in rows["day"]], dtype=float)
    score = rows["score"].to_numpy(dtype=float)
    strokes = PolyCollection(
        _strokes(day, floor, score, _half_days(ax, step_days)), facecolors=_inks(score),
        linewidths=0.0,
        zorder=3.0, gid=f"mornings-{lane + 1}",
    )  # fmt: skip
    artists.append(ax.add_collection(strokes, autolim=False))
    top = floor - _TALL * float(_worth(score[-1]))
    return artists + _draw_ring(ax, float(day[-1]), top, f"best-{lane + 1}")


def _draw_ring(ax: Axes, across: float, top: float, gid: str) -> list[Artist]:
    """An open ring over a place, by its own height whatever the size of the page."""
    lift = ScaledTranslation(0.0, 1.4 * _RING_PT / 2.0 / 72.0, ax.figure.dpi_scale_trans)
    return list(
        ax.plot(across, top, marker="o", markersize=_RING_PT, markerfacecolor="none", clip_on=False,
                markeredgecolor=palette.SUN, markeredgewidth=1.3, linestyle="none", gid=gid,
                transform=ax.transData + lift, zorder=4.0)
    )  # fmt: skip


def _half_days(ax: Axes, step_days: int) -> float:
    """Half of a stroke's width: a step, less a gap where there is room for one."""
    low, high = ax.get_xlim()
    day_pt = ax.get_window_extent().width * 72.0 / ax.figure.dpi / (high - low)
    gap_days = _GAP_PT / day_pt if step_days * day_pt > 4.0 * _GAP_PT else 0.0
    return 0.5 * (step_days - gap_days)


def _strokes(at: Floats, floor: float, score: Floats, half: float) -> list[Floats]:
    """Corners (4, 2) of upright strokes that stand on a floor; down is positive."""
    tops = floor - _TALL * _worth(score)
    return [
        np.array(
            [
                (middle - half, floor),
                (middle - half, top),
                (middle + half, top),
                (middle + half, floor),
            ]
        )
        for middle, top in zip(at, tops, strict=True)
    ]


def _inks(score: Floats) -> NDArray[np.float32]:
    return palette.mixed(palette.FAINT, palette.INK, _worth(score))


def _worth(score: ArrayLike) -> Floats:
    """How much of the most ink a score gets."""
    return np.clip((np.asarray(score, dtype=float) - _LEAST) / (1.0 - _LEAST), 0.06, 1.0)


def _months(first_day: dt.date, last_day: dt.date) -> list[tuple[dt.date, dt.date]]:
    """First and last day of each month, as far as it lies in a span.

    >>> _months(dt.date(2026, 12, 30), dt.date(2027, 1, 2))[1]
    (datetime.date(2027, 1, 1), datetime.date(2027, 1, 2))
    """
    months: list[tuple[dt.date, dt.date]] = []
    start = first_day
    while start <= last_day:
        following = (start.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
        months.append((start, min(following - dt.timedelta(days=1), last_day)))
        start = following
    return months


def _month_name(month: dt.date, room_pt: float, is_first: bool) -> str:
    """As much of a month's name as there is room for, with the year at the first and in January."""
    year = f" {month.year}" if is_first or month.month == 1 else ""
    for name in (f"{month:%B}{year}", f"{month:%b}{year}", f"{month:%b}", f"{month:%b}"[0]):
        if text_width_pt(name, _SMALL_PT) <= room_pt - 2.0:
            return name
    return ""


def _columns(table: gpd.GeoDataFrame, hills: Sequence[str]) -> list[tuple[str, float, list[str]]]:
    """Headings, widths in points and cells of what is said of each hill."""
    years = {day.year for day in table["day"]}
    written = "{0.day} {0:%b}" if len(years) == 1 else "{0.day} {0:%b %Y}"
    best = table.sort_values("score", ascending=False, kind="stable").drop_duplicates("hill")
    by_hill = {row["hill"]: row for row in best.to_dict("records")}
    write: dict[str, Callable[[dict[str, Any]], str]] = {
        "best on": lambda row: written.format(row["day"]),
        "sun appears": lambda row: f"{row['appears'] + dt.timedelta(seconds=30):%H:%M}",
        "off summit": lambda row: _aside(row["offset_deg"]),
        "score": lambda row: f"{row['score']:.2f}",
    }
    cells = {"mornings": [str(int((table["hill"] == hill).sum())) for hill in hills]}
    for heading, words in write.items():
        cells[heading] = [words(by_hill[hill]) if hill in by_hill else "–" for hill in hills]
    return [
        (heading, 9.0 + max(text_width_pt(text, _SMALL_PT) for text in [heading, *column]), column)
        for heading, column in cells.items()
    ]


def _aside(offset_deg: float) -> str:
    return f"{abs(offset_deg):.2f}° {'right' if offset_deg > 0.0 else 'left'}"


def _write_column(
    ax: Axes, across_pt: float, heading: str, cells: Sequence[str], **look: Any
) -> None:
    """Texts beside the lanes, on axes whose head is that of the months."""
    head_pt, lane_pt = 72.0 * _TOP_IN, 72.0 * _LANE_IN
    words: dict[str, Any] = {"fontsize": _SMALL_PT, "va": "baseline"} | look
    ax.text(across_pt, head_pt - 6.0, heading, color=palette.QUIET, **words)
    for lane, text in enumerate(cells):
        low_pt = head_pt + (lane + 0.94) * lane_pt - 2.0
        ax.text(across_pt, low_pt, text, color=palette.INK, **words)


def _draw_legend(ax: Axes) -> None:
    """What a stroke and a ring mean, on axes in points under the lanes."""
    floor_pt = ax.get_ylim()[0] - 4.0
    words: dict[str, Any] = {"fontsize": 7.5, "va": "baseline", "color": palette.QUIET}
    lead = "a stroke is a morning with a place to stand, the taller and darker the better:"
    ax.text(0.0, floor_pt, lead, **words)
    at = text_width_pt(lead, 7.5) + 6.0
    for score in _SAMPLES:
        scale = 0.5 * 72.0 * _LANE_IN
        (box,) = _strokes(np.array([at]), 0.0, np.array([score]), 2.0)
        box = np.array([0.0, floor_pt]) + box * [1.0, scale]
        ax.add_collection(PolyCollection([box], facecolors=_inks(np.array([score])), linewidths=0))
        ax.text(at + 4.5, floor_pt, f"{score:g}", **words)
        at += 10.0 + text_width_pt(f"{score:g}", 7.5)
    _draw_ring(ax, at + 12.0, floor_pt + 1.0, "best")
    ax.text(at + 19.0, floor_pt, "the best of a hill", **words)
