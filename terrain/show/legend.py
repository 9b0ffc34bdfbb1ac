"""What stands under the key of a map: its other marks in words, and notes at the foot."""

from __future__ import annotations

import string
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from terrain.ground.places import Hill, Spot
from terrain.mist.surface import Mist
from terrain.show import palette
from terrain.show.marks import HILL_MARK, draw_mark
from terrain.show.page import wrapped

__all__ = ["HIDDEN_HATCH", "draw_legend", "start_letters", "write_notes"]

HIDDEN_HATCH = "\\" * 4
"""Leans the other way than that of unknown ground."""


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
    at = top_pt
    style: dict[str, Any] = {"fontsize": 8.0, "va": "center_baseline", "color": palette.INK}
    named = [(HILL_MARK, f"{hill.label}, {hill.height_m:.0f} m")] if hill is not None else []
    named += [(letter, words) for words, letter in start_letters(starts).items()]
    for mark, words in named:
        draw_mark(side, (8.0, at), mark)
        side.text(22.0, at, words, **style)
        at += 16.0
    swatches: list[tuple[dict[str, Any], str]] = []
    if mist is not None:
        swatches.append(({"facecolor": palette.MIST, "edgecolor": palette.SHORE, "linewidth": 0.9},
                         f"mist and its shore, top at {mist.label}"))  # fmt: skip
    if hidden is not None:
        swatches.append(({"facecolor": "none", "edgecolor": palette.HIDDEN, "hatch": HIDDEN_HATCH,
                          "linewidth": 0.4}, "ground that is hidden"))  # fmt: skip
    for look, words in swatches:
        side.add_patch(Rectangle((0.5, at - 5.0), 15.0, 10.0, **look))
        side.text(22.0, at, words, **style)
        at += 16.0
    if paths is not None:
        side.plot([0.5, 15.5], [at, at], color=palette.PATH, linewidth=1.0, dashes=(3.5, 1.8))
        side.text(22.0, at, "path", **style)
        at += 16.0


def start_letters(starts: Sequence[Spot]) -> dict[str, str]:
    """The letter of each start, by its name or else its place."""
    return {
        start.name or f"{start.lat_deg:.4f}, {start.lon_deg:.4f}": letter
        for letter, start in zip(string.ascii_uppercase, starts, strict=False)
    }


def write_notes(side: Axes, notes: Sequence[str]) -> None:
    """Small lines at the foot of the key."""
    width_pt, at = side.get_xlim()[1], side.get_ylim()[0]
    lines = [line for note in notes for line in [*wrapped(note, width_pt, 7.5), ""]][:-1]
    for line in reversed(lines):
        side.text(0.0, at, line, fontsize=7.5, va="bottom", color=palette.QUIET)
        at -= 10.5 if line else 5.0
