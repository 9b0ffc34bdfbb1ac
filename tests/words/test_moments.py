"""What is said of the best moment: yes, later, before, or no."""

from __future__ import annotations

import datetime as dt
import math
from types import SimpleNamespace
from typing import Any

import pytest

from terrain.frame.shade import SunState
from terrain.view.facing import SunPose
from terrain.view.nearness import Best, BestAt
from terrain.view.states import SunSpell, SunStand
from terrain.words.figures import against
from terrain.words.moments import (
    best_in_short,
    best_moment,
    finding,
    pose_in_short,
    pose_words,
    spells_line,
    turns,
    verdict,
)

AT = dt.datetime(2026, 10, 11, 8, 13, 47, tzinfo=dt.UTC)


def answer(
    *,
    behind: bool = False,
    first_deg: float = 0.1,
    away_deg: float = 0.29,
    evening: bool = False,
) -> Any:
    return SimpleNamespace(
        behind=behind,
        reason="the sun is seen beside Cone",
        best=Best(BestAt.PASSAGE, AT, away_deg),
        contact=SimpleNamespace(evening=evening),
        first_within=lambda tolerance_deg: behind and first_deg <= tolerance_deg,
        within=lambda tolerance_deg: behind or away_deg <= tolerance_deg,
    )


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (answer(behind=True), "Yes: the sun is seen beside Cone."),
        (
            answer(behind=True, first_deg=6.5),
            "Yes: the sun is seen beside Cone; at 08:14 it stands over the summit, 0.29° off.",
        ),
        (
            answer(),
            "Later: the sun is seen beside Cone; at 08:14 it stands over the summit, 0.29° off.",
        ),
        (
            answer(evening=True),
            "Before: the sun is seen beside Cone; at 08:14 it stood over the summit, 0.29° off.",
        ),
        (answer(away_deg=1.01), "No: the sun is seen beside Cone."),
    ],
)
def test_a_verdict(found: Any, said: str) -> None:
    assert verdict(found) == said
    assert finding(found) in said


def spell_of(state: SunPose, start_s: float, end_s: float) -> SunSpell:
    start, end = (AT + dt.timedelta(seconds=seconds) for seconds in (start_s, end_s))
    nearest = SunStand(at=start, state=state, aside_deg=0.0, above_deg=0.0)
    return SunSpell(state=state, start=start, end=end, nearest=nearest)


def test_when_it_is_hidden_on_the_rim_and_over_it() -> None:
    spells = [
        spell_of(SunPose.HIDDEN, 0.0, 300.0),
        spell_of(SunPose.RIM, 300.0, 304.0),
        spell_of(SunPose.OVER, 304.0, 900.0),
    ]
    assert spells_line(spells, "Cone") == (
        "The sun is hidden just behind Cone 08:14–08:19, on its rim at 08:19 for 4 s, "
        "over it 08:19–08:29."
    )
    assert spells_line(spells[1:2], "Cone") == "The sun is on the rim of Cone at 08:19 for 4 s."
    assert spells_line([], "Cone") == ""


@pytest.mark.parametrize(
    ("state", "pose", "said", "short"),
    [
        (SunState.HIDDEN, SunPose.ELSEWHERE, "–", "–"),
        (SunState.HIDDEN, SunPose.HIDDEN, "just hidden by it", "behind"),
        (SunState.IN_FRAME, SunPose.ELSEWHERE, "beside it", "beside"),
        (SunState.OUT, SunPose.OVER, "over it", "over"),
    ],
)
def test_how_it_stands_at_a_moment(state: SunState, pose: SunPose, said: str, short: str) -> None:
    sun: Any = SimpleNamespace(state=state, pose=pose)
    assert (pose_words(sun), pose_in_short(sun)) == (said, short)


def minute(state: SunState, pose: SunPose, shade: float = 0.5, event: str = "") -> Any:
    return SimpleNamespace(state=state, pose=pose, shade=shade, event=event)


def test_only_minutes_at_which_something_turns() -> None:
    hidden = minute(SunState.HIDDEN, SunPose.ELSEWHERE, math.nan)
    rim = minute(SunState.IN_FRAME, SunPose.RIM, 0.9, "sun appears")
    over = [minute(SunState.IN_FRAME, SunPose.OVER, shade) for shade in (0.9, 0.8, 0.72, 0.69, 0.5)]
    out = [minute(SunState.OUT, SunPose.ELSEWHERE, math.nan) for _ in range(4)]
    minutes = [hidden, minute(SunState.HIDDEN, SunPose.ELSEWHERE, math.nan), rim, *over, *out]
    kept = [
        minutes.index(one) if one is not out[-1] else len(minutes) - 1 for one in turns(minutes)
    ]
    # the fourth over the summit has a fifth less shade than the first; the first and last are there
    assert kept == [0, 2, 3, 6, 8, 11]
    assert turns([]) == []
    assert turns([rim]) == [rim]


def test_the_best_of_a_row_and_what_it_stands_against() -> None:
    row = {"best": "passage", "best_at": AT, "best_deg": 0.29, "best_pose": "over"}
    assert best_moment(row) == "08:14 over it, 0.29° off"
    assert best_in_short(row) == "08:14 over, 0.29°"
    first = {"best": "contact", "best_pose": "on the rim"}
    assert best_moment(first) == "as it appears, on its rim"
    assert best_moment(first | {"evening": True}) == "as it goes down, on its rim"
    assert best_in_short(first | {"best_pose": "elsewhere"}) == "as it appears, beside"
    assert against({"backdrop": "mist", "backdrop_m": 900.0}) == "mist, 0.9 km"
