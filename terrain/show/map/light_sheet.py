"""A morning's light, or an evening's, as one sheet of small maps, one for each of some moments."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Final

from matplotlib.figure import Figure

from terrain.show.map.light_moment import draw_moment, moment_legend
from terrain.show.map.lit_ground import LitGround
from terrain.show.paper import palette
from terrain.show.paper.legend import draw_rows
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import write
from terrain.words.clocks import hour_minute, zone_in_hours

MOST_MAPS: Final = 12

_WIDTH_IN, _BETWEEN_IN, _CAPTION_IN, _LOW_IN = 11.0, 0.14, 0.3, 0.3
_LEAST_IN: Final = 6.0
_COLUMNS: Final = (4, 3)


@own_style()
def light_sheet(lit: LitGround, moments: Sequence[dt.datetime], *, title: str) -> Figure:
    """A page with small maps of the light, at most twelve, evenly taken from some moments.

    title: what it shows; the zone of the clock is put after it.
    """
    shown = _evenly(moments)
    # as many in a row as leave the least of the last one empty
    count, broad = len(shown), _COLUMNS[0]
    most = min(_COLUMNS, key=lambda each: -count % each) if count > broad else broad
    columns = min(count, most)
    rows = math.ceil(count / columns)
    wide_in = (_WIDTH_IN - 2.0 * MARGIN_IN - _BETWEEN_IN * (most - 1)) / most
    page_in = 2.0 * MARGIN_IN + columns * (wide_in + _BETWEEN_IN) - _BETWEEN_IN
    page_in = max(page_in, _LEAST_IN)
    high_in = wide_in / lit.shown.aspect
    legend = moment_legend(lit)
    key_in = sum(row.height_pt for row in legend) / 72.0 + 0.15
    body_in = rows * (high_in + _CAPTION_IN) + key_in + _LOW_IN
    which = "lit still" if lit.arrival.evening else "lit so far"
    line = f"By the clock in {zone_in_hours(shown[0])}; how much of the ground is {which}"
    page = new_page(page_in, body_in, title, [line])
    for number, moment in enumerate(shown):
        down, across = divmod(number, columns)
        left_in = MARGIN_IN + across * (wide_in + _BETWEEN_IN)
        low_in = body_in - down * (high_in + _CAPTION_IN) - _CAPTION_IN - high_in
        ax = axes_at(page, left_in, low_in, wide_in, high_in)
        draw_moment(ax, lit, moment)
        ax.set(xticks=[], yticks=[])
        ax.spines[:].set(color=palette.QUIET, linewidth=0.6)
        head = points_axes(page, left_in, low_in + high_in, wide_in, _CAPTION_IN)
        write(head, (0.0, 14.0), hour_minute(moment), weight="bold", size_pt=9.5)
        words = " · ".join(_shares_words(lit, moment))
        write(head, (72.0 * wide_in, 14.0), words, ha="right", colour=palette.QUIET)
    side = points_axes(page, MARGIN_IN, _LOW_IN, page_in - 2.0 * MARGIN_IN, key_in)
    draw_rows(side, 16.0, legend)
    return page


def _evenly(moments: Sequence[dt.datetime]) -> list[dt.datetime]:
    """At most twelve of some moments, the first and the last among them."""
    count = min(len(moments), MOST_MAPS)
    if count < 2:
        return list(moments)
    return [moments[round(at * (len(moments) - 1) / (count - 1))] for at in range(count)]


def _shares_words(lit: LitGround, moment: dt.datetime) -> list[str]:
    """How much is lit of the mist and of the clear ground, or of all."""
    ground = lit.arrival.is_known
    parts = {"": ground}
    if lit.mist is not None:
        parts = {"mist ": ground & lit.mist.covers, "ground ": ground & ~lit.mist.covers}
    shares = {
        name: float(lit.arrival.share_lit(cells, [moment])[0]) for name, cells in parts.items()
    }
    return [f"{name}{100.0 * share:.0f} %" for name, share in shares.items() if share == share]


def clock_names(times: Sequence[dt.datetime]) -> list[str]:
    """A name for each time by its clock, with seconds or the zone where it takes that.

    >>> clock_names([dt.datetime(2026, 10, 13, 6, 40, tzinfo=dt.UTC)])
    ['0640']
    """
    for pattern in ("%H%M", "%H%M%S"):
        names = [f"{time:{pattern}}" for time in times]
        if len(set(names)) == len(names):
            return names
    # clocks that are put back show an hour twice
    return [f"{time:%H%M%S%z}" for time in times]
