"""Small pictures beside a map, each with its mark and a line of words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from terrain.show.paper import palette
from terrain.show.paper.marks import RADIUS_PT, draw_mark
from terrain.show.paper.text import SMALL_PT, wrapped, write

LEAST_WIDE_PT: Final = 205.0
_HEAD_PT: Final = 19.0
_UNDER_PT: Final = 7.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Vignette:
    """A small picture.

    mark: of the place on the map. words: what it shows. pixels: (rows, cols, 3) bytes, row 0 at
    the top.
    """

    mark: str
    words: str
    pixels: NDArray[np.uint8]

    @property
    def shape(self) -> float:
        """Height over width."""
        rows, cols, _ = self.pixels.shape
        return float(rows / cols)


def vignettes_height_pt(views: Sequence[Vignette], width_pt: float) -> float:
    """How high small pictures stand one under another at a width, points."""
    return sum(_HEAD_PT + view.shape * width_pt + _UNDER_PT for view in views)


def draw_vignettes(ax: Axes, views: Sequence[Vignette], box_pt: tuple[float, ...]) -> None:
    """Draw them one under another on axes in points from their top left.

    box_pt: left, top, right and foot; the pictures are no wider than leaves room for all.
    """
    left, top, right, foot = box_pt
    heads = len(views) * (_HEAD_PT + _UNDER_PT)
    tall = sum(view.shape for view in views)
    wide = min(right - left, (foot - top - heads) / tall)
    limits = ax.get_xlim(), ax.get_ylim()
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": palette.QUIET, "linewidth": 0.6}
    at = top
    for view in views:
        draw_mark(ax, (left + RADIUS_PT + 0.5, at + 8.0), view.mark)
        room_pt = right - left - 2.0 * RADIUS_PT - 6.0
        words = (wrapped(view.words, room_pt, SMALL_PT) or [""])[0]
        write(ax, (left + 2.0 * RADIUS_PT + 6.0, at + 8.0), words, size_pt=SMALL_PT)
        at += _HEAD_PT
        high = view.shape * wide
        extent = (left, left + wide, at + high, at)
        shown = ax.imshow(view.pixels, extent=extent, aspect="auto", interpolation="antialiased")
        shown.set_gid(f"view-{view.mark}")
        ax.add_patch(Rectangle((left, at), wide, high, **look))
        at += high + _UNDER_PT
    ax.set(xlim=limits[0], ylim=limits[1])
