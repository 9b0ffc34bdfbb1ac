"""The map: what it frames, where its marks and its mist lie, its north, its scale, its files."""

from __future__ import annotations

import datetime as dt
import math
import warnings
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.contour import ContourSet
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.text import Text
from shapely import LineString

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.mist import Mist
from terrain.show.files.export import save_picture
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import (
    Extent,
    extent_about,
    extent_round,
    map_cells,
    map_places,
    whole_extent,
)
from terrain.show.map.keys import island_key, summit_key, vantage_key
from terrain.show.map.map import draw_map, map_figure
from terrain.show.map.relief import relief
from terrain.show.map.surround import draw_scale_and_north
from terrain.show.paper.key import Key, draw_key
from terrain.show.paper.marks import in_points
from terrain.show.paper.page import points_axes
from tests.show.conftest import TOP_M, World


def bare_axes(width_in: float = 6.0, height_in: float = 5.0) -> Axes:
    return Figure(figsize=(width_in, height_in), dpi=100).add_axes((0, 0, 1, 1))


def pixels(figure: Figure) -> np.ndarray:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3].astype(int)


@pytest.mark.parametrize(
    ("crs", "lon", "lat"),
    [("EPSG:27700", -6.2, 57.3), ("EPSG:2154", 7.1, 44.2), ("EPSG:32719", -70.4, -22.3)],
)
def test_arrow_leans_by_the_convergence(
    make_dem: Callable[..., Dem], crs: str, lon: float, lat: float
) -> None:
    dem = make_dem(np.zeros((100, 120)), crs=crs, lon=lon, lat=lat)
    ax = bare_axes(6.0, 5.0)
    west, east, south, north = whole_extent(dem.grid)
    ax.set(xlim=(west, east), ylim=(south, north))
    draw_scale_and_north(ax, dem.grid, np.empty((0, 2)))
    (needle,) = [patch for patch in ax.patches if patch.get_gid() == "north"]
    assert isinstance(needle, Polygon)
    corners = in_points(ax, np.array(needle.get_xy()))
    tip, left, notch, right = corners[:4]
    assert np.hypot(*(left - notch)) == pytest.approx(np.hypot(*(right - notch)), rel=1e-6)
    across, up = tip - notch
    lean_deg = math.degrees(math.atan2(across, up))
    # true north, by the geodesic from the middle of the map to a place due north of it
    mid_lon, mid_lat = dem.grid.centre_lonlat
    here, there = map_places(dem.grid, [mid_lon, mid_lon], [mid_lat, mid_lat + 0.01])
    toward_deg = math.degrees(math.atan2(*(there - here)))
    assert abs(toward_deg) > 0.5
    assert lean_deg == pytest.approx(toward_deg, abs=0.02)
    assert lean_deg == pytest.approx(-float(dem.grid.convergence_deg(mid_lon, mid_lat)), abs=1e-3)


def test_bar_is_as_long_as_it_says(world: World) -> None:
    ax = bare_axes()
    draw_map(ax, world.dem, MapContents())
    bar = [p.get_bbox() for p in ax.patches if isinstance(p, Rectangle) and p.get_gid() == "bar"]
    assert len(bar) == 2
    corners = np.concatenate([block.get_points() for block in bar])
    words = [t.get_text() for t in ax.texts]
    said_m = 1000.0 * max(float(w) for w in words if w.replace(".", "").isdigit())
    assert np.ptp(corners[:, 0]) == pytest.approx(said_m)
    assert "km" in words


@pytest.fixture(scope="module")
def plain(make_dem: Callable[..., Dem]) -> Dem:
    """20 km by 10 km of level ground."""
    return make_dem(np.zeros((100, 200)), cell_m=100.0)


