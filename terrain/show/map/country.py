"""A country in one picture: where its best hills are, and in which months.

::

    .------------------.     1  Hoo        |     | ▄▄  |        bars over the line: mornings,
    |   .  2     .     |                   |     |-▀▀--|        under it: evenings; the longer
    |  1    .  .       |     2  Great Hoo  | ▄▄  |     |        and darker the better
    '------------------'                     Mar   Apr
"""

from __future__ import annotations

import calendar
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.show.map.extent import extent_about, map_cells, map_places
from terrain.show.map.relief import ground_colours
from terrain.show.map.surround import begin_map, draw_cells, draw_scale_and_north
from terrain.show.map.water import draw_water
from terrain.show.paper import palette
from terrain.show.paper.marks import beside, draw_mark, draw_marks
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, shortened, text_width_pt, write, write_notes
from terrain.vantage.months import best_by_month
from terrain.words.figures import top_name

MOST_HILLS: Final = 24

_WIDTH_IN, _MAP_IN, _LOW_IN, _HEAD_IN, _BETWEEN_IN = 11.0, 4.0, 0.75, 0.3, 0.35
_LANE_IN: Final = 0.3
_NAME_PT: Final = 8.5
_MARK_IN: Final = 0.3
_LONGEST: Final = 0.46
"""Of a lane's height: a bar of the best score there can be."""
_HALF: Final = 0.34
_PLACE: Final = ["hill", "hill_lon_deg", "hill_lat_deg"]
_DEGREE_KM: Final = 111.2
"""Of latitude (the meridian of a sphere of the earth's mean radius)."""


@own_style()
def survey_figure(
    table: gpd.GeoDataFrame,
    *,
    summits: gpd.GeoDataFrame | None = None,
    ground: Dem | None = None,
    title: str = "The best hills of each month",
    most: int = MOST_HILLS,
) -> Figure:
    """A page with the best hills of a survey: where they are, and in which months they are good.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        As `survey` gives it.
    summits : geopandas.GeoDataFrame, optional
        All hills that were looked at, as dots on the map.
    ground : Dem, optional
        The country, as coarse as may be, for the relief of the map; bare paper unless given.
    title : str, optional
        What it shows, one line.
    most : int, optional
        How many hills, at most.

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
    >>> found = terrain.find_vantages(cone, hill, year=2026, count=2)
    >>> found["hill"], found["evening"] = "Cone", False
    >>> found["hill_lon_deg"], found["hill_lat_deg"] = hill.lon_deg, hill.lat_deg
    >>> found["hill_height_m"] = hill.height_m
    >>> len(terrain.survey_figure(found).axes)
    3
    """
    months = best_by_month(table)
    hills = _shown(months, most)
    lanes_in = max(_LANE_IN * max(len(hills), 1), _MAP_IN - _HEAD_IN)
    page = new_page(_WIDTH_IN, _HEAD_IN + lanes_in + _LOW_IN, title, [_line(months, hills)])
    top_in = _LOW_IN + lanes_in + _HEAD_IN
    places = axes_at(page, MARGIN_IN, top_in - _MAP_IN, _MAP_IN, _MAP_IN)
    _draw_places(places, hills, summits, ground)
    left_in = MARGIN_IN + _MAP_IN + _BETWEEN_IN
    lanes = axes_at(
        page,
        left_in,
        top_in - _HEAD_IN - _LANE_IN * max(len(hills), 1),
        _WIDTH_IN - MARGIN_IN - left_in,
        _LANE_IN * max(len(hills), 1),
    )
    _draw_lanes(lanes, months, hills, _names_in(hills))
    foot = points_axes(page, MARGIN_IN, 0.2, _WIDTH_IN - 2.0 * MARGIN_IN, _LOW_IN - 0.45)
    write_notes(foot, _notes(months, hills))
    return page


def _shown(months: pd.DataFrame, most: int) -> pd.DataFrame:
    """The hills that are shown, the best first: first the best of each month, then others."""
    first = months.drop_duplicates(["month", "evening"])
    ordered = pd.concat([first, months]).drop_duplicates(_PLACE)
    kept = ordered.head(most).sort_values("score", ascending=False, kind="stable")
    return kept.reset_index(drop=True)


