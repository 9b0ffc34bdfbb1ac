"""The year picture: where its strokes stand, how much ink they have, and what is said of them."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from terrain.show.chart.season import _months, draw_season, season_figure
from terrain.show.files.export import save_picture
from terrain.show.paper import palette
from tests.authorities.colour_vision import lightness

FIRST, LAST = dt.date(2026, 1, 1), dt.date(2026, 12, 31)
HILLS = ["Orrasel", "Yessock", "Ubbaran"]
ZONE = ZoneInfo("Europe/London")


def season(rows: list[tuple[str, dt.date, float]]) -> gpd.GeoDataFrame:
    appears = [dt.datetime.combine(day, dt.time(6, 59, 40), tzinfo=ZONE) for _, day, _ in rows]
    table = pd.DataFrame(rows, columns=["hill", "day", "score"])
    table = table.assign(appears=appears, offset_deg=0.25)
    points = gpd.points_from_xy([0.0] * len(rows), [54.0] * len(rows))
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


YEAR = season(
    [
        ("Orrasel", dt.date(2026, 3, 1), 0.5),
        ("Orrasel", dt.date(2026, 3, 3), 0.9),
        ("Orrasel", dt.date(2026, 12, 31), 0.7),
        ("Ubbaran", dt.date(2026, 1, 1), 0.8),
    ]
)


def drawn(table: gpd.GeoDataFrame = YEAR, **options: object) -> tuple[Axes, list[Artist]]:
    """The axes and what was drawn on them, in its order."""
    ax = Figure(figsize=(6.0, 1.5), dpi=100).add_axes((0, 0, 1, 1))
    options = {"span": (FIRST, LAST)} | options
    draw_season(ax, table, HILLS, **options)
    return ax, [*ax.lines, *ax.collections, *ax.texts]


def strokes(artists: list[Artist]) -> dict[str, np.ndarray]:
    """Corners of the strokes of each lane, (n, 4, 2)."""
    return {
        str(artist.get_gid()): np.stack([path.vertices[:4] for path in artist.get_paths()])
        for artist in artists
        if isinstance(artist, PolyCollection)
    }


def test_a_stroke_for_each_morning_on_its_day_in_its_lane() -> None:
    _, artists = drawn()
    found = strokes(artists)
    assert set(found) == {"mornings-1", "mornings-3"}
    for lane, hill in ((1, "Orrasel"), (3, "Ubbaran")):
        corners = found[f"mornings-{lane}"]
        days = sorted(day.toordinal() for day in YEAR[YEAR["hill"] == hill]["day"])
        assert sorted(corners[..., 0].mean(axis=1)) == pytest.approx(days)
        assert np.ptp(corners[..., 0], axis=1) == pytest.approx(1.0)
        assert corners[..., 1].max() < lane
        assert corners[..., 1].min() > lane - 1


def test_the_better_the_taller_and_the_darker() -> None:
    """In grey print too: darkness alone tells a good morning from a poor one."""
    scores = [0.35, 0.5, 0.65, 0.8, 0.95]
    table = season([("Orrasel", dt.date(2026, 5, 1 + n), score) for n, score in enumerate(scores)])
    _, artists = drawn(table)
    (lane,) = (artist for artist in artists if isinstance(artist, PolyCollection))
    height = np.ptp(strokes(artists)["mornings-1"][..., 1], axis=1)
    light = [lightness(to_hex(colour)) for colour in lane.get_facecolor()]
    assert (np.diff(height) > 0.1).all()
    assert (np.diff(light) < -5.0).all()
    assert light[0] < lightness(palette.PAPER) - 12.0


@settings(max_examples=10)
@given(st.floats(0.0, 1.0))
@example(0.0)
@example(1.0)
def test_every_morning_has_some_ink_and_stays_in_its_lane(score: float) -> None:
    _, artists = drawn(season([("Yessock", dt.date(2026, 6, 1), score)]))
    corners = strokes(artists)["mornings-2"]
    assert 0.02 < np.ptp(corners[..., 1]) < 0.9
    assert corners[..., 1].min() > 1.0


def test_a_ring_over_the_best_of_each_hill() -> None:
    _, artists = drawn()
    rings = {
        a.get_gid(): a.get_xydata()[0]
        for a in artists
        if isinstance(a, Line2D) and str(a.get_gid()).startswith("best-")
    }
    assert set(rings) == {"best-1", "best-3"}
    assert rings["best-1"][0] == dt.date(2026, 3, 3).toordinal()
    tops = strokes(artists)["mornings-1"][..., 1].min()
    assert rings["best-1"][1] == pytest.approx(tops)


def test_a_hill_without_mornings_says_so() -> None:
    _, artists = drawn()
    (said,) = [a for a in artists if isinstance(a, Text) and a.get_text() == "no morning"]
    assert 1.0 < said.get_position()[1] < 2.0


def test_months_begin_where_they_begin() -> None:
    ax, artists = drawn()
    lines = [a for a in artists if isinstance(a, Line2D) and len(set(a.get_xdata())) == 1]
    begins = [line.get_xdata()[0] + 0.5 for line in lines if len(line.get_xdata()) == 2]
    assert begins == [dt.date(2026, month, 1).toordinal() for month in range(2, 13)]
    names = [a.get_text() for a in artists if isinstance(a, Text)][:12]
    assert [name[0] for name in names] == list("JFMAMJJASOND")
    assert ax.get_xlim() == (FIRST.toordinal() - 0.5, LAST.toordinal() + 0.5)


def test_names_of_months_do_not_run_into_one_another() -> None:
    ax, artists = drawn()
    ax.figure.canvas.draw()
    names = [a for a in artists if isinstance(a, Text) and a.get_text() != "no morning"]
    boxes = [name.get_window_extent() for name in names]
    assert all(left.x1 < right.x0 for left, right in pairwise(boxes))


def test_weeks_of_a_month() -> None:
    first, last = dt.date(2026, 10, 1), dt.date(2026, 10, 31)
    table = season([("Orrasel", dt.date(2026, 10, 12), 0.8)])
    _, artists = drawn(table, span=(first, last))
    mondays = {a.get_text(): a.get_position()[0] for a in artists if isinstance(a, Text)}
    days = (5, 12, 19, 26)
    for day in days:
        assert mondays[f"Mon {day}"] == pytest.approx(dt.date(2026, 10, day).toordinal())
    assert "October 2026" in mondays
    width = np.ptp(strokes(artists)["mornings-1"][..., 0])
    assert 0.85 < width < 1.0  # a gap between one day and the next


def test_a_step_of_days_is_as_wide_as_it_is_long() -> None:
    _, artists = drawn(step_days=2)
    assert np.ptp(strokes(artists)["mornings-1"][..., 0], axis=1) == pytest.approx(2.0, abs=0.7)
    assert (np.ptp(strokes(artists)["mornings-1"][..., 0], axis=1) > 1.2).all()


@given(st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)), st.integers(0, 800))
def test_months_cover_every_span_once(first: dt.date, length: int) -> None:
    last = first + dt.timedelta(days=length)
    months = _months(first, last)
    assert months[0][0] == first
    assert months[-1][1] == last
    for (start, end), (following, _) in pairwise(months):
        assert (start.year, start.month) == (end.year, end.month)
        assert following == end + dt.timedelta(days=1)
        assert following.day == 1


def words(page: Figure) -> list[str]:
    return [text.get_text() for ax in page.axes for text in ax.texts]


def test_page_says_of_each_hill_what_its_best_is(tmp_path: Path) -> None:
    told = {"title": "Mornings", "subtitle": "a year", "notes": ["Clock times of the place."]}
    page = season_figure(YEAR, hills=HILLS, first_day=FIRST, last_day=LAST, **told)
    said = words(page)
    for expected in (*HILLS, "3", "0", "1", "3 Mar", "1 Jan", "07:00", "0.25° right", "0.90"):
        assert expected in said
    assert said.count("–") == 5
    assert said.count("nothing") == 2
    save_picture(page, tmp_path / "year.svg")
    text = (tmp_path / "year.svg").read_text(encoding="utf-8")
    assert "Mornings" in text
    assert "Clock times of the place." in text
    assert "Yessock" in text


def test_nothing_on_the_page_lies_on_anything_else() -> None:
    page = season_figure(YEAR, title="Mornings", hills=HILLS, first_day=FIRST, last_day=LAST)
    page.canvas.draw()
    boxes = [text.get_window_extent() for ax in page.axes for text in ax.texts if text.get_text()]
    for number, box in enumerate(boxes):
        assert box.x0 >= 0
        assert box.x1 <= page.bbox.x1
        for other in boxes[number + 1 :]:
            apart = max(box.x0, other.x0) >= min(box.x1, other.x1) - 0.5
            assert apart or max(box.y0, other.y0) >= min(box.y1, other.y1) - 0.5


def test_page_shows_what_the_table_holds_unless_told() -> None:
    later = season([("Orrasel", dt.date(2026, 12, 30), 0.5), ("Zed", dt.date(2027, 1, 2), 0.6)])
    said = words(season_figure(later, title="Mornings"))
    assert "30 Dec 2026" in said
    assert "2 Jan 2027" in said
    assert "Zed" in said


def test_nothing_to_show() -> None:
    with pytest.raises(ValueError, match="needs hills, and days or mornings"):
        season_figure(YEAR.iloc[:0], title="Mornings", hills=HILLS)
    with pytest.raises(ValueError, match="needs hills, and days or mornings"):
        season_figure(YEAR.iloc[:0], title="Mornings", first_day=FIRST, last_day=LAST)


def test_a_table_is_left_as_it_was() -> None:
    before = YEAR.copy()
    drawn()
    pd.testing.assert_frame_equal(pd.DataFrame(YEAR), pd.DataFrame(before))


def test_scores_near_to_each_other_can_be_told_apart() -> None:
    days = [dt.date(2026, 5, 1), dt.date(2026, 5, 2)]
    near = season([("Orrasel", days[0], 0.75), ("Orrasel", days[1], 0.9)])
    _, artists = drawn(near)
    low, high = np.ptp(strokes(artists)["mornings-1"][..., 1], axis=1)
    assert high > 5.0 * low


def test_a_hill_without_a_name_is_called_by_its_height() -> None:
    table = season([("54.4330, -24.0030", dt.date(2026, 5, 1), 0.9)]).assign(hill_height_m=707.6)
    page = season_figure(table, title="Mornings", first_day=FIRST, last_day=LAST)
    assert "top 708" in words(page)