@pytest.mark.parametrize(
    ("apart_m", "aspect", "half_m"),
    [
        # a margin of 0.13 of the longer side: 2000 + 520 either way
        ((4000.0, 0.0), 1.0, (2520.0, 2520.0)),
        # at least a quarter of the longer side across it
        ((4000.0, 0.0), 2.52, (2520.0, 1000.0)),
        # one place: no side counts for less than 3 km
        ((0.0, 0.0), 1.0, (750.0, 750.0)),
        ((2000.0, 2000.0), 1.5, (2085.0, 1390.0)),
    ],
)
def test_an_extent_keeps_its_margins_and_its_shape(
    plain: Dem, apart_m: tuple[float, float], aspect: float, half_m: tuple[float, float]
) -> None:
    whole = whole_extent(plain.grid)
    middle = np.array([whole.west + whole.east, whole.south + whole.north]) / 2.0
    places = middle + np.array([[-0.5, -0.5], [0.5, 0.5]]) * apart_m
    found = extent_about(plain.grid, places, aspect=aspect)
    low, high = middle - half_m, middle + half_m
    assert found == pytest.approx((low[0], high[0], low[1], high[1]))


def test_an_extent_is_moved_within_the_raster_not_cut(plain: Dem) -> None:
    whole = whole_extent(plain.grid)
    corner = np.array([[whole.west + 200.0, whole.north - 300.0]])
    found = extent_about(plain.grid, corner, aspect=1.0)
    expected = whole.west, whole.west + 1500.0, whole.north - 1500.0, whole.north
    assert found == pytest.approx(expected)
    assert extent_about(plain.grid, np.empty((0, 2)), aspect=2.0) == pytest.approx(whole)
    lon, lat = map(float, plain.grid.lonlat(0, 0))
    corner_spot = Spot(lon_deg=lon, lat_deg=lat)
    round_it = extent_round(plain.grid, corner_spot, 1000.0)
    expected = whole.west, whole.west + 1050.0, whole.north - 1050.0, whole.north
    assert round_it == pytest.approx(expected, abs=0.01)
    with pytest.raises(TerrainError, match="a map that reaches 0 km is none"):
        extent_round(plain.grid, corner_spot, 0.0)


def test_map_shows_the_hill_and_the_vantages(world: World) -> None:
    ax = bare_axes()
    draw_map(ax, world.dem, MapContents(hill=world.hill, vantages=world.vantages))
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    for lon, lat in [*zip(world.vantages.geometry.x, world.vantages.geometry.y, strict=True)]:
        ((easting, northing),) = map_places(world.dem.grid, lon, lat)
        assert west < easting < east
        assert south < northing < north


def test_marks_stand_at_their_places(world: World) -> None:
    ax = bare_axes()
    draw_map(ax, world.dem, MapContents(hill=world.hill, vantages=world.vantages))
    marks = {a.get_gid(): np.array(a.get_xydata())[0] for a in ax.lines if isinstance(a, Line2D)}
    true = map_places(world.dem.grid, world.vantages.geometry.x, world.vantages.geometry.y)
    assert marks["mark-▲"] == pytest.approx(
        map_places(world.dem.grid, world.hill.lon_deg, world.hill.lat_deg)[0]
    )
    assert marks["mark-1"] == pytest.approx(true[0], abs=5.0)  # alone: where it is
    drawn = in_points(ax, np.array([marks[f"mark-{n}"] for n in range(1, 6)]))
    apart = np.hypot(*(drawn[:, np.newaxis] - drawn[np.newaxis]).T)[np.triu_indices(5, 1)]
    assert apart.min() >= 14.0


