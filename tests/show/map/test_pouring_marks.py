"""Passes on a mist map: their letters, their arrows, and the column that names them."""

from __future__ import annotations

from functools import partial

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch
from shapely import LineString

from terrain.mist.islands import islands
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import map_places
from terrain.show.map.keys import pour_key
from terrain.show.map.map import draw_map, map_figure
from terrain.show.map.mist import MOST_PASSES, lettered
from terrain.show.map.mist_maps import islands_map, passes_map
from terrain.show.paper.key import Key, aligned
from terrain.show.paper.legend import Room
from terrain.show.paper.marks import RADIUS_PT, in_points


@pytest.fixture
def poured(world) -> gpd.GeoDataFrame:
    """Eight passes in a row, that pour to the east, the least covered first."""
    rows, cols = np.full(8, 30), 20 + 20 * np.arange(8)
    lon, lat = world.dem.grid.lonlat(rows, cols)
    to_lon, to_lat = world.dem.grid.lonlat(rows, cols + 1)
    return gpd.GeoDataFrame(
        {
            "name": ["", "A – B", *["C – D"] * 6],
            "height_m": [190.0, 120.0, 130.0, 140.0, 150.0, 160.0, 170.0, 180.0],
            "over_m": np.arange(1.0, 9.0),
            "side_a": "west",
            "side_b": "east",
            "to_lon_deg": to_lon,
            "to_lat_deg": to_lat,
        },
        geometry=gpd.points_from_xy(lon, lat),
        crs="EPSG:4326",
    )


def ways_of(world, table: gpd.GeoDataFrame, cells: int) -> gpd.GeoDataFrame:
    lines = []
    for point in table.geometry:
        row, col = world.dem.grid.rowcol(point.x, point.y)
        lon, lat = world.dem.grid.lonlat([row] * 2, [col, col + cells])
        lines.append(LineString(zip(lon, lat, strict=True)))
    return gpd.GeoDataFrame(geometry=lines, crs="EPSG:4326")


def test_the_least_covered_passes_get_letters_from_the_lowest_up(poured) -> None:
    shown = lettered(poured)
    assert len(shown) == MOST_PASSES
    assert shown["over_m"].max() == MOST_PASSES
    assert shown["mark"].tolist() == list("abcdef")
    assert shown["height_m"].is_monotonic_increasing
    again = lettered(poured, {1: "q"})
    assert again["mark"].tolist() == ["q", "", "", "", "", ""]


def test_the_key_says_where_from_and_where_to(poured) -> None:
    key = pour_key(lettered(poured))
    assert key.marks == list("abcdef")
    assert [cells[0] for cells in key.columns.values()] == ["A – B", "120", "2", "west to east"]
    assert key.columns["mist pours over"][-1] == "–"


@pytest.mark.parametrize("cells", [1, 60])
def test_an_arrow_leads_from_the_pass_the_way_it_pours_and_can_be_seen(
    world, poured, cells
) -> None:
    table = lettered(poured.head(1))
    ax = Figure(figsize=(6.0, 4.8), dpi=100).add_axes((0, 0, 1, 1))
    draw_map(ax, world.dem, MapContents(passes=table, ways=ways_of(world, table, cells)))
    (arrow,) = [a for a in ax.patches if isinstance(a, FancyArrowPatch)]
    start, *_, end = in_points(ax, arrow._path_original.vertices)
    at = in_points(ax, map_places(world.dem.grid, table.geometry.x, table.geometry.y))[0]
    assert start == pytest.approx(at, abs=0.01)
    assert end[0] - start[0] > 20.0
    assert end[1] == pytest.approx(start[1], abs=1.0)
    (disc,) = [a for a in ax.lines if a.get_gid() == "mark-a"]
    beside = in_points(ax, np.array(disc.get_xydata()))[0]
    # on the side it comes from, clear of the arrow
    assert at[0] - beside[0] > RADIUS_PT


def test_discs_of_passes_keep_off_those_of_summits(world, poured) -> None:
    summits = poured.head(1).assign(mark=["7"])
    table = lettered(poured.head(1))
    ax = Figure(figsize=(6.0, 4.8), dpi=100).add_axes((0, 0, 1, 1))
    ways = ways_of(world, table, 9)
    draw_map(ax, world.dem, MapContents(summits=summits, passes=table, ways=ways))
    marks = {a.get_gid(): a for a in ax.lines}
    summit, crossing = (
        in_points(ax, np.array(marks[f"mark-{label}"].get_xydata()))[0] for label in ("7", "a")
    )
    assert np.hypot(*(summit - crossing)) >= 2.0 * RADIUS_PT


