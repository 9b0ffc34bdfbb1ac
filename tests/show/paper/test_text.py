"""Texts are measured as wide as they are drawn, and broken where they must be."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from terrain.show.paper.page import head_in, points_axes
from terrain.show.paper.text import notes_height_pt, shortened, text_width_pt, wrapped, write_notes

WORDS = [
    "1",
    "Orrasel",
    "06:13:13 ± 31 s",
    "Wide Moor – Misty Wyke",
    "the ground is known for less than 10 km that way, and a hill beyond could stand there",
]


@pytest.mark.parametrize("words", WORDS)
@pytest.mark.parametrize("size_pt", [7.5, 8.0, 14.0])
@pytest.mark.parametrize("weight", ["normal", "bold"])
def test_no_text_is_drawn_wider_than_it_is_measured_nor_much_less(
    words: str, size_pt: float, weight: str
) -> None:
    page = Figure(figsize=(20, 2), dpi=288)
    FigureCanvasAgg(page)
    drawn = page.text(0.0, 0.5, words, fontsize=size_pt, fontweight=weight)
    drawn_pt = drawn.get_window_extent().width * 72.0 / page.dpi
    measured_pt = text_width_pt(words, size_pt, weight)
    assert drawn_pt <= measured_pt + 0.5
    assert measured_pt <= 1.06 * drawn_pt + 1.5


def test_nothing_takes_no_room() -> None:
    assert text_width_pt("") == text_width_pt("  ") == 0.0


def test_lines_fit_their_room_and_keep_every_word() -> None:
    lines = wrapped(WORDS[-1], 120.0, 8.0)
    assert " ".join(lines) == WORDS[-1]
    assert max(text_width_pt(line, 8.0) for line in lines) <= 120.0
    # no line would have held the first word of the next
    for line, following in pairwise(lines):
        assert text_width_pt(f"{line} {following.split()[0]}", 8.0) > 120.0


def test_long_names_are_cut_to_the_same_length() -> None:
    assert shortened("x" * 30) == "x" * 30
    assert shortened("x" * 31) == "x" * 29 + "…"


@given(st.text("ab [](–", max_size=60), st.text("cd ", min_size=1, max_size=60))
def test_a_short_name_is_short_and_keeps_the_beginning_of_both_its_names(
    first: str, last: str
) -> None:
    name = f"{first.strip()} – {last.strip()}"
    short = shortened(name)
    assert len(short) <= 30
    assert short == name or len(name) > 30
    if name.count(" – ") == 1 and not set(name) & set("[]()"):
        ends = [
            (part[:3], new[:3])
            for part, new in zip(name.split(" – "), short.split(" – "), strict=True)
        ]
        assert all(new == old for old, new in ends)


def test_a_name_is_longer_than_what_else_it_is_called() -> None:
    long = "Hessick Fell [Hessick Fell North Top]"
    assert shortened(long) == "Hessick Fell"
    assert shortened("Hessick [North Top]") == "Hessick [North Top]"
    assert shortened("[Hessick Fell and its far North Top]") != ""
    assert shortened("Hessick Fell - North Top – Tamsket Edge").startswith("Hessick Fell… – ")
    assert shortened(f"{long} – Tamsket (the larger)") == "Hessick Fell – Tamsket"


def test_notes_stand_at_the_foot_and_are_as_high_as_they_say() -> None:
    side = points_axes(Figure(figsize=(4, 4)), 0.0, 0.0, 2.0, 4.0)
    notes = ["one note of words enough for two lines or so", "another"]
    write_notes(side, notes)
    said = [text for text in side.texts if text.get_text()]
    feet = sorted(text.get_position()[1] for text in said)
    assert feet[-1] == 288.0
    # a line is 10.5 points high, and the top line stands by so much over its foot
    assert 288.0 - feet[0] + 10.5 == notes_height_pt(notes, 144.0)


def test_a_page_has_room_for_each_line_over_it() -> None:
    one = head_in("Title", ["a line"], 11.0)
    assert head_in("Title", ["a line", "another"], 11.0) == pytest.approx(one + 0.19)
    assert head_in("Title", [], 11.0) == pytest.approx(one - 0.19)
    assert head_in("Title " * 30, ["a line"], 11.0) > one + 0.26
