"""What a mist that rises through some heights makes of the hills: when islands, when drowned.

::

    450 m |            /\\             a peak stands from the height at which its hill becomes an
          |   /\\      /  \\    |        island of its own up to where it drowns; under it a stem,
    350 m |  /__\\    /____\\   |        where the mist has yet to part it from other hills
          |   |        |      |
    250 m |___|________|______|__
            Hoo     Great Hoo
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from terrain.arrays import Flags, Floats
from terrain.mist.sweep import MistSweep
from terrain.show.paper import palette
from terrain.show.paper.marks import beside
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, shortened, text_width_pt, write, write_notes
from terrain.words.figures import count_of, top_name

MOST_HILLS: Final = 20

_HIGH_IN, _LOW_IN, _AXIS_IN, _RIGHT_IN = 4.6, 0.85, 0.75, 0.35
_NAME_PT: Final = 8.0
_LEAN_DEG: Final = 38.0
_HALF: Final = 0.36
_MARGIN: Final = 0.1
_FOOT: Final = 0.04
_PEAK: Final[dict[str, Any]] = {"facecolor": palette.EARTH, "edgecolor": palette.INK}
_STEM: Final[dict[str, Any]] = {"color": palette.EARTH_FAR, "linewidth": 3.0}


def changing(sweep: MistSweep) -> Flags:
    """Which summits become islands of their own, or drown, within the tops of a sweep."""
    low, high = float(sweep.tops_m.min()), float(sweep.tops_m.max())
    alone, drowns = _heights(sweep.summits)
    parts = (alone > low) & (alone <= high) & (alone < drowns)
    return np.asarray(parts | ((drowns >= low) & (drowns <= high)))


def shown_summits(sweep: MistSweep, most: int = MOST_HILLS) -> pd.DataFrame:
    """The summits that change within the tops, the first to do so first; of many the prominent."""
    table = sweep.summits[changing(sweep)]
    if len(table) > most and "prominence_m" in table:
        keep = table["prominence_m"].sort_values(ascending=False, kind="stable").index[:most]
        table = table.loc[table.index.isin(keep)]
    table = table.head(most)
    alone, drowns = _heights(table)
    low = float(sweep.tops_m.min())
    first = np.where((alone > low) & (alone < drowns), alone, drowns)
    ordered: pd.DataFrame = table.iloc[np.argsort(first, kind="stable")]
    return ordered


def draw_sweep(ax: Axes, sweep: MistSweep, table: pd.DataFrame) -> None:
    """A peak for each row of a table of summits, against the height of the mist's top, metres."""
    low, high = float(sweep.tops_m.min()), float(sweep.tops_m.max())
    margin = max(_MARGIN * (high - low), 5.0)
    floor, ceiling = low - margin, high + margin
    ax.set(xlim=(-0.7, len(table) - 0.3), ylim=(floor, ceiling), facecolor=palette.PAPER)
    share = np.linspace(1.0, 0.0, 64)
    mist = palette.mixed(palette.PAPER, palette.MIST_DEEP, share)[:, np.newaxis]
    extent = (*ax.get_xlim(), floor, ceiling)
    ax.imshow(mist, extent=extent, origin="lower", aspect="auto", zorder=0.1)
    for top in sweep.tops_m:
        ax.axhline(top, color=palette.SHORE, linewidth=0.6, alpha=0.6, zorder=0.5)
    for place, (alone, drowns) in enumerate(zip(*_heights(table), strict=True)):
        ax.plot(
            [place] * 2, [floor, min(alone, drowns)], solid_capstyle="butt", zorder=2.0, **_STEM
        )
        corners = [(place - _HALF, alone), (place + _HALF, alone), (place, drowns)]
        if alone < drowns:
            ax.add_patch(Polygon(corners, linewidth=0.6, zorder=3.0, gid="peak", **_PEAK))
        _write_heights(ax, place, alone, drowns)
    ax.set_xticks(range(len(table)), [_name(row) for _, row in table.iterrows()])
    ax.tick_params(axis="x", length=0.0, pad=3.0, labelsize=_NAME_PT, labelcolor=palette.INK)
    for label in ax.get_xticklabels():
        label.set(rotation=_LEAN_DEG, ha="right", rotation_mode="anchor")
    ax.set_ylabel("height of the mist's top, metres", fontsize=9.0, color=palette.INK)
    ax.set_yticks(sweep.tops_m, [f"{top:g}" for top in sweep.tops_m])
    ax.tick_params(axis="y", length=0.0, labelcolor=palette.INK, labelsize=8.5)
    ax.spines[:].set_visible(False)


