"""Lakes and the sea on a map: a tint of their own, with their shore, and known under mist too."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb

from terrain.arrays import Flags, Floats
from terrain.ground.dem import Dem
from terrain.ground.relief.water import level_water
from terrain.show.map.extent import MapCells
from terrain.show.map.mist import speck_m2, without_specks
from terrain.show.map.surround import hatch_cells
from terrain.show.paper import palette
from terrain.show.paper.legend import Hatch, Row, swatch_row

UNDER_MIST_HATCH: Final = Hatch("--", "#b4c7d6")
"""Level strokes, as water lies: mist is dense where it is deep, and hides the tint."""

_LEAST_SHARE: Final = 0.001
_MISTY: Final = 0.5


def water_share(dem: Dem, cells: MapCells) -> Floats:
    """How much of each cell that a map shows is water, (rows, cols), 0 to 1."""
    return cells.thinned(water_of(dem))


@lru_cache(maxsize=1)
def water_of(dem: Dem) -> Flags:
    """Where a ground lies level over a large area, (rows, cols)."""
    return level_water(dem)


def shows_water(dem: Dem, cells: MapCells) -> bool:
    """Whether a map has any that is worth a line of its legend."""
    return float(water_share(dem, cells).mean()) > _LEAST_SHARE


def draw_water(ax: Axes, dem: Dem, cells: MapCells, mist: Flags | None) -> None:
    """The shores of lakes and of the sea, and level strokes on what mist covers.

    mist: (rows, cols), where there is some.
    """
    share = water_share(dem, cells)
    least_cells = speck_m2(ax) / (dem.cell_m * cells.step) ** 2
    share = without_specks(share - 0.5, least_cells) + 0.5
    if min(share.shape) < 2 or share.max() < _MISTY:
        return
    look: dict[str, Any] = {"colors": palette.WATER_EDGE, "linewidths": 0.6, "alpha": 0.8}
    ax.contour(*cells.centres(), share, levels=[0.5], zorder=2.2, **look).set_gid("water")
    if mist is not None:
        under = share * (cells.thinned(mist) > _MISTY)
        hatch_cells(ax, cells, under, UNDER_MIST_HATCH, zorder=2.15, gid="water-under-mist")


def water_row(*, misty: bool) -> Row:
    """What the tint is, and the strokes where there is mist."""
    edge = {"edgecolor": palette.WATER_EDGE, "linewidth": 0.7}
    clear = {"facecolor": palette.WATER, **edge}
    if not misty:
        return swatch_row("water: lakes and the sea", clear)
    pattern, colour = UNDER_MIST_HATCH
    under = {"facecolor": palette.MIST, "edgecolor": colour, "hatch": pattern, "linewidth": 0.4}
    return swatch_row("water: lakes and the sea; under mist", clear, under)


def tinted(colours: Floats, share: Floats) -> Floats:
    """Colours (rows, cols, 4) of ground with its water, by how much of each cell that is."""
    wet = share[..., np.newaxis]
    tint = np.array(to_rgb(palette.WATER))
    rgb = colours[..., :3] + wet * (tint - colours[..., :3])
    return np.concatenate([rgb, colours[..., 3:]], axis=2)
