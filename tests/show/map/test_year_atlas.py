"""The picture of a year atlas: colours that keep their order, and the ring that is their key."""

from __future__ import annotations

import datetime as dt
import math
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import rasterio
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.path import Path as MplPath

from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.show.files.export import save_picture
from terrain.show.files.raster import save_raster
from terrain.show.map.extent import Extent, cell_places, map_cells
from terrain.show.map.year_atlas import _day_of_blocks, _extent, atlas_figure
from terrain.show.map.year_ring import YEAR_RING, draw_ring, ring_place
from terrain.show.paper.marks import in_points
from terrain.show.paper.page import points_axes
from terrain.year.atlas import Atlas, backlight_atlas
from tests.authorities.colour_vision import DEUTERANOPIA, PROTANOPIA, lightness
from tests.conftest import MakeDem

TITLE = "Peak before the rising sun"


@pytest.fixture(scope="module")
def cone(make_dem: MakeDem) -> Dem:
    rows, cols = np.mgrid[:61, :61] - 30
    return make_dem(np.maximum(600.0 - 45.0 * np.hypot(rows, cols), 0.0), 150.0)


@pytest.fixture(scope="module")
def atlas(cone: Dem) -> Atlas:
    lon, lat = (float(part) for part in cone.grid.lonlat(30, 30))
    return backlight_atlas(cone, Hill(lon_deg=lon, lat_deg=lat, height_m=600.0, name="Peak"), 2026)


def linear(places: np.ndarray) -> np.ndarray:
    channel = YEAR_RING(places)[:, :3]
    return np.where(channel <= 0.04045, channel / 12.92, ((channel + 0.055) / 1.055) ** 2.4)


def test_the_ring_closes_and_each_half_only_gets_lighter() -> None:
    assert to_hex(YEAR_RING(0.0)) == to_hex(YEAR_RING(1.0))
    for way in (np.linspace(0.0, 0.5, 40), np.linspace(1.0, 0.5, 40)):
        light = [lightness(to_hex(YEAR_RING(place))) for place in way]
        assert (np.diff(light) > 0.3).all()
        assert light[-1] - light[0] > 60.0


@pytest.mark.parametrize("vision", [np.eye(3), DEUTERANOPIA, PROTANOPIA])
def test_the_two_ways_of_the_sun_differ_to_anyone(vision: np.ndarray) -> None:
    """The red and the blue of a date and of its mirror date, as seen, part company."""
    north = np.linspace(0.08, 0.38, 20)
    seen = [np.clip(linear(places) @ np.array(vision).T, 0.0, 1.0) for places in (north, 1 - north)]
    warm = [np.sqrt(colour[:, 0]) - np.sqrt(colour[:, 2]) for colour in seen]
    assert (warm[1] - warm[0] > 0.2).all()


def test_days_lie_on_the_ring_in_the_order_of_the_year() -> None:
    places = ring_place(np.arange(1, 366))
    from_december = np.concatenate([places[354:], places[:354]])
    assert (np.diff(from_december) > 0.0).all()
    assert from_december[0] == 0.0
    assert np.isnan(ring_place(np.nan))


def test_days_of_december_and_january_do_not_average_to_july(make_dem: MakeDem) -> None:
    dem = make_dem(np.zeros((8, 3000)), 10.0)
    day = np.full(dem.shape, np.nan, dtype=np.float32)
    day[2:, 0::2], day[2:, 1::2] = 346.0, 364.0
    left, top = dem.transform.c, dem.transform.f
    part = map_cells(dem, Extent(left, left + 30_000.0, top - 80.0, top))
    assert part.step == 2
    place, share = _day_of_blocks(part, day)
    assert share[0, 5] == 0.0
    assert share[2, 5] == 1.0
    assert min(place[2, 5], 1.0 - place[2, 5]) < 0.01


def test_the_ring_names_every_month_and_the_year(atlas: Atlas) -> None:
    side = points_axes(Figure(), 0.0, 0.0, 2.0, 4.0)
    draw_ring(side, (70.0, 70.0), year=atlas.year, event=atlas.event)
    words = {text.get_text(): text.get_position() for text in side.texts}
    assert {"Jan", "Feb", "Sep", "2026", "sunrise"} <= set(words)
    assert words["Mar"][0] < 50.0 < 90.0 < words["Sep"][0]  # going north is the left half
    assert words["Jun"][1] < 50.0 < 90.0 < words["Dec"][1]  # downwards is positive


def test_the_page_shows_both_ways_with_their_days(cone: Dem, atlas: Atlas) -> None:
    page = atlas_figure(cone, atlas, title=TITLE, subtitle="each place", notes=["a note"])
    heads = [ax.get_title(loc="left") for ax in page.axes]
    assert any("goes north" in head for head in heads)
    assert any("goes south" in head for head in heads)
    north, south = (
        np.asarray(image.get_array(), dtype=float)
        for ax in page.axes
        for image in ax.images
        if image.get_gid() == "days"
    )
    assert north.shape == south.shape
    north_is_blue = (north[..., 2] - north[..., 0] > 0.15).sum()
    south_is_warm = (south[..., 0] - south[..., 2] > 0.15).sum()
    assert north_is_blue > 100
    assert south_is_warm > 100
    assert (south[..., 2] - south[..., 0] > 0.15).sum() < 0.2 * north_is_blue
    words = " ".join(text.get_text() for ax in page.axes for text in ax.texts)
    assert "a note" in words
    assert "Peak, 600 m" in words


