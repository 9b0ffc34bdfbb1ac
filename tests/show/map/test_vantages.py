"""The page of the vantages of a hill: its views, its names, its lines to the hill."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from terrain.ground.places import Spot
from terrain.show.map.extent import map_places
from terrain.show.map.vantages import vantages_map
from terrain.show.paper.marks import in_points
from terrain.show.paper.page import points_axes
from terrain.show.paper.vignette import Vignette, draw_vignettes
from terrain.words.vantages import worth_note
from tests.show.conftest import World


def views(count: int) -> list[Vignette]:
    pixels = np.zeros((40, 100, 3), dtype=np.uint8)
    return [Vignette(mark=str(n), words=f"view {n}", pixels=pixels) for n in range(1, count + 1)]


def page_of(world: World) -> Figure:
    first = world.vantages.geometry.iloc[0]
    lon, lat = (first.x + world.hill.lon_deg) / 2.0, (first.y + world.hill.lat_deg) / 2.0
    twice = [Spot(lon_deg=lon, lat_deg=lat, name=name) for name in ("Here", "There")]
    far = Spot(lon_deg=lon + 9.0, lat_deg=lat, name="Elsewhere")
    return vantages_map(
        world.dem,
        world.hill,
        world.vantages,
        when="on some day",
        mist=world.mist,
        named=[*twice, far],
        views=views(3),
    )


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    return page_of(world)


def test_names_do_not_lie_on_one_another_nor_off_the_map(page: Figure) -> None:
    names = [t.get_text() for t in page.findobj(Text) if t.get_gid() == "name"]
    assert names == ["Here"]


def test_lines_reach_the_mark_of_the_hill(page: Figure, world: World) -> None:
    ax = page.axes[0]
    lines = [line for line in ax.lines if line.get_gid() == "toward"]
    assert len(lines) == len(world.vantages)
    summit = map_places(world.dem.grid, world.hill.lon_deg, world.hill.lat_deg)
    for line in lines:
        end = in_points(ax, np.asarray(line.get_xydata())[-1:])
        assert np.hypot(*(end - in_points(ax, summit))[0]) == pytest.approx(9.0, abs=0.1)


def test_the_views_stand_beside_the_map_in_their_order(page: Figure) -> None:
    side = page.axes[1]
    shown = [image.get_extent() for image in side.images]
    assert len(shown) == 3
    tops = [extent[3] for extent in shown]
    assert tops == sorted(tops)
    assert max(extent[1] for extent in shown) <= side.get_xlim()[1]
    assert {image.get_gid() for image in side.images} == {"view-1", "view-2", "view-3"}


def test_views_become_smaller_where_there_is_less_room() -> None:
    side = points_axes(Figure(figsize=(5, 3)), 0, 0, 5, 3)
    draw_vignettes(side, views(3), (100.0, 10.0, 340.0, 180.0))
    extents = [image.get_extent() for image in side.images]
    assert max(extent[2] for extent in extents) <= 180.0
    left, right, foot, top = extents[0]
    assert (foot - top) / (right - left) == pytest.approx(0.4)


def test_the_map_says_what_each_place_lacks_and_then_its_score(world: World) -> None:
    poor = {"alignment": [0.9, 0.1, 0.9, 0.9, 0.9], "best_deg": [0.1, 0.9, 0.1, 0.1, 0.1]}
    found = world.vantages.assign(**poor, score=[0.91, 0.5, 0.4, 0.3, 0.2])
    page = vantages_map(world.dem, world.hill, found, when="on some day")
    said = {word for text in page.axes[1].texts for word in text.get_text().split()}
    (note,) = worth_note(found)
    assert ": 1: nothing (0.91); 2: sun 0.9° off (0.50); 3: nothing (0.40);" in note
    assert set(note.split()) <= said
    assert worth_note(world.vantages) == ()


def test_the_legend_says_how_far_the_contours_are_apart(page: Figure) -> None:
    said = [text.get_text() for text in page.findobj(Text)]
    assert any(words.startswith("height, a line every") for words in said)
