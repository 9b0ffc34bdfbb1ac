"""Summits as bars against the height of the mist: which morning suits which hill.

::

    Great Hoo   |========#####|             =  stands clear, on an island with others
    Hoo Pike    |==####|                    #  stands clear, on an island of its own
                +------+------+---- mist's top
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from terrain.mist.sweep import MistSweep
from terrain.show.paper import palette
from terrain.show.paper.legend import draw_box
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import text_width_pt, write

_MOST_SUMMITS: Final = 24

_ROW_IN, _NAMES_IN, _TOP_IN, _LOW_IN = 0.27, 0.6, 0.1, 0.95
_NAME_PT: Final = 8.5
_BAR: Final = 0.62


def draw_sweep(ax: Axes, sweep: MistSweep, *, most: int = _MOST_SUMMITS) -> None:
    """A bar a summit, the highest at the top, against the height of the mist's top, metres.

    Pale where the summit stands clear on ground it shares with another summit of the table, dark
    where its island is its own; the bar ends where it drowns. Thin lines stand at the sweep's
    tops.
    """
    table = sweep.summits.head(most)
    low = float(min(sweep.tops_m.min(), table["drowns_m"].min())) - 20.0
    high = float(np.minimum(table["drowns_m"], 1e4).max()) * 1.02
    places = np.arange(len(table))[::-1]
    drowns = np.minimum(table["drowns_m"].to_numpy(dtype=float), high)
    alone = np.clip(table["alone_from_m"].to_numpy(dtype=float), low, drowns)
    ax.barh(places, alone - low, _BAR, left=low, color=palette.FAINT, edgecolor="none")
    ax.barh(places, drowns - alone, _BAR, left=alone, color=palette.INK, edgecolor="none")
    for top in sweep.tops_m:
        ax.axvline(top, color=palette.SHORE, linewidth=0.6, alpha=0.5, zorder=0.5)
    ax.set(xlim=(low, high), ylim=(-0.7, len(table) - 0.3), facecolor=palette.PAPER)
    ax.set_yticks(places, [_name(row) for _, row in table.iterrows()], fontsize=_NAME_PT)
    ax.set_xlabel("height of the mist's top, metres", fontsize=9.0, color=palette.INK)
    ax.tick_params(length=0.0, labelcolor=palette.INK, labelsize=8.5)
    ax.spines[["top", "right", "left"]].set_visible(False)


@own_style()
def sweep_figure(
    sweep: MistSweep, *, title: str, most: int = _MOST_SUMMITS, width_in: float = 11.0
) -> Figure:
    """A page with the summits as the mist rises, a bar each, and what the bars mean.

    Parameters
    ----------
    sweep : MistSweep
        As `mist_sweep` gives it.
    title : str
        What it shows, one line.
    most : int, optional
        How many summits, at most, the highest first.
    width_in : float, optional
        Of the page, inches.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> sweep = terrain.mist_sweep(dem, terrain.find_summits(dem), [20, 75])
    >>> page = terrain.sweep_figure(sweep, title="Two tops as the mist rises")
    >>> len(page.axes) > 0
    True
    """
    count = min(len(sweep.summits), most)
    high_in = _ROW_IN * count
    lines = [
        "Which summits stand clear of mist, by the height of its top",
        f"Thin lines: tops of {sweep.tops_m.min():.0f} to {sweep.tops_m.max():.0f} m",
    ]
    page = new_page(width_in, _TOP_IN + high_in + _LOW_IN, title, lines)
    names = [_name(row) for _, row in sweep.summits.head(most).iterrows()]
    names_in = max(_NAMES_IN, max(text_width_pt(name, _NAME_PT) for name in names) / 72.0 + 0.1)
    across_in = width_in - MARGIN_IN - names_in - 0.4
    ax = axes_at(page, MARGIN_IN + names_in, _LOW_IN, across_in, high_in)
    draw_sweep(ax, sweep, most=most)
    sheet = points_axes(page, MARGIN_IN, 0.0, across_in, 0.5)
    left = 0.0
    for colour, words in (
        (palette.FAINT, "clear, on an island with others"),
        (palette.INK, "clear, on an island of its own"),
    ):
        draw_box(sheet, (left, 15.0), (17.0, 6.0), {"color": colour})
        write(sheet, (left + 24.0, 18.0), words, size_pt=8.5)
        left += 40.0 + text_width_pt(words, 8.5)
    return page


def _name(row: pd.Series) -> str:
    name = str(row["name"])
    place = row["geometry"]
    return name or f"{place.y:.3f}, {place.x:.3f}"
