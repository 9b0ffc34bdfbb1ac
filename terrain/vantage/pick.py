"""Which cells get a full look, in which order, and how those that hold are spread about a hill.

The best places of a year often lie side by side on one ridge, and offer one picture. A place
offers another if it lies elsewhere round the hill, where the sun comes on other days, or so much
nearer or farther that the hill is of another size::

      hill  *. . . . . 1 2           2: as from 1
             `  .
              `    `. . . . . . 4    4: the hill smaller, more before it
               ` . 3                 3: another side of it, another season
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Final

import numpy as np
import pandas as pd

from terrain.arrays import Flags, Floats

Row = dict[str, Any]
Progress = Callable[[float], None]
Take = Callable[[pd.Series], Row | None]

LOOKS_PER_PLACE: Final = 4

_WORSE: Final = 0.15
"""By how much of a score a place may be worse and yet go before one that offers the same again."""

_ELSEWHERE_DEG: Final = 4.0
_NEARER: Final = 0.2
"""How far round the hill, and by what share nearer or farther, another view begins.

All three are chosen by what they find, no source.
"""


def pick(
    batches: Iterable[pd.DataFrame],
    take: Take,
    *,
    count: int,
    apart_cells: float,
    missed_cells: float,
    about: tuple[float, float] | None = None,
    progress: Progress = lambda share: None,
) -> list[Row]:
    """Full looks at ranked cells, in order, until enough are found that stand apart.

    batches: tables with `row` and `col`, the best first. take: the row of a cell, or None where it
    fails. apart_cells, missed_cells: about a cell that holds, and about one that fails, so far no
    other is looked at. about: row and column of the hill, where they are to be spread about it:
    then cells go by their `score`, less what they offer again of what was looked at.
    """
    found: list[Row] = []
    looked: list[tuple[float, float, float]] = []
    most = LOOKS_PER_PLACE * count
    for cells in batches:
        row, col = cells["row"].to_numpy(dtype=float), cells["col"].to_numpy(dtype=float)
        waiting, again = np.ones(len(cells), dtype=bool), np.zeros(len(cells), dtype=bool)
        worth = -np.arange(len(cells)) if about is None else cells["score"].to_numpy(dtype=float)
        for at_row, at_col, off in looked:
            waiting &= np.hypot(row - at_row, col - at_col) >= off
            again |= _alike(row, col, (at_row, at_col), about)
        while waiting.any():
            if len(found) >= count or len(looked) >= most:
                return found
            at = int(np.argmax(np.where(waiting, worth - _WORSE * again, -np.inf)))
            vantage = take(cells.iloc[at])
            off = max(apart_cells if vantage else missed_cells, 0.5)
            looked.append((row[at], col[at], off))
            waiting &= np.hypot(row - row[at], col - col[at]) >= off
            # where one fails, others like it have no advantage either
            again |= _alike(row, col, (row[at], col[at]), about)
            if vantage:
                found.append(vantage)
            progress(max(len(found) / count, len(looked) / most))
    return found


def _alike(
    row: Floats, col: Floats, place: tuple[float, float], about: tuple[float, float] | None
) -> Flags:
    """Whether cells offer of a hill what a place does; no matter where none is told."""
    if about is None:
        return np.zeros(row.shape, dtype=bool)
    bearing, far = _from_hill(row - about[0], col - about[1])
    its_bearing, its_far = _from_hill(place[0] - about[0], place[1] - about[1])
    round_deg = (bearing - its_bearing + 180.0) % 360.0 - 180.0
    apart = np.hypot(round_deg / _ELSEWHERE_DEG, (far - its_far) / _NEARER)
    return np.asarray(apart < 1.0)


def _from_hill(south: Any, east: Any) -> tuple[Any, Any]:
    """The bearing of cells so far from the hill's on the grid, degrees, and the log of how far."""
    return np.degrees(np.arctan2(east, -south)), np.log(np.maximum(np.hypot(south, east), 1.0))
