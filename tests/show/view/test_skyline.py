"""The skyline all round: layers in order, unknown ground hatched, marks in the right half."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.show.view.skyline import draw_skyline, skyline_figure
from terrain.sight.skyline import layers, skyline
from tests.show.conftest import World

EDGES_M = (1000.0, 3000.0, np.inf)


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    return skyline_figure(world.dem, world.spot, summits=world.summits, known_m=3500.0)


def test_two_halves_make_the_whole_turn(page: Figure) -> None:
    assert [ax.get_xlim() for ax in page.axes[:2]] == [(0.0, 180.0), (180.0, 360.0)]
    assert page.axes[0].get_ylim() == page.axes[1].get_ylim()


def test_steepness_is_as_stated(page: Figure) -> None:
    ax = page.axes[0]
    box = ax.get_window_extent()
    times = box.height / np.ptp(ax.get_ylim()) / (box.width / np.ptp(ax.get_xlim()))
    words = " ".join(t.get_text() for t in page.texts)
    assert times == pytest.approx(round(times), abs=0.01)
    assert ("to scale" if round(times) == 1 else f"{round(times)} times as steep") in words


def test_line_is_the_skyline(page: Figure, world: World) -> None:
    (line,) = [a for a in page.axes[0].lines if a.get_gid() == "skyline"]
    azimuth, altitude = line.get_data()
    assert np.allclose(altitude, skyline(world.dem, world.spot).at(azimuth), equal_nan=True)


def test_hatched_where_ground_is_known_less_far(world: World) -> None:
    sky = skyline(world.dem, world.spot, azimuths_deg=np.arange(0.0, 360.0, 1.0))
    bands = layers(world.dem, world.spot, edges_m=EDGES_M, azimuths_deg=sky.azimuth_deg)
    ax = Figure(figsize=(8, 3)).add_axes((0, 0, 1, 1))
    ax.set(xlim=(0, 360), ylim=(-10, 10))
    draw_skyline(ax, sky, bands, known_m=3500.0)
    (hatch,) = [a for a in ax.collections if a.get_gid() == "unknown"]
    unknown = sky.known_to_m < 3500.0
    assert 0.05 < unknown.mean() < 0.95
    paths = hatch.get_paths()  # type: ignore[attr-defined]
    above = np.stack([sky.azimuth_deg, np.full(360, 9.9)], axis=1)
    inside = np.any([p.contains_points(above) for p in paths], axis=0)
    edges = np.zeros(360, dtype=bool)
    edges[[0, -1]] = True
    edges[1:-1] = (unknown[1:-1] != unknown[:-2]) | (unknown[1:-1] != unknown[2:])
    assert np.array_equal(inside[~edges], unknown[~edges])


def test_nothing_hatched_where_all_is_known(world: World) -> None:
    figure = skyline_figure(world.dem, world.spot, known_m=10.0)
    gids = {a.get_gid() for a in figure.findobj()}
    assert "unknown" not in gids
    assert not any("Hatched: " in t.get_text() for t in figure.texts)


def test_what_lies_between_the_known_ground_and_the_sea_is_hatched(world: World) -> None:
    for sea_m, shown in ((0.0, True), (-1e7, False)):
        dem = replace(world.dem, sea_m=sea_m)
        sky = skyline(dem, world.spot)
        figure = skyline_figure(dem, world.spot, known_m=10.0)
        assert bool(np.any(sky.distance_m > sky.known_to_m)) == shown
        assert ("hidden" in {part.get_gid() for part in figure.findobj()}) == shown
        assert any("sea's horizon" in t.get_text() for t in figure.texts) == shown


def test_numbers_stand_in_their_half(page: Figure) -> None:
    marks = [
        (ax_number, line.get_gid())
        for ax_number, ax in enumerate(page.axes[:2])
        for line in ax.lines
        if str(line.get_gid()).startswith("mark-")
    ]
    assert (0, "mark-1") in marks
    assert len(marks) == len({gid for _, gid in marks})


def test_no_text_is_too_small(page: Figure) -> None:
    sizes = [t.get_fontsize() for t in page.findobj(mpl.text.Text) if t.get_text().strip()]
    assert min(sizes) >= 7.5


def test_no_ground_around(make_dem: Callable[..., Dem]) -> None:
    heights = np.full((21, 21), np.nan)
    heights[10, 10] = 5.0
    dem = make_dem(heights)
    lon, lat = dem.grid.lonlat(10, 10)
    with pytest.raises(NoGround, match="no ground is known round"):
        skyline_figure(dem, Spot(lon_deg=float(lon), lat_deg=float(lat)))
