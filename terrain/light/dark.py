"""The sun's way over the rest of a day in sectors, for `terrain.light._dark_kernels`.

Each holds every ray that any cell of the tile looks along at its moments: of all nodes, of both
heights, and to all of the disc.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.light._dark_kernels import Sectors
from terrain.light._disc_kernels import SkyAtNodes
from terrain.light._sweep_kernels import Relief

SECTOR: Final = math.radians(2.0)
_STEEPEST: Final = 3.0
"""Tangent of a sun above which no cell stays dark, and the disc is no longer narrow."""
_SLACK: Final = 1e-6
"""Radians, so that a ray along a diagonal is in the sectors on both sides of it."""


def sectors_of(relief: Relief, sky: SkyAtNodes) -> Sectors | None:
    """The sectors that hold the sun at all moments but the first, the highest first.

    None where the sun comes too high for them, or where it goes all round at once.
    """
    tables = sky.tables[1:]
    if not tables.size or tables[:, 2:].max() > _STEEPEST:
        return None
    parts = []
    for moments in np.split(tables, _cuts(tables)):
        low, high = _spread(moments, sky.half)
        if high - low > math.pi / 4.0:
            return None
        parts += [(*piece, float(moments[:, 2:].max())) for piece in _pieces(low, high)]
    parts.sort(key=lambda part: -part[2])
    rays = [_rays(relief, *part) for part in parts]
    return Sectors(*(np.array(field) for field in zip(*rays, strict=True)))


def _cuts(tables: Floats) -> list[int]:
    """Where to cut the moments, so that the sun over the first node turns by a sector at most."""
    turned = np.unwrap(np.arctan2(tables[:, 1, 0, 0], tables[:, 0, 0, 0]))
    cuts, begun = [], turned[0]
    for moment, azimuth in enumerate(turned):
        if abs(azimuth - begun) > SECTOR:
            cuts.append(moment)
            begun = azimuth
    return cuts


def _spread(moments: Floats, half_deg: float) -> tuple[float, float]:
    """The least and the greatest azimuth on the grid of any part of the disc, radians."""
    north, east, centre = moments[:, 0], moments[:, 1], moments[:, 2:4]
    middle = math.atan2(float(east.mean()), float(north.mean()))
    aside = np.arctan2(
        east * math.cos(middle) - north * math.sin(middle),
        north * math.cos(middle) + east * math.sin(middle),
    )
    wide = math.radians(half_deg) * math.hypot(1.0, float(np.abs(centre).max()))
    return middle + float(aside.min()) - wide, middle + float(aside.max()) + wide


def _pieces(low: float, high: float) -> list[tuple[float, float]]:
    """A spread of azimuths, cut at the diagonals of the grid."""
    first = math.ceil((low - math.pi / 4.0) / (math.pi / 2.0))
    diagonals = [math.pi / 4.0 + math.pi / 2.0 * turn for turn in range(first, first + 2)]
    ends = [low, *(at for at in diagonals if low < at < high), high]
    return list(pairwise(ends))


def _rays(
    relief: Relief, low: float, high: float, tangent: float
) -> tuple[bool, int, float, float, float, float]:
    """The rays of a piece, in the order of `Sectors`."""
    middle = (low + high) / 2.0
    by_rows = abs(math.cos(middle)) >= abs(math.sin(middle))
    step = 1 if (-math.cos(middle) if by_rows else math.sin(middle)) > 0.0 else -1
    slants, stretches = [], []
    for azimuth in (low - _SLACK, high + _SLACK):
        north, east = math.cos(azimuth), math.sin(azimuth)
        ahead, aside = (-north, east) if by_rows else (east, -north)
        slants.append(aside / abs(ahead))
        stretches.append(1.0 / abs(ahead))
    # between nodes a direction is a little shorter than 1
    stretch = max(stretches) / math.cos(high - low)
    rise = tangent * relief.cell_m * (stretch if tangent > 0.0 else 1.0)
    curve = relief.bend * (stretch * relief.cell_m) ** 2
    return by_rows, step, min(slants), max(slants), rise, curve
