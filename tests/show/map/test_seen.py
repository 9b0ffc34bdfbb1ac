"""The labels of a map in the pixels of its picture: in grey print, and to colour-blind readers."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.typing import NDArray

from terrain.ground.places import Spot
from terrain.show.map.contents import MapContents
from terrain.show.map.map import draw_map
from terrain.show.paper.marks import PASS, RADIUS_PT
from tests.authorities.colour_vision import (
    DEUTERANOPIA,
    MARK_CONTRAST,
    PROTANOPIA,
    TEXT_CONTRAST,
)
from tests.show.conftest import World

DPI = 200
GREY = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
READERS = [GREY, DEUTERANOPIA, PROTANOPIA]


@pytest.fixture(scope="module")
def page(world: World) -> Figure:
    """Numbers on mist and on ground, the hill, a start, two passes and a name."""
    page = Figure(figsize=(6.0, 4.8), dpi=DPI)
    ax = page.add_axes((0, 0, 1, 1))
    lon, lat = world.dem.grid.lonlat([100, 30, 130], [100, 60, 170])
    passes = gpd.GeoDataFrame(
        {
            "name": "",
            "to_lon_deg": lon[:2] + 0.001,
            "to_lat_deg": lat[:2],
            "mark": [PASS + "7", "b"],
        },
        geometry=gpd.points_from_xy(lon[:2], lat[:2]),
        crs="EPSG:4326",
    )
    start = Spot(lon_deg=float(lon[2]), lat_deg=float(lat[2]), name="the stile")
    contents = MapContents(
        mist=world.mist,
        hill=world.hill,
        vantages=world.vantages,
        passes=passes,
        starts=[start],
        named=[Spot(lon_deg=float(lon[1]), lat_deg=float(lat[2]), name="Fold")],
    )
    draw_map(ax, world.dem, contents)
    FigureCanvasAgg(page).draw()
    return page


def linear(page: Figure) -> NDArray[np.float64]:
    """The picture as (rows from below, columns, 3) of linear light, IEC 61966-2-1."""
    bytes_ = np.asarray(page.canvas.buffer_rgba())[::-1, :, :3] / 255.0  # type: ignore[attr-defined]
    return np.where(bytes_ <= 0.04045, bytes_ / 12.92, ((bytes_ + 0.055) / 1.055) ** 2.4)


def seen(light: NDArray[np.float64], reader: tuple[tuple[float, ...], ...]) -> NDArray[np.float64]:
    """How bright the pixels are to a reader, 0 to 1."""
    return np.clip(light @ np.array(reader).T, 0.0, 1.0) @ np.array([0.2126, 0.7152, 0.0722])


def ratio(bright: NDArray[np.float64], low: float = 2.0, high: float = 98.0) -> float:
    """Contrast of the darkest pixels with the brightest, but for a few of either."""
    dark, pale = np.percentile(bright, [low, high])
    return float((pale + 0.05) / (dark + 0.05))


def marks_of(page: Figure) -> dict[str, NDArray[np.float64]]:
    """Where the middle of each mark lies in the picture, pixels from below left."""
    ax = page.axes[0]
    return {
        str(line.get_gid()): ax.transData.transform(np.asarray(line.get_xydata()))[0]
        for line in ax.lines
        if str(line.get_gid()).startswith("mark-")
    }


def about(
    middle: NDArray[np.float64], within_pt: float, shape: tuple[int, ...]
) -> NDArray[np.bool]:
    row, col = np.mgrid[: shape[0], : shape[1]]
    return np.hypot(col - middle[0], row - middle[1]) <= within_pt * DPI / 72.0


@pytest.mark.parametrize("reader", READERS, ids=["grey", "deuteranopia", "protanopia"])
def test_each_mark_can_be_read_and_stands_out(
    page: Figure, reader: tuple[tuple[float, ...], ...]
) -> None:
    bright, marks = seen(linear(page), reader), marks_of(page)
    assert len(marks) >= 9
    assert {"mark-1", "mark-5", "mark-▲", "mark-A", "mark-b", "mark-7"} <= set(marks)
    for name, middle in marks.items():
        # the letter on its face
        inside = bright[about(middle, 0.55 * RADIUS_PT, bright.shape)]
        assert ratio(inside) > TEXT_CONTRAST, name
        # the rim with what it is drawn on or cased in
        rim = about(middle, RADIUS_PT + 1.5, bright.shape)
        rim &= ~about(middle, 0.8 * RADIUS_PT, bright.shape)
        assert ratio(bright[rim], 5.0, 95.0) > MARK_CONTRAST, name


@pytest.mark.parametrize("reader", READERS, ids=["grey", "deuteranopia", "protanopia"])
def test_names_can_be_read_on_what_is_under_them(
    page: Figure, reader: tuple[tuple[float, ...], ...]
) -> None:
    names = [text for text in page.findobj(Text) if text.get_gid() == "name"]
    assert [name.get_text() for name in names] == ["Fold"]
    bright = seen(linear(page), reader)
    for name in names:
        left, foot, right, top = (round(at) for at in name.get_window_extent().extents)
        assert ratio(bright[foot:top, left:right]) > TEXT_CONTRAST


def test_a_pale_number_on_mist_would_be_found(page: Figure) -> None:
    """The same measure, of ground and mist alone, where there is nothing to read."""
    bright = seen(linear(page), GREY)
    marks = np.array(list(marks_of(page).values()))
    row, col = np.mgrid[: bright.shape[0], : bright.shape[1]]
    # far from all marks, a place as large as one
    away = np.min([np.hypot(col - x, row - y) for x, y in marks], axis=0)
    inner = away[100:-100, 100:-100]
    at_row, at_col = np.unravel_index(int(np.argmax(inner)), inner.shape)
    middle = np.array([at_col + 100.0, at_row + 100.0])
    assert ratio(bright[about(middle, 0.55 * RADIUS_PT, bright.shape)]) < MARK_CONTRAST