def test_mist_only_where_it_lies(world: World) -> None:
    shots = []
    for mist in (None, world.mist):
        ax = bare_axes(6.0, 4.8)
        draw_map(ax, world.dem, MapContents(mist=mist), extent=whole_extent(world.dem.grid))
        shots.append((ax, pixels(ax.figure)))
    changed = np.abs(shots[1][1] - shots[0][1]).max(axis=2) > 4
    rows, cols = np.mgrid[4:156:3, 4:196:3].reshape(2, -1)
    ax = shots[1][0]
    turn = world.dem.transform
    places = np.stack([turn.c + turn.a * (cols + 0.5), turn.f + turn.e * (rows + 0.5)], axis=1)
    at = ax.transData.transform(places)
    col_px, row_px = at[:, 0].astype(int), changed.shape[0] - 1 - at[:, 1].astype(int)
    deep = world.dem.heights_m[rows, cols] - TOP_M
    off_shore = np.abs(world.mist.height_over(world.dem)[rows, cols]) > 25.0
    covered = world.mist.covers[rows, cols]
    # the corner with the scale has no ground to see
    clear = ~((cols < 60) & (rows > 130))
    assert np.all(changed[row_px, col_px][off_shore & covered & clear])
    assert not changed[row_px, col_px][off_shore & ~covered & clear].any()
    assert (off_shore & ~covered & (deep < -25.0)).any()  # the dry hollow was among them


def test_shore_is_between_mist_and_dry_ground_and_nowhere_else(world: World) -> None:
    over = world.mist.height_over(world.dem)
    assert np.array_equal(over < 0.0, world.mist.covers)
    lid = world.mist.lid_m
    assert np.all(np.isfinite(lid[world.mist.covers]))
    hollow = (world.dem.heights_m < TOP_M) & ~world.mist.covers
    assert hollow.any()
    assert np.all(over[hollow] > 0.0)


def test_mist_of_uneven_top(world: World) -> None:
    top = np.where(world.mist.covers, TOP_M, np.nan).astype(np.float32)
    top[:, 100:] += 5.0
    over = Mist(top, world.dem.grid).height_over(world.dem)
    assert np.array_equal(over < 0.0, ~np.isnan(top))


def test_part_covers_the_frame_at_the_raster_s_cells(world: World) -> None:
    west, east, south, north = whole_extent(world.dem.grid)
    asked = Extent(west + 1010.0, east - 990.0, south + 60.0, north - 40.0)
    part = map_cells(world.dem, asked)
    assert part.step == 1
    # whole cells of 50 m, no more of them than it takes
    assert part.extent == pytest.approx((west + 1000.0, east - 950.0, south + 50.0, north))
    easting, northing = part.centres()
    heights = part.thinned(world.dem.heights_m)
    assert heights.shape == (northing.size, easting.size)
    row, col = 33, 71
    lon, lat = world.dem.grid.lonlat(part.rows.start + row, part.cols.start + col)
    assert map_places(world.dem.grid, lon, lat)[0] == pytest.approx([easting[col], northing[row]])
    assert heights[row, col] == world.dem.heights_m[part.rows.start + row, part.cols.start + col]


def test_large_rasters_are_thinned_in_place(make_dem: Callable[..., Dem]) -> None:
    _, cols = np.mgrid[:40, :3200]
    dem = make_dem(cols.astype(float), cell_m=10.0)
    part = map_cells(dem, whole_extent(dem.grid))
    easting, _ = part.centres()
    expected = (easting - dem.transform.c) / 10.0 - 0.5
    assert part.step == 3
    assert np.allclose(part.thinned(dem.heights_m)[0], expected, atol=0.01)


def test_contours_at_every_whole_step_between_the_lowest_and_the_highest(world: World) -> None:
    ax = bare_axes()
    draw_map(ax, world.dem, MapContents(contour_m=100.0), extent=whole_extent(world.dem.grid))
    (drawn,) = [part for part in ax.collections if part.get_gid() == "contours"]
    assert isinstance(drawn, ContourSet)
    # the ground is from 20 to 520 m
    assert list(drawn.levels) == [100.0, 200.0, 300.0, 400.0, 500.0]
    assert all(len(path.vertices) for path in drawn.get_paths())


def test_light_comes_from_the_top_left() -> None:
    rows, cols = np.mgrid[:80, :80]
    hill = 300.0 * np.exp(-((rows - 40.0) ** 2 + (cols - 40.0) ** 2) / 300.0)
    light = relief(hill, 25.0)[..., :3].sum(axis=2)
    assert light[32, 32] > light[48, 48] + 0.2
    assert relief(np.full((5, 5), np.nan), 25.0)[..., 3].max() == 0.0


