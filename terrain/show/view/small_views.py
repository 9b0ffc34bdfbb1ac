"""Small views from the first of some vantages, for the page of their map."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any, Final, cast

import geopandas as gpd
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from terrain.country import Country
from terrain.errors import TerrainError
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist, MistRange
from terrain.show.paper.page import MARGIN_IN
from terrain.show.paper.text import compass
from terrain.show.paper.vignette import Vignette
from terrain.show.view.panorama import view_figure
from terrain.view.backlight import BestAt, backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.moments import best_in_short

VIEWS: Final = 3

_WIDE_IN: Final = 3.0
_DPI: Final = 220.0
_WIDTH_DEG: Final = 14.0
_MOST_SHAPE: Final = 0.42
"""Of a small view, height over width: of a higher one the foot is left off."""


def small_views(
    country: Country,
    hill: Hill,
    found: gpd.GeoDataFrame,
    *,
    mist: AnyMist | None = None,
    count: int = VIEWS,
) -> list[Vignette]:
    """Views of a hill from the first vantages at the best moment of each.

    Parameters
    ----------
    country : Country
        The ground.
    hill : Hill
        The hill that is looked at.
    found : geopandas.GeoDataFrame
        As `find_vantages` gives it.
    mist : Mist or MistRange, optional
        That of the search; of a range each view has the top that its row is about.
    count : int, optional
        How many, at most.

    Returns
    -------
    list of Vignette
        For `vantages_map`, best first; a place whose view cannot be drawn is left out.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> found = terrain.find_vantages(cone, hill, day=dt.date(2025, 3, 30), count=1)
    >>> [view.mark for view in terrain.small_views(terrain.Country(cone), hill, found)]
    ['1']
    """
    rows = found.head(count).to_dict("records")
    return [
        view
        for number, row in enumerate(rows, start=1)
        for view in _view(country, hill, row, mist, str(number))
    ]


def _view(
    country: Country, hill: Hill, row: Mapping[str, Any], mist: AnyMist | None, mark: str
) -> Iterator[Vignette]:
    with suppress(TerrainError):
        if isinstance(mist, MistRange):
            mist = mist.mist(row.get("mist_top_m", mist.hoped_m))
        scene = Scene(country.under(mist), hill)
        spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
        day, evening = row["appears"].date(), bool(row.get("evening", False))
        answer = backlight(scene, look(scene, spot, day=day), day, evening=evening)
        looking = f"looking {compass(answer.view.azimuth_deg)}"
        page = view_figure(
            scene,
            answer,
            width_deg=_WIDTH_DEG,
            minutes=[_minutes(row)],
            width_in=_WIDE_IN + 2.0 * MARGIN_IN,
        )
        words = f"{looking}: {best_in_short(row)}, {row['height_m']:.0f} m"
        yield Vignette(mark=mark, words=words, pixels=_cropped(page))


def _minutes(row: Mapping[str, Any]) -> float:
    """How long after the first of the sun, or before its last, its best moment is by the clock."""
    if row["best"] == BestAt.CONTACT:
        return 0.0
    on_clock = row["best_at"].replace(second=0, microsecond=0)
    return float(abs((on_clock - row["appears"]) / dt.timedelta(minutes=1)))


def _cropped(page: Figure) -> NDArray[np.uint8]:
    """The picture of a page of a view alone, without what stands round it."""
    page.set_dpi(_DPI)
    canvas = cast("Any", FigureCanvasAgg(page))  # of which the types are not told
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    box = next(ax for ax in page.axes if ax.images).get_window_extent()
    left, right = round(box.x0) + 1, round(box.x1) - 1
    top = pixels.shape[0] - round(box.y1) + 1
    high = min(round(box.height) - 2, round(_MOST_SHAPE * (right - left)))
    return pixels[top : top + high, left:right].copy()
