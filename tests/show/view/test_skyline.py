"""The skyline as a ring: directions as on a map, unknown ground hatched, mist its own surface."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.relief.summits import find_summits
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points
from terrain.show.view.all_round import AllRound
from terrain.show.view.ring import Ring
from terrain.show.view.skyline import skyline_figure
from terrain.sight.skyline import skyline
from tests.show.conftest import World


def said(figure: Figure) -> str:
    return " ".join(text.get_text() for text in figure.findobj(Text) if isinstance(text, Text))


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    return skyline_figure(world.dem, world.spot, summits=world.summits, known_m=3500.0)


@pytest.fixture(scope="module")
def view(world: World) -> AllRound:
    return AllRound(dem=world.dem, mist=None, sky=skyline(world.dem, world.spot), known_m=3500.0)


def test_directions_lie_as_on_a_map() -> None:
    ring = Ring(low_deg=-5.0, high_deg=15.0)
    north, east = ring.places([0.0, 90.0], [15.0, 15.0])
    assert north == pytest.approx([0.0, 1.0])
    assert east == pytest.approx([1.0, 0.0])
    assert np.hypot(*ring.places(200.0, 0.0)[0]) < np.hypot(*ring.places(200.0, 5.0)[0])


def test_a_picture_is_bent_as_places_are() -> None:
    ring = Ring(low_deg=-5.0, high_deg=15.0)
    flat = np.zeros((200, 360, 4))
    flat[..., 3] = 1.0
    flat[95:105, 85:95, 0] = 1.0
    bent = ring.picture(flat, 401)
    row, col = np.argwhere(bent[..., 0] > 0.9).mean(axis=0)
    found = np.array([col, row]) / 200.0 - 1.0
    assert found == pytest.approx(ring.places(90.0, 5.0)[0], abs=0.02)
    assert bent[200, 200, 3] == 0.0


def test_steepness_is_as_stated(page: Figure, view: AllRound) -> None:
    up = view.ring.places(0.0, 0.5)[0][1] - view.ring.places(0.0, -0.5)[0][1]
    along = np.hypot(*np.diff(view.ring.places([0.0, 1.0], [0.0, 0.0]), axis=0)[0])
    assert view.ring.steeper == pytest.approx(up / along, rel=0.01)
    assert f"{up / along:.1f} times as steep" in said(page)


def test_line_is_the_skyline(page: Figure, view: AllRound) -> None:
    lines = [line for line in page.axes[0].lines if line.get_gid() in ("skyline", "sea")]
    drawn = np.concatenate([np.asarray(line.get_xydata()) for line in lines])
    wanted = view.ring.places(view.sky.azimuth_deg, view.sky.altitude_deg)[::40]
    apart = np.hypot(*(drawn[:, np.newaxis] - wanted[np.newaxis]).transpose(2, 0, 1))
    assert apart.min(axis=0).max() < 1e-6


def test_the_rim_is_hatched_where_ground_is_known_less_far(page: Figure, view: AllRound) -> None:
    unknown = view.sky.known_to_m < 3500.0
    assert 0.05 < unknown.mean() < 0.95
    rims = [part.get_path() for part in page.axes[0].patches if part.get_gid() == "unknown"]
    turn = np.radians(view.sky.azimuth_deg)
    places = 1.03 * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    inside = np.any([rim.contains_points(places) for rim in rims], axis=0)
    assert (inside == unknown).mean() > 0.98


def test_nothing_hatched_where_all_is_known(world: World) -> None:
    figure = skyline_figure(world.dem, world.spot, known_m=10.0)
    assert "unknown" not in {part.get_gid() for part in figure.findobj()}


def test_what_lies_between_the_known_ground_and_the_sea_is_hatched(world: World) -> None:
    for sea_m, shown in ((0.0, True), (-1e7, False)):
        dem = replace(world.dem, sea_m=sea_m)
        sky = skyline(dem, world.spot)
        figure = skyline_figure(dem, world.spot, known_m=10.0)
        assert bool(np.any(sky.distance_m > sky.known_to_m)) == shown
        assert ("hidden" in {part.get_gid() for part in figure.findobj()}) == shown
        assert ("sea's horizon" in said(figure)) == shown


def test_mist_is_a_surface_of_its_own(world: World, view: AllRound) -> None:
    sky = skyline(world.mist.surface(world.dem), world.spot)
    over = AllRound(dem=world.dem, mist=world.mist, sky=sky, known_m=10.0)
    mist = np.mean([to_rgb(palette.MIST), to_rgb(palette.MIST_DEEP)], axis=0)
    misty, dry = (
        float((np.abs(each.colours[..., :3] - mist).max(axis=2) < 0.09).mean())
        for each in (over, view)
    )
    assert misty > 0.02
    assert dry < 0.1 * misty


def test_near_ground_that_walls_in_is_cut_off_and_said(make_dem: Callable[..., Dem]) -> None:
    rows, cols = np.mgrid[:161, :161]
    hill = 400.0 * np.exp(-((rows - 80.0) ** 2 + (cols - 80.0) ** 2) / 60.0)
    dem = make_dem(hill + 60.0 * (rows < 20), cell_m=50.0)
    lon, lat = dem.grid.lonlat(80, 87)
    figure = skyline_figure(dem, Spot(lon_deg=float(lon), lat_deg=float(lat)), known_m=10.0)
    assert "Near ground rises to" in said(figure)


def test_numbers_are_those_of_the_key(page: Figure) -> None:
    ring, key = (
        {str(line.get_gid()) for line in ax.lines if str(line.get_gid()).startswith("mark-")}
        for ax in page.axes[:2]
    )
    assert ring
    assert ring == key


def test_no_text_is_too_small(page: Figure) -> None:
    texts = [text for text in page.findobj(Text) if isinstance(text, Text)]
    assert min(float(t.get_fontsize()) for t in texts if t.get_text().strip()) >= 7.5


def test_numbers_do_not_pile_up_where_many_tops_stand(make_dem: Callable[..., Dem]) -> None:
    """Of a crowd of tops in one direction as many are numbered as have room by their places."""
    rows, cols = np.mgrid[:200, :200]
    away = 70.0 + 30.0 * np.sin(np.arange(24.0))
    aside = np.radians(np.linspace(-25.0, 25.0, 24))
    tops = zip(190.0 - away * np.cos(aside), 100.0 + away * np.sin(aside), 3.0 * away, strict=True)
    peaks = [
        np.round(high + 60.0 - 25.0 * np.hypot(rows - row, cols - col)) for row, col, high in tops
    ]
    own = 300.0 - 30.0 * np.hypot(rows - 190, cols - 100)
    dem = make_dem(np.maximum.reduce([*peaks, own, np.zeros(own.shape)]), cell_m=100.0)
    lon, lat = dem.grid.lonlat(190, 100)
    spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
    page = skyline_figure(dem, spot, summits=find_summits(dem))
    marks = [line for line in page.axes[0].lines if str(line.get_gid()).startswith("mark-")]
    assert len(marks) > 3
    leaders = [
        line
        for line in page.axes[0].lines
        if line.get_marker() == "o" and len(line.get_xdata()) == 2
    ]
    long_pt = [
        np.hypot(*np.diff(in_points(page.axes[0], line.get_xydata()), axis=0)[0])
        for line in leaders
    ]
    assert max(long_pt) < 18.0


def test_a_long_key_and_what_is_noted_do_not_meet(world: World, page: Figure) -> None:
    """The page grows with them, and the ring stays where it is from the top of the page."""
    row = world.summits.iloc[[0]]
    many = gpd.GeoDataFrame(pd.concat([row] * 18, ignore_index=True), crs=row.crs)
    high = skyline_figure(world.dem, world.spot, summits=many, mist=world.mist, known_m=3500.0)
    side = high.axes[1]
    high.draw_without_rendering()
    written = [text for text in side.texts if text.get_text().strip()]
    boxes = [text.get_window_extent() for text in written]
    assert "Where the rim is hatched" in said(high)
    assert not any(one.overlaps(two) for one, two in combinations(boxes, 2))
    tops = [(1.0 - each.axes[0].get_position().y1) * each.bbox.height for each in (high, page)]
    assert tops[0] == pytest.approx(tops[1])


def test_tops_without_names_are_told_apart(world: World) -> None:
    page = skyline_figure(world.dem, world.spot, summits=world.summits.assign(name=""))
    height_m = float(world.summits["height_m"].iloc[0])
    assert f"top {height_m:.0f}" in said(page)


def test_no_ground_around(make_dem: Callable[..., Dem]) -> None:
    heights = np.full((21, 21), np.nan)
    heights[10, 10] = 5.0
    dem = make_dem(heights)
    lon, lat = dem.grid.lonlat(10, 10)
    with pytest.raises(NoGround, match="no ground is known round"):
        skyline_figure(dem, Spot(lon_deg=float(lon), lat_deg=float(lat)))


def test_long_names_stay_on_the_page(world: World) -> None:
    long = world.summits.assign(name="Upper Something of the Long Ridge [Second Top of the Three]")
    page = skyline_figure(world.dem, world.spot, summits=long)
    page.draw_without_rendering()
    ends = [text.get_window_extent().x1 for text in page.findobj(Text) if text.get_text().strip()]
    assert max(ends) <= page.bbox.width
