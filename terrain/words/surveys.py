"""What is said of a survey: how it stands, what it found, what failed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from terrain.words.figures import count_of


def standing_words(standing: Any) -> str:
    """How a survey stands, in a line: tiles done, hills, vantages, time left.

    standing: with `stage`, `done`, `tiles`, `failed`, `hills`, `rows`, `left_s`.
    """
    parts = [f"{standing.stage}: {standing.done} of {count_of(standing.tiles, 'tile', 'tiles')}"]
    if standing.failed:
        parts.append(f"{standing.failed} failed")
    if standing.hills:
        parts.append(count_of(standing.hills, "hill", "hills"))
    if standing.rows:
        parts.append(count_of(standing.rows, "vantage", "vantages"))
    if standing.left_s is not None and standing.done < standing.tiles:
        parts.append(f"about {_duration(standing.left_s)} to go")
    return ", ".join(parts)


def summary(found: Any) -> str:
    """What a survey found, in a sentence. found: a `Survey`."""
    tops = count_of(len(found.summits), "hill", "hills")
    if len(found.table) or found.left_out:
        hills = found.table["hill"].nunique() if len(found.table) else 0
        tops = f"{count_of(len(found.table), 'vantage', 'vantages')} of {hills} of {tops}"
    done = (
        "nothing was left to do" if not found.made else f"{count_of(found.made, 'task')} done now"
    )
    return f"{tops} in {count_of(found.tiles, 'tile')}; {done}; all is kept in {found.folder}"


def told_of(rows: int, shown: int, away: int) -> str:
    """How much of a survey is shown on some ground, in a sentence.

    rows: of the survey. shown: the best of them on the ground. away: those off the ground.

    >>> told_of(3, 2, 1)
    '3 vantages in the survey: the 2 best of this ground are here; 1 off it comes last.'
    """
    if not away and shown == rows:
        return f"{count_of(rows, 'vantage')} in the survey, best first."
    said = f"{count_of(rows, 'vantage')} in the survey: the {shown} best of this ground are here"
    if not away:
        return f"{said}."
    return f"{said}; {away} off it {'comes' if away == 1 else 'come'} last."


def failed_lines(failures: Mapping[str, str]) -> list[str]:
    """The tiles that failed, each with why."""
    return [f"{label}: {why}" for label, why in failures.items()]


def _duration(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    if minutes >= 120:
        return f"{minutes / 60.0:.0f} hours"
    return f"{minutes} minutes" if minutes > 1 else "a minute"
