"""A legend: signs of a picture that have no number, each with what it means, one a line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from terrain.show.paper.marks import draw_mark
from terrain.show.paper.text import text_width_pt, write

__all__ = ["Row", "draw_box", "draw_rows", "line_row", "mark_row", "swatch_row"]

_SWATCH_PT = 15.0

Look = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a legend: its words, and what draws the sign before them.

    sign: takes axes that measure points from their top left, and how far down them the line lies.
    words_at_pt: where the words begin; height_pt: how much the line takes down the page.
    """

    words: str
    sign: Callable[[Axes, float], object]
    words_at_pt: float = 22.0
    height_pt: float = 16.0

    @property
    def width_pt(self) -> float:
        """How wide it is, points."""
        return self.words_at_pt + text_width_pt(self.words)


def mark_row(mark: str, words: str) -> Row:
    """A numbered or lettered mark."""
    return Row(words=words, sign=lambda side, at: draw_mark(side, (8.0, at), mark))


def line_row(words: str, look: Look) -> Row:
    """A stroke."""
    return Row(words=words, sign=lambda side, at: side.plot([0.5, 15.5], [at, at], **look))


def swatch_row(words: str, *looks: Look) -> Row:
    """A swatch, with as many parts as there are looks."""

    def sign(side: Axes, at: float) -> None:
        wide = _SWATCH_PT / len(looks)
        for number, look in enumerate(looks):
            draw_box(side, (0.5 + number * wide, at - 5.0), (wide, 10.0), look)

    return Row(words=words, sign=sign)


def draw_box(ax: Axes, corner: tuple[float, float], size: tuple[float, float], look: Look) -> None:
    """A box from its corner with the least coordinates; look: as matplotlib's patches take it."""
    ax.add_patch(Rectangle(corner, *size, **look))


def draw_rows(side: Axes, top_pt: float, rows: Sequence[Row]) -> float:
    """Draw rows on axes that measure points from their top left; and where they end, points."""
    at = top_pt
    for row in rows:
        row.sign(side, at)
        write(side, (row.words_at_pt, at), row.words)
        at += row.height_pt
    return at
