"""A legend, and the column beside a map that holds it.

A line of a legend is a sign of the picture that has no number, with what it means. The column has
from the top down a key, the legend, a second key, and notes at its foot.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from terrain.show.paper.key import Key, draw_key, largest_pt
from terrain.show.paper.marks import draw_mark
from terrain.show.paper.text import notes_height_pt, text_width_pt, write, write_notes
from terrain.show.paper.vignette import LEAST_WIDE_PT, Vignette, draw_vignettes, vignettes_height_pt

_SWATCH_PT = 15.0
_GAP_PT: Final = 18.0
_LEAST_IN, _MOST_IN = 2.2, 5.8

_Look = Mapping[str, Any]


class Hatch(NamedTuple):
    """Hatching of one colour; strokes are the denser the longer the pattern."""

    pattern: str
    colour: str


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


def line_row(words: str, look: _Look) -> Row:
    """A stroke."""
    return Row(words=words, sign=lambda side, at: side.plot([0.5, 15.5], [at, at], **look))


def swatch_row(words: str, *looks: _Look) -> Row:
    """A swatch, with as many parts as there are looks."""

    def sign(side: Axes, at: float) -> None:
        wide = _SWATCH_PT / len(looks)
        for number, look in enumerate(looks):
            draw_box(side, (0.5 + number * wide, at - 5.0), (wide, 10.0), look)

    return Row(words=words, sign=sign)


def hatch_row(words: str, hatch: Hatch) -> Row:
    """A swatch of hatching on the bare page."""
    look = {"facecolor": "none", "edgecolor": hatch.colour, "hatch": hatch.pattern}
    return swatch_row(words, look | {"linewidth": 0.4})


def draw_box(ax: Axes, corner: tuple[float, float], size: tuple[float, float], look: _Look) -> None:
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


@dataclass(frozen=True, kw_only=True)
class Room:
    """What a page keeps free for the other pages of a series, so that all have one size.

    keys: of all the pages; passes: their tables of passes.
    """

    keys: Sequence[Key] = ()
    passes: Sequence[Key] = ()


@dataclass(frozen=True, kw_only=True)
class Column:
    """What stands beside a map; key, passes: None for none.

    views: small pictures to the right of the legend.
    """

    key: Key | None
    legend: Sequence[Row]
    passes: Key | None
    notes: Sequence[str]
    room: Room
    views: Sequence[Vignette] = ()

    @property
    def size_in(self) -> tuple[float, float]:
        """How wide it is, and how high its parts are together, inches."""
        widths_pt, heights_pt = zip(*self._sizes_pt, strict=True)
        beside_pt = _GAP_PT + LEAST_WIDE_PT if self.views else 0.0
        widest_pt = max(*widths_pt, self._legend_wide_pt + beside_pt)
        width_in = min(max(widest_pt / 72.0, _LEAST_IN), _MOST_IN)
        views_pt = vignettes_height_pt(self.views, LEAST_WIDE_PT)
        legend_pt = _GAP_PT + max(sum(row.height_pt for row in self.legend), views_pt)
        notes_pt = notes_height_pt(self.notes, 72.0 * width_in)
        foot_pt = notes_pt + _GAP_PT if notes_pt else 0.0
        return width_in, (sum(heights_pt) + legend_pt + foot_pt) / 72.0

    def draw(self, ax: Axes) -> None:
        """Draw it on axes that measure points from their top left."""
        (_, key_pt), _ = self._sizes_pt
        if self.key is not None:
            draw_key(ax, self.key)
        foot = draw_rows(ax, key_pt + _GAP_PT, self.legend)
        if self.passes is not None:
            draw_key(ax, self.passes, top_pt=foot)
        write_notes(ax, self.notes)
        if self.views:
            wide_pt, high_pt = ax.get_xlim()[1], ax.get_ylim()[0]
            low_pt = high_pt - notes_height_pt(self.notes, wide_pt) - _GAP_PT
            left_pt, top_pt = self._legend_wide_pt + _GAP_PT, key_pt + _GAP_PT - 8.0
            draw_vignettes(ax, self.views, (left_pt, top_pt, wide_pt, low_pt))

    @property
    def _legend_wide_pt(self) -> float:
        return max((row.width_pt for row in self.legend), default=0.0)

    @property
    def _sizes_pt(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Width and height of the room for the key and for the table of passes."""
        keys, passes = [self.key, *self.room.keys], [self.passes, *self.room.passes]
        return largest_pt(keys), largest_pt(passes)
