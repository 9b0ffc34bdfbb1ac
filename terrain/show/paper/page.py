"""The page under every picture: its paper, its title, and axes placed in inches."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from terrain.show.paper import palette
from terrain.show.paper.key import text_width_pt

__all__ = ["MARGIN_IN", "axes_at", "head_in", "new_page", "points_axes", "wrapped"]

TITLE_PT = 14.0
LINE_PT = 9.5
MARGIN_IN = 0.5


def head_in(title: str, lines: Sequence[str], width_in: float) -> float:
    """How much of a page its title and the lines under it take, inches."""
    room_pt = 72.0 * (width_in - 2.0 * MARGIN_IN)
    rows = len(wrapped(title, room_pt, TITLE_PT, "bold")) - 1
    return 0.67 + 0.27 * rows + 0.19 * len(_fitted(lines, room_pt))


def new_page(size_in: tuple[float, float], title: str, lines: Sequence[str] = ()) -> Figure:
    """An empty page with a title and, under it, lines that say what the picture shows."""
    figure = Figure(figsize=size_in, facecolor=palette.PAPER)
    FigureCanvasAgg(figure)
    width_in, height_in = size_in
    room_pt = 72.0 * (width_in - 2.0 * MARGIN_IN)
    down_in = 0.28
    for words in wrapped(_sentence(title), room_pt, TITLE_PT, "bold"):
        figure.text(
            MARGIN_IN / width_in, 1.0 - down_in / height_in, words, fontsize=TITLE_PT,
            fontweight="bold", va="top", color=palette.INK,
        )  # fmt: skip
        down_in += 0.27
    down_in += 0.03
    for words in _fitted(lines, room_pt):
        figure.text(
            MARGIN_IN / width_in, 1.0 - down_in / height_in, words, fontsize=LINE_PT, va="top",
            color=palette.INK,
        )  # fmt: skip
        down_in += 0.19
    return figure


def _fitted(lines: Sequence[str], room_pt: float) -> list[str]:
    return [part for line in lines for part in wrapped(_sentence(line), room_pt, LINE_PT)]


def _sentence(text: str) -> str:
    """A text with a capital at its head: a hill without a name begins with a small letter."""
    return text[:1].upper() + text[1:]


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


def wrapped(text: str, width_pt: float, size_pt: float, weight: str = "normal") -> list[str]:
    """A text in lines no wider than `width_pt`, broken between words.

    >>> wrapped("a hill in the mist", 40.0, 8.0)
    ['a hill in', 'the mist']
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_pt(longer, size_pt, weight) <= width_pt:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
