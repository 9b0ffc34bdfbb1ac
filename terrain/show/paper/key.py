"""The table beside a picture that says what its numbered marks are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes

from terrain.show.paper import palette
from terrain.show.paper.marks import RADIUS_PT, draw_mark
from terrain.show.paper.text import Across, text_width_pt, write

_ROW_PT: Final = 16.0

_GUTTER_PT, _BETWEEN_KEYS_PT, _UNDER_PT = 9.0, 40.0, 10.0
_MARK_PT = 2.0 * RADIUS_PT + 6.0
_WORDS = frozenset({"summit", "pass", "mist pours over", "from … to", "valley", "small\nscene"})
"""Headings of columns that are set to the left; figures stand to the right."""

Columns = Mapping[str, tuple[str, Callable[[Any], str]]]
"""From the heading of each column of a key to that of a table, and how its values are written."""


@dataclass(frozen=True, kw_only=True)
class Key:
    """A table of short texts: `marks`, one a row, and the cells of each column by its heading.

    A heading may have a line break. least_pt: the least width of columns, points, by heading.
    """

    marks: Sequence[str]
    columns: Mapping[str, Sequence[str]]
    least_pt: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for heading, cells in self.columns.items():
            if len(cells) != len(self.marks):
                raise ValueError(f"{len(self.marks)} marks for {len(cells)} cells of {heading!r}")

    @property
    def widths_pt(self) -> dict[str, float]:
        """Width of each column by its heading, points."""
        return {
            heading: max(
                self.least_pt.get(heading, 0.0),
                *(text_width_pt(words) for words in [*heading.split("\n"), *cells]),
            )
            for heading, cells in self.columns.items()
        }

    @property
    def width_pt(self) -> float:
        """Width of the whole table, points."""
        gutters_pt = _GUTTER_PT * max(len(self.columns) - 1, 0)
        return self.mark_pt + sum(self.widths_pt.values()) + gutters_pt

    @property
    def height_pt(self) -> float:
        """Height of the whole table, points."""
        return self.head_pt + _ROW_PT * len(self.marks)

    @property
    def mark_pt(self) -> float:
        """Width of the column of marks, points."""
        return _MARK_PT if any(self.marks) else 0.0

    @property
    def head_pt(self) -> float:
        """Height of the headings, points."""
        return 6.0 + 10.0 * max((words.count("\n") + 1 for words in self.columns), default=0)

    def parts(self, least_rows: int) -> list[Key]:
        """The table as one or two to stand side by side, of about equal length.

        It is parted only where it is longer than what stands beside it, `least_rows`, and two.
        """
        count = len(self.marks)
        if count > least_rows + 2:
            count = max(-(-count // 2), least_rows)
        parts = []
        for at in range(0, len(self.marks), max(count, 1)):
            columns = {head: cells[at : at + count] for head, cells in self.columns.items()}
            parts.append(replace(self, marks=self.marks[at : at + count], columns=columns))
        return parts


def draw_key(ax: Axes, key: Key, *, left_pt: float = 0.0, top_pt: float = 0.0) -> float:
    """The table on axes that measure points from their top left; and where its foot is, points.

    Rows that do not fit the height of the axes are left out, and their number said.
    """
    head = top_pt + key.head_pt
    room = int((ax.get_ylim()[0] - head) / _ROW_PT)
    count = len(key.marks)
    shown = count if count <= room else max(room - 1, 0)
    middles = [head + _ROW_PT * (line + 0.5) for line in range(shown)]
    start, widths = left_pt + key.mark_pt, key.widths_pt
    for heading, cells in key.columns.items():
        ha: Across = "left" if heading in _WORDS else "right"
        across = start if ha == "left" else start + widths[heading]
        for up, words in enumerate(reversed(heading.split("\n"))):
            above = across, head - 7.0 - 10.0 * up
            write(ax, above, words, colour=palette.QUIET, ha=ha, va="baseline")
        for middle, words in zip(middles, cells, strict=False):
            write(ax, (across, middle), words, ha=ha)
        start += widths[heading] + _GUTTER_PT
    ends = [left_pt, left_pt + key.width_pt]
    ax.plot(ends, [head - 2.0] * 2, color=palette.FAINT, linewidth=0.8)
    for middle, mark in zip(middles, key.marks, strict=False):
        draw_mark(ax, (left_pt + RADIUS_PT + 0.5, middle), mark)
    foot = head + _ROW_PT * shown
    if shown == count:
        return foot
    place = left_pt + key.mark_pt, foot + 8.0
    write(ax, place, f"and {count - shown} more", va="center", colour=palette.QUIET)
    return foot + _ROW_PT


def draw_keys(ax: Axes, stacks: Sequence[Sequence[Key]], *, top_pt: float = 0.0) -> None:
    """Tables side by side, or one under another; stacks for which there is no room are left out.

    The first always has some.
    """
    left = 0.0
    for number, stack in enumerate(stacks):
        width_pt = max(key.width_pt for key in stack)
        foot = top_pt
        if number == 0 or left + width_pt <= ax.get_xlim()[1]:
            for key in stack:
                foot = draw_key(ax, key, left_pt=left, top_pt=foot) + _UNDER_PT
        left += width_pt + _BETWEEN_KEYS_PT


def stacked(first: Sequence[Key], last: Key, width_pt: float) -> list[list[Key]]:
    """Tables side by side, the last of them in parts; under one another where that is too wide."""
    beside = [[key] for key in [*first, *last.parts(max(len(key.marks) for key in first))]]
    wide_pt = sum(key.width_pt + _BETWEEN_KEYS_PT for (key,) in beside) - _BETWEEN_KEYS_PT
    if len(first) == 1 or wide_pt <= width_pt:
        return beside
    rows = sum(len(key.marks) + 2 for key in first) - 2
    return [list(first), *([part] for part in last.parts(rows))]


def stack_height_pt(stack: Sequence[Key]) -> float:
    """How high tables stand one under another, points."""
    return sum(key.height_pt for key in stack) + _UNDER_PT * (len(stack) - 1)


def aligned(keys: Sequence[Key]) -> list[Key]:
    """Keys with the same columns, as wide in each as in the widest, for the frames of a series.

    Columns that say nothing in any of them are left out.
    """
    kept = [
        heading
        for heading in keys[0].columns
        if any(cell != "–" for key in keys for cell in key.columns[heading])
    ]
    shown = [replace(key, columns={name: key.columns[name] for name in kept}) for key in keys]
    widest = {name: max(key.widths_pt[name] for key in shown) for name in kept}
    return [replace(key, least_pt=widest) for key in shown]


def largest_pt(keys: Iterable[Key | None]) -> tuple[float, float]:
    """Width and height in which each of some keys has room, points; None takes none."""
    sizes = [(key.width_pt, key.height_pt) for key in keys if key is not None]
    width_pt, height_pt = np.max([(0.0, 0.0), *sizes], axis=0)
    return float(width_pt), float(height_pt)


def key_of(table: gpd.GeoDataFrame, columns: Columns, *, whole: bool = False) -> Key:
    """The key of a table with some columns.

    Columns that the table lacks are left out, and unless `whole` those that say nothing. The
    rows are numbered in their order, or as a column `mark` says.
    """
    kept = {
        heading: [_cell(write, value) for value in table[name]]
        for heading, (name, write) in columns.items()
        if name in table and (whole or _says_something(table, name))
    }
    return Key(marks=list(table.get("mark", numbers_to(len(table)))), columns=kept)


def numbers_to(count: int) -> list[str]:
    """The numbers of so many marks, from 1."""
    return [str(number) for number in range(1, count + 1)]


def _says_something(table: gpd.GeoDataFrame, name: str) -> bool:
    return bool((table[name].notna() & (table[name] != "")).any())


def _cell(write: Callable[[Any], str], value: Any) -> str:
    return "–" if value != value or value == "" else write(value)
