"""Discs: moved apart, no farther than it takes, and the same in every run."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from scipy.ndimage import binary_dilation

from terrain.show.paper.marks import (
    RADIUS_PT,
    draw_mark,
    draw_marks,
    from_points,
    in_points,
    nudge,
)

PLACES = st.lists(
    st.tuples(st.floats(50.0, 350.0), st.floats(50.0, 350.0)), min_size=1, max_size=20
)


def gaps(places: np.ndarray) -> np.ndarray:
    apart = np.hypot(*(places[:, np.newaxis] - places[np.newaxis]).T)
    return apart[np.triu_indices(len(places), 1)]


@settings(max_examples=60, deadline=None)
@given(PLACES)
def test_no_two_discs_overlap(places: list[tuple[float, float]]) -> None:
    apart = nudge(places, radius_pt=7.0, bounds_pt=[(0.0, 0.0), (400.0, 400.0)])
    assert np.all(gaps(apart) >= 14.0)
    assert np.all((apart >= 7.0) & (apart <= 393.0))


def test_discs_at_one_place_part() -> None:
    assert np.all(gaps(nudge([[10.0, 10.0]] * 6, radius_pt=5.0)) >= 10.0)


def test_lone_discs_stay_and_neighbours_move_little() -> None:
    places = np.array([[0.0, 0.0], [100.0, 0.0], [106.0, 0.0]])
    apart = nudge(places, radius_pt=7.0)
    moved = np.hypot(*(apart - places).T)
    assert moved[0] < 0.02
    assert np.all(moved[1:] < 8.0)


def test_discs_keep_off_what_is_there() -> None:
    apart = nudge([[0.0, 0.0], [3.0, 2.0]], radius_pt=7.0, keep_out=[[0.0, 0.0, 10.0]])
    assert np.all(np.hypot(*apart.T) >= 17.0)


def test_a_disc_that_meets_no_other_stays_within_its_bounds() -> None:
    bounds = [(0.0, 0.0), (400.0, 300.0)]
    corner, middle = nudge([[399.0, 2.0], [200.0, 150.0]], radius_pt=7.0, bounds_pt=bounds)
    assert (corner >= 7.0).all()
    assert (corner <= [393.0, 293.0]).all()
    assert np.hypot(*(middle - [200.0, 150.0])) < 0.02


def test_same_again() -> None:
    places = np.random.default_rng(1).uniform(0, 60, (12, 2))
    assert np.array_equal(nudge(places), nudge(places))


def test_drawn_at_their_places_with_a_line_back_where_moved() -> None:
    ax = Figure(figsize=(5, 4)).add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 1000), ylim=(0, 800))
    places = np.array([[200.0, 200.0], [700.0, 400.0], [703.0, 400.0]])
    drawn = draw_marks(ax, places, ["1", "2", "3"])
    marks = {a.get_gid(): a for a in ax.lines if a.get_gid()}
    at = np.array([marks[f"mark-{n}"].get_xydata()[0] for n in (1, 2, 3)])
    assert np.allclose(in_points(ax, at), drawn)
    assert np.allclose(np.ravel(marks["mark-1"].get_data()), [200.0, 200.0], atol=0.1)
    leaders = [a for a in ax.lines if not a.get_gid()]
    starts = {tuple(np.array(line.get_xydata())[0]) for line in leaders}
    assert starts == {(700.0, 400.0), (703.0, 400.0)}
    two, three = (np.array(marks[f"mark-{n}"].get_xydata()) for n in (2, 3))
    assert np.hypot(*(in_points(ax, two) - in_points(ax, three))[0]) >= 2 * RADIUS_PT


def test_points_and_back() -> None:
    ax = Figure(figsize=(5, 4), dpi=200).add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 1000), ylim=(0, 800))
    corner = in_points(ax, np.array([[1000.0, 800.0]]))[0]
    assert np.allclose(corner, [360.0, 288.0])
    assert np.allclose(from_points(ax, corner), [1000.0, 800.0])


@pytest.mark.parametrize("label", ["7", "20", "144", "A", "b", ")4", ")20", ")144"])
def test_what_is_on_a_mark_stays_within_it(label: str) -> None:
    """In pixels as drawn: no ink of the words meets the edge of a disc, square or lozenge."""
    figure = Figure(figsize=(1, 1), dpi=400)
    FigureCanvasAgg(figure)
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 1), ylim=(0, 1))
    draw_mark(ax, (0.5, 0.5), label)
    (mark,), (words,) = ax.lines, ax.texts
    words.set_visible(False)
    face = _drawn(figure)[len(_drawn(figure)) // 2, len(_drawn(figure)) // 2]
    within = (np.abs(_drawn(figure) - face) < 2.0).all(axis=-1)
    words.set_visible(True)
    mark.set_visible(False)
    figure.set_facecolor(face / 255.0)
    ax.set_axis_off()
    ink = (np.abs(_drawn(figure) - face) > 60.0).any(axis=-1)
    assert ink.sum() > 100
    assert not (binary_dilation(ink, iterations=2) & ~within).any()


def _drawn(figure: Figure) -> np.ndarray:
    figure.canvas.draw()
    return np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(float)
