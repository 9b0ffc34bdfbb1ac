"""Figures in words: where the number of decimals, the unit or the side changes."""

from __future__ import annotations

import math

import pytest

from terrain.ground.names import plain
from terrain.words.figures import away, beside, distance, height_run, percent, signed


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "-"),
        (math.nan, "-"),
        (0.0009, "< 0.1 %"),
        (0.001, "0.1 %"),
        (0.099, "9.9 %"),
        (0.1, "10 %"),
        (1.0, "100 %"),
    ],
)
def test_a_share_has_two_figures(share: float, said: str) -> None:
    assert percent(share) == said


def test_short_ways_are_in_metres() -> None:
    assert (distance(94.0), distance(95.0), distance(1000.0)) == ("90 m", "0.1 km", "1.0 km")


def test_sides_and_signs() -> None:
    assert (beside(0.5), beside(-0.5)) == ("0.50° right", "0.50° left")
    assert away(1.04) == "1.0 sun widths to the right"
    assert away(math.nan) == ""
    assert (signed(0.67), signed(0.04), signed(-2.0, 2)) == ("+0.7°", "0.0°", "−2.00°")


def test_one_height_or_two() -> None:
    assert (height_run(200.0, 200.0), height_run(180.0, 220.0)) == ("200", "180 to 220")


def test_a_text_keeps_its_lines_and_letters_alone() -> None:
    assert plain("a\tb\u2028c\x00\nd") == "a b c\nd"
