"""What stands under the key of a map: its other marks in words, and notes at the foot."""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.show.map.mist_cover import veil
from terrain.show.paper import palette
from terrain.show.paper.key import TEXT_PT, text_width_pt
from terrain.show.paper.marks import HILL_MARK, draw_mark
from terrain.show.paper.page import wrapped

__all__ = [
    "HIDDEN_HATCH",
    "UNKNOWN_HATCH",
    "Row",
    "draw_legend",
    "draw_rows",
    "legend_rows",
    "notes_height_pt",
    "start_letters",
    "write_notes",
]

UNKNOWN_HATCH: Final = "////"
HIDDEN_HATCH = "\\" * 4
"""Leans the other way than that of unknown ground."""

_DEPTHS_M: Final = (1, 10, 40, 150, 400)
_BOX_PT: Final = 22.0
_BETWEEN_PT: Final = 3.0


def draw_legend(
    side: Axes,
    top_pt: float,
    mist: Mist | None,
    hill: Hill | None,
    starts: Sequence[Spot],
    paths: gpd.GeoDataFrame | None,
    hidden: NDArray[np.bool_] | None,
) -> None:
    """What the marks that have no row of their own mean, one a line."""
    draw_rows(side, top_pt, legend_rows(mist, hill, starts, paths, hidden))


def draw_rows(side: Axes, top_pt: float, rows: Sequence[Row]) -> float:
    """Draw rows on axes that measure points from their top left; and where they end, points."""
    at = top_pt
    style: dict[str, Any] = {"fontsize": TEXT_PT, "va": "center_baseline", "color": palette.INK}
    for row in rows:
        if row.mark:
            draw_mark(side, (8.0, at), row.mark)
        elif row.depths:
            _draw_depths(side, at)
        elif "facecolor" in row.look:
            side.add_patch(Rectangle((0.5, at - 5.0), 15.0, 10.0, **row.look))
        else:
            side.plot([0.5, 15.5], [at, at], **row.look)
            if row.arrow:
                side.plot([14.0], [at], marker=">", markersize=4.5, color=palette.SHORE)
        side.text(row.words_at_pt, at, row.words, **style)
        at += row.height_pt
    return at


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a legend: a mark, a swatch or a line (by its look), or the depths of mist."""

    words: str
    mark: str = ""
    look: Mapping[str, Any] = field(default_factory=dict)
    depths: bool = False
    arrow: bool = False

    @property
    def words_at_pt(self) -> float:
        """Where its words begin, points."""
        return 9.0 + _BOX_PT * len(_DEPTHS_M) if self.depths else 22.0

    @property
    def width_pt(self) -> float:
        """How wide it is, points."""
        return self.words_at_pt + text_width_pt(self.words, TEXT_PT)

    @property
    def height_pt(self) -> float:
        """How much it takes down the page, points."""
        return 27.0 if self.depths else 16.0


def legend_rows(
    mist: Mist | None,
    hill: Hill | None,
    starts: Sequence[Spot],
    paths: gpd.GeoDataFrame | None,
    hidden: NDArray[np.bool_] | None,
    *,
    depths: bool = False,
    pours: bool = False,
    looks: bool = False,
    unknown: bool = False,
) -> list[Row]:
    """The rows of a legend of a map with these things on it.

    depths: whether mist is drawn by its depth; pours: whether the ways it pours are drawn.
    looks: whether strokes show the way to the hill; unknown: whether ground is not known.
    """
    rows = []
    if hill is not None:
        rows.append(Row(words=f"{hill.label}, {hill.height_m:.0f} m", mark=HILL_MARK))
    if looks:
        look = {"color": palette.INK, "linewidth": 0.8, "alpha": 0.6}
        rows.append(Row(words="from a place toward the hill", look=look))
    rows += [Row(words=words, mark=letter) for words, letter in start_letters(starts).items()]
    if mist is not None:
        look = {"facecolor": palette.MIST, "edgecolor": palette.SHORE, "linewidth": 0.9}
        rows.append(Row(words=f"mist and its shore, top at {mist.label}", look=look))
    if mist is not None and depths:
        rows.append(Row(words="m deep", depths=True))
    if pours:
        look = {"color": palette.SHORE, "linewidth": 1.3}
        rows.append(Row(words="the way mist pours down", look=look, arrow=True))
    if hidden is not None:
        look = {"facecolor": "none", "edgecolor": palette.HIDDEN, "hatch": HIDDEN_HATCH}
        rows.append(Row(words="ground that is hidden", look={**look, "linewidth": 0.4}))
    if unknown:
        look = {"facecolor": "none", "edgecolor": palette.FAINT, "hatch": UNKNOWN_HATCH}
        rows.append(Row(words="no heights in the raster", look={**look, "linewidth": 0.4}))
    if paths is not None:
        look = {"color": palette.PATH, "linewidth": 1.0, "dashes": (3.5, 1.8)}
        rows.append(Row(words="path", look=look))
    return rows


def _draw_depths(side: Axes, at: float) -> None:
    """Mist of several depths over ground half dark and half pale, with the depths under it."""
    half_pt = (_BOX_PT - _BETWEEN_PT) / 2.0
    for number, depth in enumerate(_DEPTHS_M):
        left = 0.5 + number * _BOX_PT
        *colour, density = veil(np.array(depth))
        for half, ground in enumerate((palette.GROUND(0.0), palette.GROUND(0.75))):
            corner = left + half * half_pt, at - 5.0
            for face, alpha in ((ground, 1.0), (tuple(colour), density)):
                side.add_patch(Rectangle(corner, half_pt, 10.0, facecolor=face, alpha=alpha,
                                         linewidth=0.0))  # fmt: skip
        side.add_patch(Rectangle((left, at - 5.0), 2.0 * half_pt, 10.0, facecolor="none",
                                 edgecolor=palette.FAINT, linewidth=0.6))  # fmt: skip
        side.text(left + half_pt, at + 13.5, f"{depth:g}", fontsize=7.5, ha="center",
                  va="center_baseline", color=palette.QUIET)  # fmt: skip


def start_letters(starts: Sequence[Spot]) -> dict[str, str]:
    """The letter of each start, by its name or else its place."""
    return {
        start.name or f"{start.lat_deg:.4f}, {start.lon_deg:.4f}": letter
        for letter, start in zip(string.ascii_uppercase, starts, strict=False)
    }


def write_notes(side: Axes, notes: Sequence[str]) -> None:
    """Small lines at the foot of the key."""
    at = side.get_ylim()[0]
    for line in reversed(_note_lines(notes, side.get_xlim()[1])):
        side.text(0.0, at, line, fontsize=7.5, va="bottom", color=palette.QUIET)
        at -= _note_pt(line)


def notes_height_pt(notes: Sequence[str], width_pt: float) -> float:
    """How high the notes stand in a column so wide, points."""
    return sum(_note_pt(line) for line in _note_lines(notes, width_pt))


def _note_lines(notes: Sequence[str], width_pt: float) -> list[str]:
    return [line for note in notes for line in [*wrapped(note, width_pt, 7.5), ""]][:-1]


def _note_pt(line: str) -> float:
    return 10.5 if line else 5.0
