"""The calendar ring: the key that tells which colour is which date of the year."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any, Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.patches import Wedge

from terrain.arrays import Floats
from terrain.show.map.year_colours import YEAR_RING, ring_place
from terrain.show.paper import palette
from terrain.show.paper.text import SMALL_PT, TEXT_PT, write

RING_PT: Final = 50.0

_SECTORS = 146


def month_places(year: int) -> tuple[Floats, Floats]:
    """Where on the ring each month of a year begins, and where its middle is, (12,) each."""
    months = pd.date_range(dt.date(year, 1, 1), periods=13, freq="MS")
    day = 1.0 + (months - months[0]).days.to_numpy()
    length = int(day[-1] - 1)
    return ring_place(day[:-1], length), ring_place((day[:-1] + day[1:]) / 2.0, length)


def draw_ring(ax: Axes, centre_pt: tuple[float, float], *, year: int, event: str) -> None:
    """The calendar ring that is the key to the colours, on axes in points from their top left.

    The December solstice is at its foot and the year runs clockwise, so that the left half is the
    sun's way north. year, event: what is written within it.
    """
    edges = np.linspace(0.0, 1.0, _SECTORS + 1)
    wide = 0.36 * RING_PT
    sectors = [
        # the axes count downwards, so that angles run clockwise from the right
        Wedge(centre_pt, RING_PT, 90.0 + 360.0 * first, 90.0 + 360.0 * last + 0.4, width=wide)
        for first, last in pairwise(edges)
    ]
    colours = YEAR_RING((edges[:-1] + edges[1:]) / 2.0)
    ax.add_collection(PatchCollection(sectors, facecolors=colours, linewidths=0.0, gid="ring"))

    def at(place: float, *radii_pt: float) -> Floats:
        """Across and down of points at a place of the ring, one for each radius: (2, n)."""
        turn = 2.0 * np.pi * place
        way = np.array([-np.sin(turn), np.cos(turn)])
        return np.array(centre_pt)[:, np.newaxis] + np.outer(way, radii_pt)

    middled: dict[str, Any] = {"ha": "center", "va": "center"}
    for month, (start, middle) in enumerate(zip(*month_places(year), strict=True), start=1):
        ax.plot(*at(start, RING_PT - wide, RING_PT), color=palette.PAPER, linewidth=0.8)
        ((across,), (down,)) = at(middle, RING_PT + 10.0)
        name = f"{dt.date(year, month, 1):%b}"
        write(ax, (across, down), name, size_pt=SMALL_PT, **middled)
    for place in (0.0, 0.5):
        along = at(place, RING_PT - wide - 3.0, RING_PT + 3.0)
        ax.plot(*along, color=palette.INK, linewidth=1.2, solid_capstyle="butt")
    across, down = centre_pt
    write(ax, (across, down - 5.0), f"{year}", size_pt=10.5, weight="bold", **middled)
    write(ax, (across, down + 7.0), event, size_pt=TEXT_PT, **middled)