def test_unknown_ground_is_clear_and_hatched(make_dem: Callable[..., Dem]) -> None:
    heights = np.random.default_rng(0).uniform(0, 50, (60, 60))
    heights[:, :20] = np.nan
    colours = relief(heights, 50.0)
    assert np.array_equal(colours[..., 3] == 0.0, np.isnan(heights))


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_files_are_whole(world: World, tmp_path: Path, ending: str) -> None:
    lon, lat = world.dem.grid.lonlat([70, 120], [45, 150])
    path = LineString(zip(lon, lat, strict=True))
    start = Spot(lon_deg=float(lon[1]), lat_deg=float(lat[1]), name="a car park")
    shown = MapContents(
        mist=world.mist,
        hill=world.hill,
        vantages=world.vantages,
        starts=[start],
        paths=gpd.GeoDataFrame(geometry=[path], crs="EPSG:4326"),
        hidden=world.dem.heights_m < 100.0,
    )
    figure = map_figure(
        world.dem,
        shown,
        title="the Cone at sunrise",
        subtitle="a world of its own",
        notes=["computed, not surveyed"],
    )
    file = tmp_path / f"map.{ending}"
    with mpl.rc_context({"svg.fonttype": "none"}), warnings.catch_warnings():
        warnings.simplefilter("error")
        save_picture(figure, file)
    assert [p.name for p in tmp_path.iterdir()] == [file.name]
    if ending == "png":
        assert file.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
        assert file.read_bytes()[-8:-4] == b"IEND"
        assert mpl.image.imread(file).shape[:2] == (1200, 1650)
    else:
        words = {e.text for e in ElementTree.parse(file).iter() if e.tag.endswith("text")}
        assert {"The Cone at sunrise", "a car park", "computed, not surveyed"} <= words


def test_no_picture_of_another_kind(world: World, tmp_path: Path) -> None:
    figure = map_figure(world.dem, MapContents(), title="x")
    with pytest.raises(TerrainError, match="must end in"):
        save_picture(figure, tmp_path / "map.gif")
    assert not list(tmp_path.iterdir())


def test_no_text_is_too_small(world: World) -> None:
    shown = MapContents(summits=world.summits, mist=world.mist, hill=world.hill)
    figure = map_figure(world.dem, shown, title="x")
    sizes = [t.get_fontsize() for t in figure.findobj(mpl.text.Text) if t.get_text().strip()]
    assert min(sizes) >= 7.5


def test_degrees_are_where_they_say(world: World) -> None:
    ax = bare_axes(9.0, 7.2)
    draw_map(ax, world.dem, MapContents())
    turn, corner = world.dem.transform, (ax.get_xlim()[0], ax.get_ylim()[0])
    for axis, letter in ((ax.xaxis, "W"), (ax.yaxis, "N")):
        ticks, labels = axis.get_majorticklocs(), [t.get_text() for t in axis.get_ticklabels()]
        along = np.array([corner] * len(ticks))
        along[:, 0 if letter == "W" else 1] = ticks
        col, row = (along[:, 0] - turn.c) / turn.a - 0.5, (along[:, 1] - turn.f) / turn.e - 0.5
        lon, lat = world.dem.grid.lonlat(row, col)
        said = [float(label.removesuffix(f"° {letter}")) for label in labels]
        assert said == pytest.approx(-lon if letter == "W" else lat, abs=1e-5)
        # every whole step, from one edge to the other
        assert len(said) > 1
        assert np.ptp(np.diff(said)) == pytest.approx(0.0, abs=1e-9)
        span = abs(ticks[1] - ticks[0])
        low, high = ax.get_xlim() if letter == "W" else ax.get_ylim()
        assert ticks[0] - low < 1.6 * span
        assert high - ticks[-1] < 1.6 * span


