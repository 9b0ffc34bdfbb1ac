"""Lines past summits, from the sun's side to the eyes: where the sky begins over each, seen so.

For every summit only the eyes opposite to where the low sun stands that day can have it behind the
hill. Each line is walked once away from them for the hulls of what stands behind, and once toward
them, as in `terrain.year._fan_kernels`, but cell by cell with the nearest cell for an eye: what is
found is looked at again in full.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from terrain.arrays import ONE, ZERO, Flags, Floats, Labels, Numbers, Singles
from terrain.compiling import inner, njit
from terrain.sight._far_kernels import Blocks
from terrain.year._days_kernels import on_lattice
from terrain.year._hull_kernels import Hulls, no_hulls, push, steepest

_WIDER = 0.01  # of the distance: steps behind a summit, where far ground is wide
_TOP_CELLS = 2  # so near a summit cells cannot tell what hides it


class Lines(NamedTuple):
    """Through summits, (lines,) each: the summit, and a step of one cell toward the eyes.

    label: of the summit's own ground. low, high: altitudes between which the sky is to begin over
    it, radians.
    """

    row: Floats
    col: Floats
    row_step: Floats
    col_step: Floats
    height_m: Floats
    label: Numbers
    low: Floats
    high: Floats


class Tile(NamedTuple):
    """(rows, cols) each: the surface that hides, the ground of eyes, whose it is, what is fit.

    bend: of a line of sight, its drop over the square of the distance. floor_m: of the lowest
    surface beyond the known. slack: of a line over the ground before a summit, as a slope.
    """

    surface: Singles
    bare: Singles
    owner: Labels
    fit: Flags
    cell_m: float
    bend: float
    eye_m: float
    floor_m: float
    slack: float


@inner(error_model="numpy")
def _push_beyond(
    hull: Hulls, lines: Lines, line: int, away: float, fall: float, beyond: Blocks
) -> None:
    """Put what blocks beyond the raster hold of a line on its hull, two points a block.

    away: where the line has left the raster, steps; fall: of a line of sight in one.
    """
    rows, cols = beyond.tops.shape
    if rows == 0:
        return
    while True:
        row, col = lines.row[line] - away * lines.row_step[line], lines.col[line]
        col -= away * lines.col_step[line]
        down = math.floor((row - beyond.row) / beyond.side)
        along = math.floor((col - beyond.col) / beyond.side)
        if not (0 <= down < rows and 0 <= along < cols):
            break
        z = float(beyond.tops[down, along])
        if z > -math.inf:
            push(hull, ZERO, away, z - fall * away * away)
        away += max(0.5 * beyond.side, _WIDER * away)


@njit(cache=True, nogil=True, error_model="numpy")
def past_summits(
    first: int, end: int, lines: Lines, tile: Tile, beyond: Blocks, sky: Singles
) -> None:
    """Fill (lines, steps): altitude, radians, at which the sky begins, for eyes so many steps off.

    Left as it is where no eye may stand, the summit is not seen, or the altitude is not wanted.
    beyond: blocks of the ground about the raster, or none.
    """
    rows, cols = tile.surface.shape
    cell_m, fall = tile.cell_m, tile.bend * tile.cell_m * tile.cell_m
    room = rows + cols + sky.shape[1] + 2 + 2 * (beyond.tops.shape[0] + beyond.tops.shape[1] + 1)
    other, own, front = no_hulls(room, ONE), no_hulls(room, ONE), no_hulls(room, ONE)
    for line in range(first, end):
        down, right = lines.row_step[line], lines.col_step[line]
        height, label = lines.height_m[line], lines.label[line]
        other.sizes[0], front.sizes[0] = 0, 0
        own.us[0, 0], own.zs[0, 0], own.sizes[0] = 0.0, height, 1
        away = 1.0
        while True:
            row, col = lines.row[line] - away * down, lines.col[line] - away * right
            if not (0.0 <= row <= rows - 1.0 and 0.0 <= col <= cols - 1.0):
                break
            z = on_lattice(tile.surface, row, col) - fall * away * away
            if not math.isnan(z):
                mine = tile.owner[int(row + 0.5), int(col + 0.5)] == label
                push(own if mine else other, ZERO, away, z)
            away += max(1.0, _WIDER * away)
        _push_beyond(other, lines, line, away, fall, beyond)
        for step in range(1, sky.shape[1]):
            row, col = lines.row[line] + step * down, lines.col[line] + step * right
            if not (0.0 <= row <= rows - 1.0 and 0.0 <= col <= cols - 1.0):
                break
            at = int(row + 0.5), int(col + 0.5)
            if tile.fit[at]:
                eye, distance = float(tile.bare[at]) + tile.eye_m, step * cell_m
                sunk, shift = eye - fall * step * step, 2.0 * tile.bend * distance
                top = (height - eye) / distance - tile.bend * distance
                before = steepest(front, ZERO, float(step), sunk, -1.0) / cell_m - shift
                if before <= top + tile.slack:
                    behind = steepest(other, ZERO, float(step), sunk, 1.0) / cell_m - shift
                    mine_behind = steepest(own, ZERO, float(step), sunk, 1.0) / cell_m - shift
                    begins = top if behind <= max(top, mine_behind) else behind
                    over_m = max(eye - tile.floor_m, 0.0)
                    altitude = math.atan(max(begins, -2.0 * math.sqrt(over_m * tile.bend)))
                    if lines.low[line] <= altitude <= lines.high[line]:
                        sky[line, step] = altitude
            z = on_lattice(tile.surface, row, col) - fall * step * step
            if not math.isnan(z) and (step > _TOP_CELLS or tile.owner[at] != label):
                push(front, ZERO, float(step), z)