@pytest.mark.parametrize("within_m", [(0.0, math.inf), (2500.0, 3000.0)])
def test_every_line_of_a_month_has_its_date_and_no_two_meet(
    cone: Dem, atlas: Atlas, within_m: tuple[float, float]
) -> None:
    """Short lines too; each date lies by the line of the first day of its month."""
    page = atlas_figure(cone, atlas, title=TITLE, within_m=within_m)
    renderer = page.canvas.get_renderer()  # type: ignore[attr-defined]
    for ax, day in zip(page.axes[:2], (atlas.north_day, atlas.south_day), strict=True):
        (lines,) = (part for part in ax.collections if part.get_gid() == "months")
        dates = [text for text in ax.texts if text.get_gid() == "date"]
        drawn = sum(_longest_pt(ax, path) > 6.0 for path in lines.get_paths())
        assert drawn >= 3
        assert len({text.get_text() for text in dates}) >= drawn
        boxes = [text.get_window_extent(renderer) for text in dates]
        assert not any(one.overlaps(two) for one, two in combinations(boxes, 2))
        for text in dates:
            first = dt.datetime.strptime(f"{text.get_text()} {atlas.year}", "%d %b %Y")
            near = _day_at(cone, day, text.get_position(), 3)
            assert near.min() - 3 < first.timetuple().tm_yday < near.max() + 3


def _longest_pt(ax: Axes, path: MplPath) -> float:
    parts = [in_points(ax, np.asarray(part)) for part in path.to_polygons(closed_only=False)]
    return max((np.hypot(*np.diff(part, axis=0).T).sum() for part in parts), default=0.0)


def _day_at(dem: Dem, day: np.ndarray, place: tuple[float, float], about: int) -> np.ndarray:
    """The days of the cells about a place of the map that have one."""
    turn = dem.transform
    col, row = int((place[0] - turn.c) / turn.a), int((place[1] - turn.f) / turn.e)
    rows, cols = (slice(max(at - about, 0), at + about + 1) for at in (row, col))
    cells = day[rows, cols]
    return cells[np.isfinite(cells)]


def test_nothing_on_the_page_runs_over_its_edge_nor_into_the_notes(cone: Dem, atlas: Atlas) -> None:
    """Of a map that is low, under a key that is high, too."""
    note = "ground that is known for so many kilometres in so many of all the cells; " * 6
    page = atlas_figure(cone, atlas, title=TITLE, notes=[note, note], within_m=(800.0, 15_000.0))
    renderer = page.canvas.get_renderer()  # type: ignore[attr-defined]
    edge = page.bbox
    for ax in page.axes:
        for text in ax.texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= edge.x0
            assert box.x1 <= edge.x1
            assert box.y0 >= edge.y0
        written = [text for text in ax.texts if text.get_text().strip()]
        boxes = [text.get_window_extent(renderer).padded(-1.0) for text in written]
        assert not any(one.overlaps(two) for one, two in combinations(boxes, 2))


def test_a_year_without_a_day_still_makes_a_page(make_dem: MakeDem, tmp_path: Path) -> None:
    ground = np.zeros((11, 81))
    ground[5, 0] = 300.0
    dem = make_dem(ground, 100.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(5, 0))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=300.0)
    lonely = backlight_atlas(dem, hill, 2026, tolerance_deg=0.2)
    save_picture(atlas_figure(dem, lonely, title=TITLE, reach_m=300.0), tmp_path / "none.svg")
    assert (tmp_path / "none.svg").stat().st_size > 1000


def test_the_bands_come_back_from_a_file(cone: Dem, atlas: Atlas, tmp_path: Path) -> None:
    save_raster(atlas.bands(), atlas.grid, tmp_path / "atlas.tif")
    with rasterio.open(tmp_path / "atlas.tif") as file:
        assert file.descriptions == tuple(atlas.bands())
        back = file.read(3)
    np.testing.assert_array_equal(back, atlas.north_day)


def test_a_hill_seen_from_afar_alone_is_shown_with_its_ground(atlas: Atlas, cone: Dem) -> None:
    """Half of the dated ground at least is on the map, however near the reach."""
    west, east, south, north = _extent(cone, atlas, 300.0)
    rows, cols = np.nonzero(atlas.has_days)
    easting, northing = cell_places(cone.grid, rows, cols).T
    shown = (easting > west) & (easting < east) & (northing > south) & (northing < north)
    assert shown.mean() >= 0.5


@pytest.mark.parametrize("shape", [(81, 31), (31, 81)])
def test_a_map_is_as_tall_or_as_wide_as_its_ground(
    make_dem: MakeDem, shape: tuple[int, int]
) -> None:
    rows, cols = np.indices(shape)
    top = shape[0] // 2, shape[1] // 2
    away = np.hypot(rows - top[0], cols - top[1])
    dem = make_dem(np.maximum(600.0 - 45.0 * away, 0.0), 150.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(*top))
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=600.0)
    west, east, south, north = _extent(dem, backlight_atlas(dem, hill, 2026), 20_000.0)
    assert (east - west > north - south) == (shape[1] > shape[0])
