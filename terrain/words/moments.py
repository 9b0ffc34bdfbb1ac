"""What is said of the best moment of a passage, and of what stands behind the summit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from terrain.view.backdrop import Backdrop
from terrain.view.backlight import Backlight, BestAt
from terrain.words.clocks import clock
from terrain.words.figures import distance

_NEAR_DEG: Final = 1.0


def best_moment(row: Mapping[str, Any]) -> str:
    """When the sun is best placed in a row of a table, and how far from the summit then."""
    if row["best"] == BestAt.CONTACT:
        return "as it goes down" if row.get("evening") else "as it appears"
    return f"{clock(row['best_at'])}, {row['best_deg']:.2f}° off"


def against(row: Mapping[str, Any]) -> str:
    """What the summit stands against in a row of a table, and how far off that is.

    >>> against({"backdrop": "ground", "backdrop_m": 20400.0}), against({"backdrop": "sky"})
    ('ground, 20.4 km', 'sky')
    """
    if row["backdrop"] == Backdrop.SKY:
        return str(row["backdrop"])
    return f"{row['backdrop']}, {distance(row['backdrop_m'])}"


def finding(answer: Backlight) -> str:
    """What was found of the sun where it appears, and that it stands over the summit later.

    Over it counts where the sun comes within a degree of it (common practice, no source).
    """
    if answer.behind or not answer.within(_NEAR_DEG):
        return answer.reason
    stands = "stood" if answer.contact.evening else "stands"
    best, off = clock(answer.best.at), f"{answer.best.away_deg:.2f}° off"
    return f"{answer.reason}; at {best} it {stands} over the summit, {off}"


def verdict(answer: Backlight) -> str:
    """Whether the sun is behind the hill or over it, in a word, and what was found, in a line."""
    later = "Before" if answer.contact.evening else "Later"
    over = later if answer.within(_NEAR_DEG) else "No"
    return f"{'Yes' if answer.behind else over}: {finding(answer)}."