def test_key_of_vantages(world: World) -> None:
    table = world.vantages.assign(start="a car park", start_m=1234.0)
    key = vantage_key(table, letters={"a car park": "B"})
    assert key.marks == ["1", "2", "3", "4", "5"]
    cells = {heading: column[1] for heading, column in key.columns.items()}
    assert cells["hill\nkm"] == "5.0"
    assert cells["start\nkm"] == "B 1.2"


def test_key_leaves_out_columns_that_say_nothing(world: World) -> None:
    dry = world.vantages.assign(freeboard_m=np.nan)
    assert "above\nmist m" not in vantage_key(dry).columns
    assert "summit" not in summit_key(world.summits).columns


def test_key_marks_lower_bounds(world: World) -> None:
    key = summit_key(world.summits)
    bounded = world.summits["bounded"].to_numpy()
    assert [cell.startswith("≥") for cell in key.columns["prominence\nm"]] == list(bounded)
    assert bounded.any()


def test_key_of_islands(world: World) -> None:
    from terrain.mist.islands import islands

    key = island_key(islands(world.dem, world.mist, world.summits))
    heights = [float(cell) for cell in key.columns["height\nm"]]
    above = [float(cell) for cell in key.columns["above\nmist m"]]
    assert np.allclose(np.array(heights) - above, TOP_M, atol=1.0)


def test_long_keys_say_what_they_leave_out() -> None:
    sheet = points_axes(Figure(figsize=(4, 2)), 0, 0, 4, 2)
    key = Key(marks=["1"] * 30, columns={"a": ["text"] * 30})
    foot = draw_key(sheet, key)
    words = [t.get_text() for t in sheet.texts]
    assert foot <= sheet.get_ylim()[0]
    assert f"and {30 - words.count('text')} more" in words
    assert words.count("text") > 3


def test_a_key_lies_between_its_top_and_its_foot() -> None:
    sheet = points_axes(Figure(figsize=(4, 4)), 0, 0, 4, 4)
    foot = draw_key(sheet, Key(marks=["1"] * 3, columns={"two\nlines": ["x"] * 3}), top_pt=50.0)
    heights = [text.get_position()[1] for text in sheet.texts]
    assert len(heights) >= 5
    assert 50.0 <= min(heights) < max(heights) <= foot
    heading = [text.get_position()[1] for text in sheet.texts if text.get_text() != "x"]
    cells = [text.get_position()[1] for text in sheet.texts if text.get_text() == "x"]
    assert max(heading[:2]) < min(cells)


def test_key_checks_its_rows() -> None:
    with pytest.raises(ValueError, match="2 marks"):
        Key(marks=["1", "2"], columns={"a": ["x"]})
    with pytest.raises(ValueError, match="2 cells of 'b'"):
        Key(marks=["1"], columns={"a": ["x"], "b": ["x", "y"]})


def test_map_of_real_ground_anywhere(jacksboro: Dem) -> None:
    figure = map_figure(jacksboro, MapContents(), title="x")
    ax = figure.axes[0]
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    box = ax.get_window_extent()
    assert (east - west) / box.width == pytest.approx((north - south) / box.height, rel=1e-6)


def test_key_of_a_year_has_the_dates(world: World) -> None:
    zone = dt.timezone(dt.timedelta(hours=-2))
    hour = dt.datetime(2026, 3, 5, 7, 12, 5, tzinfo=zone)
    one_day = world.vantages.assign(appears=[hour] * len(world.vantages))
    heading = "sun\nappears"
    assert set(vantage_key(one_day).columns[heading]) == {"07:12:05"}
    days = [hour + dt.timedelta(days=30 * number) for number in range(len(world.vantages))]
    key = vantage_key(world.vantages.assign(appears=days))
    assert key.columns[heading][:2] == ["5 Mar 07:12:05", "4 Apr 07:12:05"]
    key = vantage_key(one_day.assign(uncertainty_s=40.0))
    assert set(key.columns[heading]) == {"07:12"}