def _draw_places(
    ax: Axes, hills: pd.DataFrame, summits: gpd.GeoDataFrame | None, ground: Dem | None
) -> None:
    own = hills[["hill_lon_deg", "hill_lat_deg"]].to_numpy(dtype=float)
    every = own
    if summits is not None and len(summits):
        every = np.concatenate([own, np.column_stack([summits.geometry.x, summits.geometry.y])])
    ax.set(facecolor=palette.EARTH_AT_FEET, xticks=[], yticks=[])
    ax.spines[:].set(color=palette.FAINT)
    if not len(every):
        return
    dots: dict[str, Any] = {"color": palette.INK, "alpha": 0.55, "markersize": 3.0, "zorder": 2.0}
    if ground is None:
        _begin_bare(ax, every)
        ax.plot(*every.T, ".", **dots)
    else:
        own, every = (map_places(ground.grid, *places.T) for places in (own, every))
        _draw_relief(ax, ground, every)
        ax.plot(*every.T, ".", **dots)
        draw_scale_and_north(ax, ground.grid, own)
    draw_marks(ax, own, [str(number + 1) for number in range(len(hills))])


def _begin_bare(ax: Axes, places_deg: Floats) -> None:
    """The limits of a map without ground, and how wide it is."""
    lon, lat = places_deg.T
    across = np.cos(np.radians(lat.mean()))
    half = max(np.ptp(lat), np.ptp(lon) * across, 0.02) * 0.55
    ax.set(xlim=(_mid(lon) - half / across, _mid(lon) + half / across))
    ax.set(ylim=(_mid(lat) - half, _mid(lat) + half))
    width = f"{2.0 * half * _DEGREE_KM:.0f} km across"
    corner = beside(ax, (ax.get_xlim()[0], ax.get_ylim()[0]), (6.0, 8.0))
    write(ax, corner, width, size_pt=SMALL_PT, colour=palette.QUIET)


def _draw_relief(ax: Axes, ground: Dem, places_m: Floats) -> None:
    extent = extent_about(ground.grid, places_m, aspect=1.0)
    cells = map_cells(ground, extent)
    begin_map(ax, extent)
    draw_cells(ax, cells, ground_colours(ground, cells), "ground")
    draw_water(ax, ground, cells, None)


def _draw_lanes(ax: Axes, months: pd.DataFrame, hills: pd.DataFrame, names_in: float) -> None:
    a_month_in = (ax.get_position().width * _WIDTH_IN - names_in) / 12.0
    left = 0.5 - names_in / a_month_in
    ax.set(xlim=(left, 12.5), ylim=(max(len(hills), 1) - 0.5, -0.5), facecolor="none")
    ax.set_axis_off()
    for month in range(1, 13):
        write(ax, (month, -0.78), calendar.month_abbr[month], size_pt=SMALL_PT, ha="center")
    for lane, (_, hill) in enumerate(hills.iterrows()):
        at = float(lane)
        ax.plot([0.5, 12.5], [at, at], color=palette.FAINT, linewidth=0.7, zorder=1.0)
        draw_mark(ax, (left + 0.5 * _MARK_IN / a_month_in, at), str(lane + 1))
        write(ax, (left + _MARK_IN / a_month_in + 0.1, at), _name(hill), size_pt=_NAME_PT)
        own = months[(months[_PLACE] == hill[_PLACE]).all(axis="columns")]
        for one in own.to_dict("records"):
            _draw_bar(ax, at, one)


def _draw_bar(ax: Axes, lane: float, one: Any) -> None:
    long = _LONGEST * float(np.clip(one["score"], 0.0, 1.0))
    low = lane if one["evening"] else lane - long
    ink = palette.mixed(
        palette.EARTH_FAR, palette.SHORE if one["evening"] else palette.SUN, np.array(one["score"])
    )
    corner = float(one["month"]) - _HALF, low
    ax.add_patch(Rectangle(corner, 2.0 * _HALF, long, facecolor=ink, linewidth=0.0, zorder=2.0))


def _line(months: pd.DataFrame, hills: pd.DataFrame) -> str:
    if hills.empty:
        return "no hill has a vantage"
    return (
        "over the line of a hill its mornings, under it its evenings; "
        "the longer and darker a bar, the better the best vantage of that month"
    )


def _notes(months: pd.DataFrame, hills: pd.DataFrame) -> list[str]:
    rest = len(months.drop_duplicates(_PLACE)) - len(hills)
    said = ["Computed from elevation data, not surveyed: check ground, access and weather."]
    return [f"Not shown: {rest} more hills.", *said] if rest > 0 else said


def _names_in(hills: pd.DataFrame) -> float:
    longest = max((text_width_pt(_name(hill), _NAME_PT) for _, hill in hills.iterrows()), default=0)
    return _MARK_IN + longest / 72.0 + 0.1


def _name(hill: Any) -> str:
    name = str(hill["hill"])
    own = name if not name.startswith("the hill at") else ""
    return shortened(top_name(own, float(hill["hill_height_m"])))


def _mid(values: Any) -> float:
    return float(values.min() + values.max()) / 2.0
