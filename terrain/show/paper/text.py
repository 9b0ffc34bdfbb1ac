"""Words on a page: how wide they are, how they are broken into lines, and how they are written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Final, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from matplotlib.textpath import TextPath
from numpy.typing import ArrayLike

from terrain.ground.names import plain
from terrain.show.paper import palette

TEXT_PT: Final = 8.0
SMALL_PT: Final = 7.5

Across = Literal["left", "center", "right"]
_Upright = Literal["bottom", "baseline", "center", "center_baseline", "top"]

_LONGEST_NAME = 30
_JOINED = " – "
"""Between the two hills that a pass is called by."""

_LINE_PT, _BETWEEN_NOTES_PT = 10.5, 5.0
_POINTS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


@lru_cache(maxsize=4096)
def text_width_pt(text: str, size_pt: float = TEXT_PT, weight: str = "normal") -> float:
    """How wide a text is, points."""
    if not text.strip():
        return 0.0
    path = TextPath((0, 0), text, size=size_pt, prop=FontProperties(weight=weight))
    # the hull of a letter's curves is as wide as the letter, for their points lie at its ends;
    # drawn letters are set on whole pixels, which makes a line a little longer
    return 1.04 * float(path.vertices[:, 0].max()) + 1.0


def wrapped(text: str, width_pt: float, size_pt: float, weight: str = "normal") -> list[str]:
    """A text in lines no wider than `width_pt`, broken between words.

    >>> wrapped("a hill in the mist", 40.0, 8.0)
    ['a hill in', 'the mist']
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_pt(longer, size_pt, weight) <= width_pt:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def shortened(name: str) -> str:
    """A name that leaves room for a picture beside it: what else it is called goes first.

    Of two names that are joined each keeps its beginning.

    >>> shortened("Great Orrasel Fell [Orrasel South Top]")
    'Great Orrasel Fell'
    >>> shortened("Hovrin Edge of the North – Tamsket Beacon")
    'Hovrin Edge… – Tamsket Beacon'
    """
    if len(name) > _LONGEST_NAME:
        name = re.sub(r" *(\[[^\]]*\]|\([^)]*\))", "", name) or name
    if len(name) <= _LONGEST_NAME:
        return name
    first, joined, last = name.partition(_JOINED)
    if not joined:
        return _cut(name, _LONGEST_NAME)
    half = (_LONGEST_NAME - len(_JOINED)) // 2
    room = _LONGEST_NAME - len(_JOINED)
    first = _cut(first, max(half, room - len(last)))
    return f"{first}{_JOINED}{_cut(last, room - len(first))}"


def _cut(name: str, length: int) -> str:
    return name if len(name) <= length else f"{name[: length - 1].rstrip(' -–,')}…"


def compass(azimuth_deg: float) -> str:
    """The nearest of sixteen compass points.

    >>> compass(123.0)
    'ESE'
    """
    return _POINTS[round(azimuth_deg / 22.5) % 16]


def write(
    ax: Axes,
    place: ArrayLike,
    words: str,
    *,
    colour: str = palette.INK,
    size_pt: float = TEXT_PT,
    ha: Across = "left",
    va: _Upright = "center_baseline",
    weight: str = "normal",
    zorder: float = 3.0,
) -> Text:
    """One line of text at a place of axes, by default with its middle there and in ink."""
    across, up = np.asarray(place, dtype=float)
    text = ax.text(across, up, plain(words), ha=ha, va=va, color=colour, zorder=zorder)
    text.set(fontsize=size_pt, fontweight=weight)
    return text


def write_notes(side: Axes, notes: Sequence[str]) -> None:
    """Small lines at the foot of axes that measure points from their top left."""
    at = side.get_ylim()[0]
    for line in reversed(_note_lines(notes, side.get_xlim()[1])):
        write(side, (0.0, at), line, size_pt=SMALL_PT, va="bottom", colour=palette.QUIET)
        at -= _note_pt(line)


def notes_height_pt(notes: Sequence[str], width_pt: float) -> float:
    """How high notes stand in a column so wide, points."""
    return sum(_note_pt(line) for line in _note_lines(notes, width_pt))


def _note_lines(notes: Sequence[str], width_pt: float) -> list[str]:
    return [line for note in notes for line in [*wrapped(note, width_pt, SMALL_PT), ""]][:-1]


def _note_pt(line: str) -> float:
    return _LINE_PT if line else _BETWEEN_NOTES_PT