def test_the_legend_tells_of_unknown_ground_and_of_the_strokes(
    world: World, make_dem: Callable[..., Dem]
) -> None:
    shown = MapContents(hill=world.hill, vantages=world.vantages)
    said = words_of(map_figure(world.dem, shown, title="a map"))
    assert "from a place toward the hill" in said
    assert "no heights in the raster" not in said
    heights = np.full((40, 40), 100.0)
    heights[10:20, 10:20] = np.nan
    said = words_of(map_figure(make_dem(heights), MapContents(), title="a map"))
    assert "no heights in the raster" in said
    assert "from a place toward the hill" not in said
    assert "A map" in said


@pytest.mark.parametrize("nearest_pt", [122.0, 128.0])
def test_the_scale_hides_no_mark_where_a_corner_has_none(
    make_dem: Callable[..., Dem], nearest_pt: float
) -> None:
    """A corner with several marks near it is better than one whose only mark would be hidden."""
    ax = bare_axes(3.0, 3.0)
    grid = make_dem(np.zeros((100, 100)), cell_m=100.0).grid
    extent = whole_extent(grid)
    ax.set(xlim=extent[:2], ylim=extent[2:])
    # the box reaches from 7 to 118 points in the lower left, and to 41 up
    at_pt = np.array([[nearest_pt, 20.0], [129.0, 30.0], [180.0, 20.0], [105.0, 200.0]])
    places = np.array([extent.west, extent.south]) + at_pt / 216.0 * 10_000.0
    low, top = np.sort(draw_scale_and_north(ax, grid, places), axis=0)
    marks = in_points(ax, places)
    assert not ((marks > low) & (marks < top)).all(axis=1).any()


def test_names_stay_within_the_frame(world: World) -> None:
    """By any edge, the upper and the lower too."""
    ax = bare_axes()
    lon, lat = world.dem.grid.lonlat([1.0, 80.0, 158.5], [100.0, 100.0, 100.0])
    places = [
        Spot(lon_deg=float(east), lat_deg=float(north), name=f"Place {number}")
        for number, (east, north) in enumerate(zip(lon, lat, strict=True))
    ]
    draw_map(ax, world.dem, MapContents(named=places), extent=whole_extent(world.dem.grid))
    names = [text for text in ax.texts if text.get_gid() == "name"]
    assert [text.get_text() for text in names] == ["Place 1"]


def test_a_map_beside_a_broad_table_is_not_a_small_one(make_dem: Callable[..., Dem]) -> None:
    """The page grows instead, so that under the map of a square ground little is empty."""
    dem = make_dem(np.add.outer(np.arange(60.0), np.arange(60.0)))
    columns = {f"a long heading {number}": ["1000 m"] * 20 for number in range(4)}
    key = Key(marks=[str(number) for number in range(1, 21)], columns=columns)
    page = map_figure(dem, MapContents(), title="a map", key=key)
    box = page.axes[0].get_position()
    assert box.height * page.get_figheight() > 6.0
    assert page.get_figwidth() <= 13.0


def words_of(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(Text)]


def test_marks_of_a_map_of_tops_do_not_lie_on_higher_ones(world: World) -> None:
    from terrain.show.map.extent import shape_places
    from terrain.show.map.spread import spread_tops

    table = world.summits
    crowd = gpd.GeoDataFrame(
        {"name": [""] * 60, "height_m": np.linspace(900.0, 100.0, 60)},
        geometry=[table.geometry.iloc[0]] * 30
        + list(table.geometry)[:1] * 29
        + [table.geometry.iloc[-1]],
        crs=4326,
    )
    kept = spread_tops(world.dem, crowd)
    assert list(kept.index) == [0, 59]
    apart_m = np.hypot(*np.diff(shape_places(world.dem.grid, kept.geometry), axis=0)[0])
    assert apart_m > 0.03 * max(world.dem.shape) * world.dem.cell_m
