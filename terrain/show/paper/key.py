"""The table beside a picture that says what its numbered marks are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from terrain.show.paper import palette
from terrain.show.paper.marks import RADIUS_PT, draw_mark

__all__ = [
    "Key",
    "aligned",
    "compass",
    "cut_name",
    "draw_key",
    "island_key",
    "key_of",
    "pass_key",
    "sight_key",
    "summit_key",
    "text_width_pt",
    "vantage_key",
]

TEXT_PT: Final = 8.0
ROW_PT: Final = 16.0

_GUTTER_PT = 9.0
_LONGEST_NAME = 30
_MARK_PT = 2.0 * RADIUS_PT + 6.0
_POINTS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


@dataclass(frozen=True, kw_only=True)
class Key:
    """A table of short texts: `marks` (one a row), `headings` and `rows` of as many cells.

    A heading may have a line break. Columns named in `left` are set to the left, others right.
    least_pt: the least width of each column, points; none unless given.
    """

    headings: tuple[str, ...]
    marks: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left: tuple[str, ...] = ()
    least_pt: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if len(self.marks) != len(self.rows):
            raise ValueError(f"{len(self.marks)} marks for {len(self.rows)} rows")
        for row in self.rows:
            if len(row) != len(self.headings):
                raise ValueError(f"{len(row)} cells under {len(self.headings)} headings: {row}")

    @property
    def widths_pt(self) -> tuple[float, ...]:
        """Width of each column, points."""
        own = (
            max(text_width_pt(line) for line in [*heading.split("\n"), *cells])
            for heading, *cells in zip(self.headings, *self.rows, strict=True)
        )
        least = self.least_pt or (0.0,) * len(self.headings)
        return tuple(max(pair) for pair in zip(own, least, strict=True))

    @property
    def width_pt(self) -> float:
        """Width of the whole table, points."""
        return self._mark_pt + sum(self.widths_pt) + _GUTTER_PT * max(len(self.headings) - 1, 0)

    @property
    def _mark_pt(self) -> float:
        return _MARK_PT if any(self.marks) else 0.0

    @property
    def height_pt(self) -> float:
        """Height of the whole table, points."""
        return self._head_pt + ROW_PT * len(self.rows)

    def parts(self, least_rows: int) -> list[Key]:
        """The table as one or two to stand side by side, of about equal length.

        It is parted only where it is longer than what stands beside it, `least_rows`, and two.
        """
        count = len(self.rows)
        if count > least_rows + 2:
            count = max(-(-count // 2), least_rows)
        return [
            replace(self, marks=self.marks[at : at + count], rows=self.rows[at : at + count])
            for at in range(0, len(self.rows), max(count, 1))
        ]

    @property
    def _head_pt(self) -> float:
        return 6.0 + 10.0 * max((h.count("\n") + 1 for h in self.headings), default=0)


def draw_key(
    ax: Axes, key: Key, *, left_pt: float = 0.0, top_pt: float = 0.0
) -> tuple[list[Artist], float]:
    """The table on axes that measure points from their top left; and where its foot is, points.

    Rows that do not fit the height of the axes are left out, and their number said.
    """
    room = int((ax.get_ylim()[0] - top_pt - key._head_pt) / ROW_PT)
    shown = len(key.rows) if len(key.rows) <= room else max(room - 1, 0)
    artists: list[Artist] = []
    start = left_pt + key._mark_pt
    head = top_pt + key._head_pt
    for number, (heading, width) in enumerate(zip(key.headings, key.widths_pt, strict=True)):
        side = "left" if heading in key.left else "right"
        across = start if side == "left" else start + width
        style: dict[str, Any] = {"ha": side, "fontsize": TEXT_PT}
        for up, words in enumerate(reversed(heading.split("\n"))):
            above = head - 7.0 - 10.0 * up
            artists.append(ax.text(across, above, words, color=palette.QUIET, **style))
        for line, row in enumerate(key.rows[:shown]):
            middle = head + ROW_PT * (line + 0.5)
            style |= {"va": "center_baseline", "color": palette.INK}
            artists.append(ax.text(across, middle, row[number], **style))
        start += width + _GUTTER_PT
    right = left_pt + key.width_pt
    artists += ax.plot([left_pt, right], [head - 2.0] * 2, color=palette.FAINT, linewidth=0.8)
    for line in range(shown):
        place = left_pt + RADIUS_PT + 0.5, head + ROW_PT * (line + 0.5)
        artists += draw_mark(ax, place, key.marks[line])
    foot = head + ROW_PT * shown
    if shown < len(key.rows):
        rest: dict[str, Any] = {"s": f"and {len(key.rows) - shown} more", "fontsize": TEXT_PT}
        across = left_pt + key._mark_pt
        artists.append(ax.text(across, foot + 8.0, **rest, va="center", color=palette.QUIET))
        foot += ROW_PT
    return artists, foot


def vantage_key(vantages: gpd.GeoDataFrame, *, letters: Mapping[str, str] | None = None) -> Key:
    """What each numbered vantage of a table from `find_vantages` offers, best first.

    letters: of the starts on the map, by their names in the table.
    """
    if letters and "start" in vantages:
        nearest = [
            f"{letters.get(name, '')} {_km(away_m)}".strip()
            for name, away_m in zip(vantages["start"], vantages["start_m"], strict=True)
        ]
        vantages = vantages.assign(nearest=nearest)
    days = {moment.date() for moment in vantages["appears"]} if "appears" in vantages else ()
    columns: list[tuple[str, str, Callable[[Any], str]]] = [
        ("height\nm", "height_m", "{:.0f}".format),
        ("above\nmist m", "freeboard_m", "{:.0f}".format),
        ("hill\nkm", "distance_m", _km),
        ("hill\ntoward", "azimuth_deg", compass),
        ("sun\nappears", "appears", _day_and_clock if len(days) > 1 else _clock),
        ("off summit,\nsun widths", "offset_widths", _aside),
        ("nearest\nstart km", "nearest", str),
        ("score", "score", "{:.2f}".format),
    ]
    return key_of(vantages, columns)


def summit_key(summits: gpd.GeoDataFrame) -> Key:
    """Height and prominence of each numbered summit; a prominence that may be more has a ≥."""
    least = summits["bounded"] if "bounded" in summits else np.zeros(len(summits), dtype=bool)
    prominence = [
        f"{'≥ ' if more else ''}{value:.0f}"
        for value, more in zip(summits["prominence_m"], least, strict=True)
    ]
    columns: list[tuple[str, str, Callable[[Any], str]]] = [
        ("summit", "name", str),
        ("height\nm", "height_m", "{:.0f}".format),
        ("prominence\nm", "prominence", str),
        ("away\nkm", "distance_m", _km),
        ("toward", "azimuth_deg", compass),
    ]
    return key_of(summits.assign(prominence=prominence), columns)


def sight_key(
    summits: gpd.GeoDataFrame, *, first: tuple[str, str, float, float, float] | None = None
) -> Key:
    """Name, height, distance and direction of each numbered summit of a view.

    first: mark, name, height_m, distance_m and azimuth_deg of one that comes before them.
    """
    columns = ["name", "height_m", "distance_m", "azimuth_deg"]
    rows = list(summits[columns].itertuples(index=False, name=None))
    numbers = [str(number) for number in range(1, len(rows) + 1)]
    if first is not None:
        rows, numbers = [first[1:], *rows], [first[0], *numbers]
    headings = ("summit", "height\nm", "away\nkm", "toward")
    cells = [
        (name or "–", f"{height_m:.0f}", _km(distance_m), f"{compass(azimuth)} {azimuth:.0f}°")
        for name, height_m, distance_m, azimuth in rows
    ]
    from_col = 0 if any(name for name, *_ in rows) else 1
    return Key(
        headings=headings[from_col:],
        marks=tuple(numbers),
        rows=tuple(row[from_col:] for row in cells),
        left=("summit",),
    )


def island_key(islands: gpd.GeoDataFrame, *, whole: bool = False) -> Key:
    """How far each numbered summit stands above the mist, and on what island.

    whole: keep columns that say nothing, so that the keys of a series have the same ones.
    """
    columns: list[tuple[str, str, Callable[[Any], str]]] = [
        ("summit", "name", cut_name),
        ("height\nm", "height_m", "{:.0f}".format),
        ("above\nmist m", "freeboard_m", "{:.0f}".format),
        ("island\nkm²", "island_area_km2", _short),
        ("to next\nisland m", "strait_m", "{:.0f}".format),
        ("to your\nisland m", "from_spot_m", "{:.0f}".format),
    ]
    return key_of(islands, columns, whole=whole)


def pass_key(passes: gpd.GeoDataFrame) -> Key:
    """Height of each numbered pass, where its valleys lie, and when mist pours over it."""
    columns: list[tuple[str, str, Callable[[Any], str]]] = [
        ("pass", "name", cut_name),
        ("height\nm", "height_m", "{:.0f}".format),
        ("fills\nfirst", "side_a", str),
        ("then", "side_b", str),
        ("pours\nat m", "pours_at_m", "{:.0f}".format),
    ]
    return key_of(passes, columns)


def aligned(keys: Sequence[Key]) -> list[Key]:
    """Keys with the same columns, as wide in each as in the widest, for the frames of a series.

    Columns that say nothing in any of them are left out.
    """
    cells = [list(zip(*key.rows, strict=True)) for key in keys]
    kept = [
        at
        for at in range(len(keys[0].headings))
        if any(column[at].count("–") < len(column[at]) for column in cells if column)
    ]
    shown = [
        replace(
            key,
            headings=tuple(key.headings[at] for at in kept),
            rows=tuple(tuple(row[at] for at in kept) for row in key.rows),
        )
        for key in keys
    ]
    widest = tuple(max(widths) for widths in zip(*(key.widths_pt for key in shown), strict=True))
    return [replace(key, least_pt=widest) for key in shown]


def key_of(
    table: gpd.GeoDataFrame,
    columns: Sequence[tuple[str, str, Callable[[Any], str]]],
    *,
    whole: bool = False,
) -> Key:
    """The key of a table from (heading, name of the column, how its values are written).

    Columns that the table lacks are left out, and unless `whole` those that say nothing. The
    rows are numbered in their order, or as a column `mark` says.
    """
    kept = [
        column
        for column in columns
        if column[1] in table and (whole or _says_something(table, column[1]))
    ]
    cells = [[_cell(write, value) for value in table[name]] for _, name, write in kept]
    numbers = (str(number) for number in range(1, len(table) + 1))
    return Key(
        headings=tuple(heading for heading, _, _ in kept),
        marks=tuple(table.get("mark", numbers)),
        rows=tuple(zip(*cells, strict=True)) if cells else ((),) * len(table),
        left=("summit", "pass", "mist pours over", "from … to"),
    )


def cut_name(name: str) -> str:
    """A name that leaves room for a map beside it."""
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1].rstrip()}…"


def compass(azimuth_deg: float) -> str:
    """The nearest of sixteen compass points.

    >>> compass(123.0)
    'ESE'
    """
    return _POINTS[round(azimuth_deg / 22.5) % 16]


@lru_cache(maxsize=4096)
def text_width_pt(text: str, size_pt: float = TEXT_PT, weight: str = "normal") -> float:
    """How wide a text is, points."""
    if not text.strip():
        return 0.0
    path = TextPath((0, 0), text, size=size_pt, prop=FontProperties(weight=weight))
    # drawn letters are set on whole pixels, which makes a line a little longer
    return 1.04 * float(path.get_extents().x1) + 1.0


def _says_something(table: gpd.GeoDataFrame, name: str) -> bool:
    return bool((table[name].notna() & (table[name] != "")).any())


def _cell(write: Callable[[Any], str], value: Any) -> str:
    return "–" if value != value or value == "" else write(value)


def _clock(moment: dt.datetime) -> str:
    return f"{moment + dt.timedelta(seconds=0.5):%H:%M:%S}"


def _day_and_clock(moment: dt.datetime) -> str:
    nearest = moment + dt.timedelta(seconds=0.5)
    return f"{nearest.day} {nearest:%b %H:%M:%S}"


def _short(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{value:.1f}" if value >= 1.0 else f"{value:.2f}"


def _km(distance_m: float) -> str:
    return f"{distance_m / 1000.0:.1f}"


def _aside(widths: float) -> str:
    return f"{abs(widths):.1f} {'right' if widths > 0 else 'left'}"
