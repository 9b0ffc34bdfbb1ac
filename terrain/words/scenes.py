"""What is said of the small scenes in a mist, of which the table is that of `small_scenes`."""

from __future__ import annotations

import string
from collections.abc import Mapping
from typing import Any, Final

Row = Mapping[str, Any]

TITLE: Final = "Small scenes in the mist"
LETTERS: Final = string.ascii_lowercase
"""Of the scenes in their order, on the picture and in its table."""

_KINDS: Final = {"shallows": "tree tops", "islet": "islet"}


def scene_name(row: Row) -> str:
    """What it is.

    >>> scene_name({"kind": "shallows"})
    'tree tops'
    """
    return _KINDS[row["kind"]]


def scene_wide(row: Row) -> str:
    """How wide it is in view.

    >>> scene_wide({"width_deg": 9.66})
    '9.7°'
    """
    return f"{row['width_deg']:.1f}°"


def scene_lens(row: Row) -> str:
    """The focal length that suits, and how much of the frame's width it then fills.

    >>> scene_lens({"lens_mm": 200.0, "fills": 0.554})
    '200 mm, fills 55 %'
    """
    return f"{row['lens_mm']:.0f} mm, fills {100.0 * row['fills']:.0f} %"


def tree_tops_words(trees_m: tuple[float, float]) -> str:
    """What the signs of shallows on a map mean.

    >>> tree_tops_words((5.0, 15.0))
    'tree tops: mist 5 to 15 m deep'
    """
    low_m, high_m = trees_m
    return f"tree tops: mist {low_m:g} to {high_m:g} m deep"
