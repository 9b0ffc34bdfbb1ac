"""The page under every picture: its paper, its title, and axes placed in inches."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from terrain.ground.names import plain
from terrain.show.paper import palette
from terrain.show.paper.text import wrapped
from terrain.words.figures import capital

_TITLE_PT = 14.0
_LINE_PT = 9.5
MARGIN_IN = 0.5
LOW_IN = 0.45
"""Under a map and what stands beside it: the degrees along its lower edge have room there."""

_TITLE_IN, _LINE_IN = 0.27, 0.19
_BETWEEN_IN, _RIGHT_IN = 0.3, 0.35

BESIDE_IN = MARGIN_IN + _RIGHT_IN + _BETWEEN_IN
"""What neither a map nor what stands beside it takes of the width of their page."""


def new_page(width_in: float, body_in: float, title: str, lines: Sequence[str] = ()) -> Figure:
    """A page with a title, lines that say what the picture shows, and room under them, inches."""
    height_in = head_in(title, lines, width_in) + body_in
    figure = Figure(figsize=(width_in, height_in), facecolor=palette.PAPER)
    FigureCanvasAgg(figure)
    titles, rest = _head(title, lines, width_in)
    down_in = 0.28
    for words in titles:
        _write(figure, down_in, words, _TITLE_PT, "bold")
        down_in += _TITLE_IN
    down_in += 0.03
    for words in rest:
        _write(figure, down_in, words, _LINE_PT, "normal")
        down_in += _LINE_IN
    return figure


def map_page(
    title: str, line: str, map_in: tuple[float, float], side_in: tuple[float, float]
) -> tuple[Figure, Axes, Axes]:
    """A page, the axes of a map on it, and axes in points for what stands beside the map.

    map_in, side_in: how wide and high they are, inches; both begin at the top.
    """
    (map_wide_in, map_high_in), (wide_in, high_in) = map_in, side_in
    body_in = max(map_high_in, high_in)
    page = new_page(BESIDE_IN + wide_in + map_wide_in, body_in + LOW_IN, title, [line])
    ax = axes_at(page, MARGIN_IN, LOW_IN + body_in - map_high_in, map_wide_in, map_high_in)
    left_in = MARGIN_IN + map_wide_in + _BETWEEN_IN
    return page, ax, points_axes(page, left_in, LOW_IN, wide_in, body_in)


def head_in(title: str, lines: Sequence[str], width_in: float) -> float:
    """How much of a page its title and the lines under it take, inches."""
    titles, rest = _head(title, lines, width_in)
    return 0.67 + _TITLE_IN * (len(titles) - 1) + _LINE_IN * len(rest)


def _head(title: str, lines: Sequence[str], width_in: float) -> tuple[list[str], list[str]]:
    room_pt = 72.0 * (width_in - 2.0 * MARGIN_IN)
    rest = [part for line in lines for part in wrapped(capital(line), room_pt, _LINE_PT)]
    return wrapped(capital(title), room_pt, _TITLE_PT, "bold"), rest


def _write(figure: Figure, down_in: float, words: str, size_pt: float, weight: str) -> None:
    across, up = figure.get_size_inches()
    place = MARGIN_IN / across, 1.0 - down_in / up
    figure.text(
        *place, plain(words), fontsize=size_pt, fontweight=weight, va="top", color=palette.INK
    )


def axes_at(
    figure: Figure, left_in: float, low_in: float, width_in: float, height_in: float
) -> Axes:
    """Axes whose box is given in inches from the lower left of the page."""
    across, up = figure.get_size_inches()
    return figure.add_axes((left_in / across, low_in / up, width_in / across, height_in / up))


def points_axes(
    figure: Figure, left_in: float, low_in: float, width_in: float, height_in: float
) -> Axes:
    """Blank axes for text and marks, measured in points from their top left."""
    ax = axes_at(figure, left_in, low_in, width_in, height_in)
    ax.set(xlim=(0.0, width_in * 72.0), ylim=(height_in * 72.0, 0.0))
    ax.set_axis_off()
    return ax