@own_style()
def sweep_figure(
    sweep: MistSweep, *, title: str, most: int = MOST_HILLS, width_in: float = 11.0
) -> Figure:
    """A page with the hills that become islands, or drown, as the mist rises, and when they do.

    Parameters
    ----------
    sweep : MistSweep
        As `mist_sweep` gives it.
    title : str
        What it shows, one line.
    most : int, optional
        How many hills, at most, those of the largest prominence.
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
    table = shown_summits(sweep, most)
    low, high = sweep.tops_m.min(), sweep.tops_m.max()
    lines = [
        f"When hills become islands, and when they drown, as mist rises from {low:g} to {high:g} m"
    ]
    longest_pt = max(
        (text_width_pt(_name(row), _NAME_PT) for _, row in table.iterrows()), default=0
    )
    names_in = 0.15 + longest_pt * np.sin(np.radians(_LEAN_DEG)) / 72.0
    page = new_page(width_in, _HIGH_IN + names_in + _LOW_IN, title, lines)
    left_in = MARGIN_IN + _AXIS_IN
    across_in = width_in - left_in - _RIGHT_IN
    ax = axes_at(page, left_in, _LOW_IN + names_in, across_in, _HIGH_IN)
    draw_sweep(ax, sweep, table)
    if table.empty:
        middle = 0.0, float(low + high) / 2.0
        write(ax, middle, "no hill becomes an island or drowns between these heights", ha="center")
    sheet = points_axes(page, MARGIN_IN, 0.2, width_in - 2.0 * MARGIN_IN, _LOW_IN - 0.25)
    _draw_legend(sheet)
    write_notes(sheet, _notes(sweep, len(table)))
    return page


def _heights(table: pd.DataFrame) -> tuple[Floats, Floats]:
    """Where the summits become islands of their own, and where they drown."""
    drowns = table["drowns_m"].to_numpy(dtype=float)
    return np.minimum(table["alone_from_m"].to_numpy(dtype=float), drowns), drowns


def _write_heights(ax: Axes, place: int, alone: float, drowns: float) -> None:
    """The heights of a peak's foot and top, as far as they are on the chart."""
    floor, ceiling = ax.get_ylim()
    floor += _FOOT * (ceiling - floor)
    look: dict[str, Any] = {"size_pt": SMALL_PT, "ha": "center", "zorder": 4.0}
    if floor < alone < min(drowns, ceiling):
        write(ax, beside(ax, (place, alone), (0.0, -6.5)), f"{alone:.0f}", **look)
    if drowns < ceiling:
        write(ax, beside(ax, (place, drowns), (0.0, 6.5)), f"{drowns:.0f}", weight="bold", **look)


def _draw_legend(sheet: Axes) -> None:
    sheet.add_patch(Polygon([(0.0, 13.0), (15.0, 13.0), (7.5, 1.0)], linewidth=0.6, **_PEAK))
    words = "an island of its own, from the height at its foot; it drowns at the bold height"
    write(sheet, (22.0, 7.5), words)
    left = 22.0 + text_width_pt(words) + 22.0
    sheet.plot([left, left], [1.0, 13.0], solid_capstyle="butt", **_STEM)
    write(sheet, (left + 8.0, 7.5), "on land with another hill still")


def _notes(sweep: MistSweep, shown: int) -> list[str]:
    """What the chart leaves out."""
    alone, drowns = _heights(sweep.summits)
    low, high = float(sweep.tops_m.min()), float(sweep.tops_m.max())
    rest = int(changing(sweep).sum()) - shown
    parts = [f"{count_of(rest, 'more hill changes', 'more hills change')} there"] if rest else []
    if through := int(((alone <= low) & (drowns > high)).sum()):
        parts.append(f"{count_of(through, 'hill stands', 'hills stand')} alone all through")
    if joined := int(((alone > high) & (drowns > high)).sum()):
        parts.append(f"{joined} stay on land with a higher or another hill")
    return [f"Not shown: {'; '.join(parts)}."] if parts else []


def _name(row: pd.Series) -> str:
    return shortened(top_name(str(row["name"]), float(row["height_m"])))
