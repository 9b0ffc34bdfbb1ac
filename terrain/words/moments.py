"""What is said of the best moment of a passage, and of what stands behind the summit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from terrain.frame.shade import SunInFrame, SunState
from terrain.plan.frames import NEAR_DEG
from terrain.view.backlight import Backlight
from terrain.view.facing import SunPose
from terrain.view.nearness import BestAt
from terrain.view.states import SunSpell
from terrain.words.clocks import hour_minute, spell

_POSES: Final = {
    SunPose.OVER: ("over it", "over"),
    SunPose.RIM: ("on its rim", "rim"),
    SunPose.HIDDEN: ("just hidden by it", "behind"),
    SunPose.ELSEWHERE: ("beside it", "beside"),
}
"""How the sun stands to a hill, in a sentence and in a narrow column."""


_TURN: Final = 0.2


def best_moment(row: Mapping[str, Any]) -> str:
    """When the sun is best placed in a row of a table, and how far from the summit then."""
    stands, _ = _POSES[row["best_pose"]]
    if row["best"] == BestAt.CONTACT:
        return f"{_edge(row)}, {stands}"
    return f"{hour_minute(row['best_at'])} {stands}, {row['best_deg']:.2f}° off"


def best_in_short(row: Mapping[str, Any]) -> str:
    """The same for a narrow column."""
    _, stands = _POSES[row["best_pose"]]
    if row["best"] == BestAt.CONTACT:
        return f"{_edge(row)}, {stands}"
    return f"{hour_minute(row['best_at'])} {stands}, {row['best_deg']:.2f}°"


def _edge(row: Mapping[str, Any]) -> str:
    return "as it goes down" if row.get("evening") else "as it appears"


def pose_words(sun: SunInFrame) -> str:
    """How the sun stands to the hill at a moment; `–` where it does not show nor is just hidden."""
    return "–" if _is_away(sun) else _POSES[sun.pose][0]


def pose_in_short(sun: SunInFrame) -> str:
    """The same for a narrow column."""
    return "–" if _is_away(sun) else _POSES[sun.pose][1]


def turns(minutes: Sequence[SunInFrame]) -> list[SunInFrame]:
    """Those of the minutes at which something turns, for a table that says only that.

    The first and the last; those with an event; where the sun comes into the frame or goes out of
    it, or stands otherwise to the hill; where the shade on the near ground has grown or shrunk by a
    fifth of it since the last that is kept.
    """
    kept: list[SunInFrame] = []
    for minute in minutes:
        if not kept or minute.event or minute is minutes[-1] or _is_turned(kept[-1], minute):
            kept.append(minute)
    return kept


def _is_turned(last: SunInFrame, now: SunInFrame) -> bool:
    if (last.state, pose_in_short(last)) != (now.state, pose_in_short(now)):
        return True
    return abs(now.shade - last.shade) >= _TURN


def _is_away(sun: SunInFrame) -> bool:
    return sun.pose is SunPose.ELSEWHERE and sun.state is SunState.HIDDEN


def spells_line(spells: Sequence[SunSpell], name: str) -> str:
    """When the sun is just hidden by a hill, on its rim and over it, in a sentence; else empty."""
    told: list[str] = []
    for one in spells:
        where, again = _SPELLS[one.state]
        told.append(f"{again if told else where.format(name)} {_from_to(one)}")
    return f"The sun is {', '.join(told)}." if told else ""


_SPELLS: Final = {
    SunPose.HIDDEN: ("hidden just behind {}", "hidden just behind it"),
    SunPose.RIM: ("on the rim of {}", "on its rim"),
    SunPose.OVER: ("over {}", "over it"),
}


def _from_to(one: SunSpell) -> str:
    start, end = hour_minute(one.start), hour_minute(one.end)
    if start == end:
        return f"at {start} for {spell((one.end - one.start).total_seconds())}"
    return f"{start}–{end}"


def finding(answer: Backlight) -> str:
    """What was found of the sun where it appears, and that it stands over the summit later."""
    if answer.first_within(NEAR_DEG) or not answer.within(NEAR_DEG):
        return answer.reason
    stands = "stood" if answer.contact.evening else "stands"
    best, off = hour_minute(answer.best.at), f"{answer.best.away_deg:.2f}° off"
    return f"{answer.reason}; at {best} it {stands} over the summit, {off}"


def verdict(answer: Backlight) -> str:
    """Whether the sun is behind the hill or over it, in a word, and what was found, in a line."""
    later = "Before" if answer.contact.evening else "Later"
    over = later if answer.within(NEAR_DEG) else "No"
    return f"{'Yes' if answer.behind else over}: {finding(answer)}."
