"""What is said of the best moment: yes, later, before, or no."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace
from typing import Any

import pytest

from terrain.view.backlight import Best, BestAt
from terrain.words.moments import against, best_in_short, best_moment, finding, verdict

AT = dt.datetime(2026, 10, 11, 8, 13, 47, tzinfo=dt.UTC)


def answer(*, behind: bool = False, away_deg: float = 0.29, evening: bool = False) -> Any:
    return SimpleNamespace(
        behind=behind,
        reason="the sun is seen beside Cone",
        best=Best(BestAt.PASSAGE, AT, away_deg),
        contact=SimpleNamespace(evening=evening),
        within=lambda tolerance_deg: behind or away_deg <= tolerance_deg,
    )


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (answer(behind=True), "Yes: the sun is seen beside Cone."),
        (
            answer(),
            "Later: the sun is seen beside Cone; at 08:13 it stands over the summit, 0.29° off.",
        ),
        (
            answer(evening=True),
            "Before: the sun is seen beside Cone; at 08:13 it stood over the summit, 0.29° off.",
        ),
        (answer(away_deg=1.01), "No: the sun is seen beside Cone."),
    ],
)
def test_a_verdict(found: Any, said: str) -> None:
    assert verdict(found) == said
    assert finding(found) in said


def test_the_best_of_a_row_and_what_it_stands_against() -> None:
    row = {"best": "passage", "best_at": AT, "best_deg": 0.29, "best_pose": "over"}
    assert best_moment(row) == "08:13 over it, 0.29° off"
    assert best_in_short(row) == "08:13 over, 0.29°"
    first = {"best": "contact", "best_pose": "on the rim"}
    assert best_moment(first) == "as it appears, on its rim"
    assert best_moment(first | {"evening": True}) == "as it goes down, on its rim"
    assert best_in_short(first | {"best_pose": "elsewhere"}) == "as it appears, beside"
    assert against({"backdrop": "mist", "backdrop_m": 900.0}) == "mist, 0.9 km"
