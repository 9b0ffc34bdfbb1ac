"""Saddles of the ground: the two hills they lie between, and the two valleys they part.

Found both ways: as the key cols of hills, where islands join as a sea sinks, and as the places
where closed hollows spill, where lakes join as they rise::

        hill  \\  saddle  /  hill              across: from one valley over into the other
               \\________/                     along: from one hill to the other

Cells are named by their flat index in the raster with a rim of unknown cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Labels, Numbers, Singles
from terrain.ground.dem import Dem
from terrain.ground.relief._kernels import NOTHING
from terrain.ground.relief.tops import Tops, find_tops, level_cells
from terrain.mist._drainage_kernels import run_down, stem_end
from terrain.mist.drainage import Drainage

NONE: Final = -1
_TOUCHING: Final = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, kw_only=True)
class Saddle:
    """A saddle: its cell; how deep it lies below the lower hill, or over the hollow it closes.

    hills: numbers of the tops on either side, the lower first; -1 for none.
    """

    cell: int
    depth_m: float
    hills: tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class Side:
    """One side of a saddle: the first cell down it, the floor below, the mouth of its valley.

    mouth: where the stream of that floor joins a greater one, leaves the raster, or ends in a
    closed hollow; two floors with one mouth are one valley.
    """

    start: int
    floor: int
    mouth: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Basins:
    """Closed hollows: their spills, and which of them each cell lies in.

    spill: cells; depth_m: of each, from floor to spill. pit_of: flat, the lowest cell of the
    innermost hollow each cell lies in, -1 outside.
    """

    spill: list[int]
    depth_m: list[float]
    pit_of: Labels


def basins_of(drainage: Drainage, min_depth_m: float) -> Basins:
    """The closed hollows of at least some depth, metres: the tops of the ground upside down.

    A hollow that holds a lower one ends at the pass between the two::

        \\                /
         \\    ____      /  spill of b and of the two together
          \\  /    \\____/
           \\/ a    b        a is the lower, so b is a hollow of its own only up to the pass
                            between the two; a goes on to the outer spill
    """
    upside_down = -drainage.ground_m.reshape(drainage.shape)
    pits = find_tops(Dem(upside_down, drainage.grid.window(-1, -1, drainage.shape)))
    floor_m, spill_m = (-values.astype(np.float32) for values in (pits.height_m, pits.col_height_m))
    deep = spill_m - floor_m >= min_depth_m
    # the number -1 takes the last entry
    hollow_of = np.append(_deep_from(pits, spill_m, deep), NONE)
    inside = hollow_of[pits.top_of.reshape(-1)]
    above = np.flatnonzero(inside >= 0)
    while above.size:
        above = above[drainage.ground_m[above] >= spill_m[inside[above]]]
        inside[above] = hollow_of[pits.joined[inside[above]]]
        above = above[inside[above] >= 0]
    return Basins(
        spill=pits.col_cell[deep].tolist(),
        depth_m=(spill_m - floor_m)[deep].astype(float).tolist(),
        pit_of=np.append(pits.cell, NONE)[inside].astype(np.int32),
    )


def drained_km2(drainage: Drainage, basins: Basins) -> Singles:
    """(cells,) how much ground drains to each cell; to the lowest of a hollow at least its own.

    The ways over a filled hollow need not go by its lowest cell, nor all together.
    """
    drained = drainage.catchment_km2.copy()
    inside = np.flatnonzero(basins.pit_of != NONE)
    pit = basins.pit_of[inside]
    np.maximum.at(drained, pit, drainage.catchment_km2[inside])
    own_km2 = np.bincount(pit, minlength=drained.size) * np.float32(drainage.cell_m**2 / 1e6)
    return np.maximum(drained, own_km2.astype(np.float32))


def _deep_from(pits: Tops, spill_m: Singles, deep: Flags) -> Labels:
    """(pits,) the first deep hollow, on the way out from each pit, that holds it; -1 none."""
    found = np.arange(pits.cell.size, dtype=np.int32)
    level_m = np.full(found.size, -np.inf, dtype=np.float32)
    waits = np.flatnonzero(~deep)
    while waits.size:
        level_m[waits] = np.maximum(level_m[waits], spill_m[found[waits]])
        found[waits] = pits.joined[found[waits]]
        waits = waits[found[waits] >= 0]
        at = found[waits]
        # two hollows that spill at one height do not hold one another
        waits = waits[~deep[at] | (spill_m[at] <= level_m[waits])]
    return found


def saddles_of(
    drainage: Drainage, tops: Tops, basins: Basins, hill_of: Numbers, min_depth_m: float
) -> list[Saddle]:
    """The key cols of all hills that fall far enough to them, and the spills of the hollows.

    hill_of: (tops,) the hill each top is part of, from `owners`.
    """
    cols = drainage.shape[1]
    saddles: dict[int, Saddle] = {}
    lesser = (tops.drop_m >= min_depth_m) & (tops.col_cell != NOTHING)
    for top in np.flatnonzero(lesser).tolist():
        row, col = divmod(int(tops.col_cell[top]), cols - 2)
        hills = (top, int(hill_of[tops.beyond[top]]))
        cell = (row + 1) * cols + col + 1
        # of hills that join at one place the higher ones name it
        saddles.setdefault(cell, Saddle(cell=cell, depth_m=float(tops.drop_m[top]), hills=hills))
    for cell, depth_m in zip(basins.spill, basins.depth_m, strict=True):
        if cell not in saddles:
            hills = _hills_about(cell, drainage, tops, hill_of)
            saddles[cell] = Saddle(cell=cell, depth_m=depth_m, hills=hills)
    return list(saddles.values())


def sides_of(
    saddle: Saddle, drainage: Drainage, basins: Basins, floor: Flags
) -> tuple[Side, Side] | None:
    """The two sides of a saddle; None where they are not both on known ground.

    floor: flat, where valley floors are. Of more than two ways down those into two valleys.
    """
    starts, _ = _ways_from(drainage, saddle.cell)
    down = [_side(start, saddle, drainage, basins, floor) for start in starts]
    others = [side for side in down[1:] if side.mouth != down[0].mouth] or down[1:]
    return (down[0], others[0]) if others else None


def _side(start: int, saddle: Saddle, drainage: Drainage, basins: Basins, floor: Flags) -> Side:
    below, cols = float(drainage.ground_m[saddle.cell]), drainage.shape[1]
    way = run_down(drainage.ground_m, drainage.known, start, below, floor, cols)
    end = int(way[-1])
    mouth = int(stem_end(end, drainage.down, drainage.donor, basins.pit_of))
    pit, last_pit = int(basins.pit_of[end]), int(basins.pit_of[mouth])
    return Side(
        start=start,
        floor=end if pit == NONE else pit,
        mouth=mouth if last_pit == NONE else last_pit,
    )


def _hills_about(cell: int, drainage: Drainage, tops: Tops, hill_of: Numbers) -> tuple[int, int]:
    """The two hills to which the ground rises from a saddle."""
    found: list[int] = []
    for start in _ways_from(drainage, cell)[1]:
        row, col = divmod(start, drainage.shape[1])
        top = int(tops.top_of[row - 1, col - 1])
        hill = NONE if top == NOTHING else int(hill_of[top])
        if hill not in found:
            found.append(hill)
    # tops are numbered from the highest down
    lower, higher = sorted([*found, NONE, NONE][:2], reverse=True)
    return lower, higher


def _ways_from(drainage: Drainage, cell: int) -> tuple[list[int], list[int]]:
    """Where the ground falls and where it rises from the flat of a saddle, one cell a way.

    The lowest cell of each way down, lowest first, and the highest of each way up, highest
    first; none where the flat meets the edge or unknown ground. Ground that touches at a corner
    is joined, so the ways down between must be joined by more.
    """
    heights = drainage.ground_m.reshape(drainage.shape)
    cols = drainage.shape[1]
    row, col = np.divmod(level_cells(heights, cell), cols)
    top, left = int(row.min()) - 1, int(col.min()) - 1
    window = np.s_[top : int(row.max()) + 2, left : int(col.max()) + 2]
    flat = np.zeros(heights[window].shape, dtype=bool)
    flat[row - top, col - left] = True
    ring = ndimage.binary_dilation(flat, _TOUCHING) & ~flat
    if not drainage.known.reshape(drainage.shape)[window][ring].all():
        return [], []
    over = np.where(ring, heights[window] - heights.flat[cell], 0)
    down = _ends(over, ndimage.generate_binary_structure(2, 1))
    up = _ends(-over, _TOUCHING)
    falls, rises = ([(top + r) * cols + left + c for r, c in ways] for ways in (down, up))
    return falls, rises


def _ends(over: Singles, joined: Flags) -> list[tuple[int, int]]:
    """The lowest cell of each part below 0, lowest first."""
    part, count = ndimage.label(over < 0, joined)
    numbers = np.arange(1, count + 1)
    cells = np.array(ndimage.minimum_position(over, part, numbers) if count else [], dtype=np.int64)
    return sorted(
        ((row, col) for row, col in cells.reshape(-1, 2).tolist()), key=lambda at: float(over[at])
    )
