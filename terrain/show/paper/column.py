"""The column beside a map, from the top down: a key, a legend, a second key, notes at the foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes

from terrain.show.paper.key import Key, draw_key
from terrain.show.paper.legend import Row, draw_rows
from terrain.show.paper.text import notes_height_pt, write_notes

__all__ = ["Column", "Room"]

_GAP_PT: Final = 18.0
_LEAST_IN, _MOST_IN = 2.2, 5.5


@dataclass(frozen=True, kw_only=True)
class Room:
    """What a page keeps free for the other pages of a series, so that all have one size, points.

    key_pt: width and height of the largest key; passes_pt: of the largest table of passes.
    """

    key_pt: tuple[float, float] = (0.0, 0.0)
    passes_pt: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, kw_only=True)
class Column:
    """What stands beside a map; key, passes: None for none."""

    key: Key | None
    legend: Sequence[Row]
    passes: Key | None
    notes: Sequence[str]
    room: Room

    @property
    def width_in(self) -> float:
        """How wide it is, inches."""
        widest = max(
            *(width for width, _ in self._sizes_pt), *(row.width_pt for row in self.legend), 0
        )
        return min(max(widest / 72.0, _LEAST_IN), _MOST_IN)

    @property
    def height_in(self) -> float:
        """How high its parts are together, inches."""
        tables_pt = sum(height for _, height in self._sizes_pt)
        legend_pt = _GAP_PT + sum(row.height_pt for row in self.legend)
        notes_pt = notes_height_pt(self.notes, 72.0 * self.width_in)
        return (tables_pt + legend_pt + (notes_pt + _GAP_PT if notes_pt else 0.0)) / 72.0

    def draw(self, ax: Axes) -> None:
        """Draw it on axes that measure points from their top left."""
        foot = 0.0 if self.key is None else draw_key(ax, self.key)
        foot = draw_rows(ax, max(foot, self.room.key_pt[1]) + _GAP_PT, self.legend)
        if self.passes is not None:
            draw_key(ax, self.passes, top_pt=foot)
        write_notes(ax, self.notes)

    @property
    def _sizes_pt(self) -> list[tuple[float, float]]:
        """Width and height of the key and of the table of passes."""
        return [
            room if key is None else (max(key.width_pt, room[0]), max(key.height_pt, room[1]))
            for key, room in ((self.key, self.room.key_pt), (self.passes, self.room.passes_pt))
        ]