def test_a_page_holds_its_whole_column(world, poured) -> None:
    table = lettered(poured)
    figure = map_figure(
        world.dem,
        MapContents(mist=world.mist, passes=table, ways=ways_of(world, table, 3)),
        title="x",
        key=Key(marks=["1"] * 30, columns={"a": ["text"] * 30}),
        notes=("a note",),
    )
    side = figure.axes[1]
    low = max(text.get_position()[1] for text in side.texts if text.get_text() != "a note")
    (note,) = [text for text in side.texts if text.get_text() == "a note"]
    assert low < note.get_position()[1] - 10.0
    assert [t.get_text() for t in side.texts].count("text") == 30
    right_pt = side.get_xlim()[1] + 0.35 * 72.0
    figure.canvas.draw()
    for text in side.texts:
        box = text.get_window_extent()
        left = side.get_window_extent().x0
        assert (box.x1 - left) * 72.0 / figure.dpi < right_pt


def test_a_map_of_islands_marks_the_passes_that_mist_pours_over(
    world, poured, monkeypatch: pytest.MonkeyPatch
) -> None:
    lead = partial(ways_of, cells=3)
    monkeypatch.setattr(
        "terrain.show.map.mist_maps.pouring_paths", lambda _, shown: lead(world, shown)
    )
    standing = islands(world.dem, world.mist, world.summits)
    figure = islands_map(world.dem, world.mist, standing, title="x", poured=poured)
    marks = {line.get_gid() for line in figure.axes[0].lines}
    assert {f"mark-{letter}" for letter in "abcdef"} <= marks
    arrows = [part for part in figure.axes[0].patches if isinstance(part, FancyArrowPatch)]
    assert len(arrows) == MOST_PASSES


def test_a_map_of_many_passes_numbers_the_foremost_as_they_fill(world, poured, monkeypatch) -> None:
    """Twenty-four of them, the lowest the shallowest: the four lowest get no mark."""
    lead = partial(ways_of, cells=3)
    monkeypatch.setattr(
        "terrain.show.map.mist_maps.pouring_paths", lambda _, shown: lead(world, shown)
    )
    many = gpd.GeoDataFrame(pd.concat([poured] * 3, ignore_index=True), crs="EPSG:4326")
    given = many.assign(height_m=100.0 + np.arange(24), depth_m=30.0 + np.arange(24))
    given = given.assign(pours=False, pours_at_m=np.nan, valley_a_km2=5.0, valley_b_km2=4.0)
    figure = passes_map(world.dem, given.iloc[::-1], title="x")
    marks = {line.get_gid() for line in figure.axes[0].lines if line.get_gid()}
    numbered = {mark for mark in marks if mark.startswith("mark-")}
    assert numbered == {f"mark-{number}" for number in range(5, 25)}


def test_pages_with_room_for_one_another_have_one_size(world, poured) -> None:
    long = Key(marks=["1"] * 40, columns={"a": ["long text"] * 40})
    short = Key(marks=["1"], columns={"a": ["x"]})
    table = pour_key(lettered(poured))
    room = Room(keys=[long, short], passes=[table])
    sizes = set()
    for key, passes in ((long, lettered(poured.iloc[:0])), (short, lettered(poured))):
        ways = ways_of(world, passes, 3)
        shown = MapContents(mist=world.mist, passes=passes, ways=ways)
        figure = map_figure(world.dem, shown, title="x", key=key, room=room)
        (legend,) = [t for t in figure.axes[1].texts if t.get_text().startswith("mist and its")]
        box = figure.axes[0].get_position().bounds
        sizes.add((*figure.get_size_inches().round(6), *box, legend.get_position()))
    assert len(sizes) == 1


def test_a_summit_that_drowned_keeps_its_room_and_shows_nothing(world) -> None:
    places = []
    for marks in (["1", "2", "3"], ["1", "", "3"]):
        ax = Figure(figsize=(6.0, 4.8), dpi=100).add_axes((0, 0, 1, 1))
        table = world.vantages.iloc[1:4].assign(mark=marks)
        draw_map(ax, world.dem, MapContents(summits=table, mist=world.mist))
        drawn = {a.get_gid(): a for a in ax.lines if a.get_gid()}
        assert ("mark-2" in drawn) == (marks[1] == "2")
        places.append([drawn[f"mark-{label}"].get_xydata()[0] for label in "13"])
    assert np.array_equal(*places)


def test_aligned_keys_have_the_same_columns_as_wide() -> None:
    first = Key(marks=["1"], columns={"a": ["x"], "b": ["–"], "c": ["wide text"]})
    other = Key(marks=[], columns={"a": [], "b": [], "c": []})
    last = Key(marks=["1"], columns={"a": ["–"], "b": ["–"], "c": ["y"]})
    one, none, two = aligned([first, other, last])
    assert list(one.columns) == list(none.columns) == list(two.columns) == ["a", "c"]
    assert one.widths_pt == none.widths_pt == two.widths_pt
    assert one.columns == {"a": ["x"], "c": ["wide text"]}
