"""Small views from the first of some vantages, for the page of their map."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any, Final

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from terrain.country import Country
from terrain.errors import TerrainError
from terrain.frame.lens import Kit
from terrain.ground.places import Hill, Spot
from terrain.mist.level import AnyMist, MistRange
from terrain.show.paper.text import compass
from terrain.show.paper.vignette import Vignette
from terrain.show.view.aim import aim
from terrain.show.view.moment import moment_at
from terrain.show.view.moments import at_moments, best_moment
from terrain.show.view.photograph import Camera
from terrain.view.backlight import backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.words.moments import best_in_short

VIEWS: Final = 3

_WIDE_PX: Final = 660
_KIT: Final = Kit(lenses_mm=(70.0,))
_MOST_SHAPE: Final = 0.42
"""Of a small view, height over width."""
_FROM_SKY: Final = 0.45
"""Of what is left off a higher picture, the share that is taken from its top."""
_LEAST_SKY: Final = 0.25
"""Share of a small view that lies over summit and sun, and under them."""


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
        suns = at_moments(answer, [best_moment(answer)])
        frame = aim(scene, answer, suns, kit=_KIT)
        camera = Camera(scene=scene, spot=answer.view.spot, frame=frame, width_px=_WIDE_PX)
        pixels = camera.picture(moment_at(answer, float(suns.times_s[0])))
        looking = f"looking {compass(answer.view.azimuth_deg)}"
        words = f"{looking}: {best_in_short(row)}, {row['height_m']:.0f} m"
        highest_deg = max(answer.view.altitude_deg, float(suns.at_deg[1].max()))
        yield Vignette(mark=mark, words=words, pixels=_cropped(pixels, camera, highest_deg))


def _cropped(pixels: NDArray[np.uint8], camera: Camera, highest_deg: float) -> NDArray[np.uint8]:
    """Of a picture that is too high: a little less goes of the sky than of the foot.

    highest_deg: altitude of summit or sun, which stays well within in any case.
    """
    high = round(_MOST_SHAPE * pixels.shape[1])
    over = math.tan(math.radians(highest_deg - camera.frame.altitude_deg)) * camera.px_per_focal
    summit = round(pixels.shape[0] / 2.0 - over)
    spare = max(pixels.shape[0] - high, 0)
    margin = round(_LEAST_SKY * high)
    top = min(max(round(_FROM_SKY * spare), summit + margin - high), summit - margin)
    top = min(max(top, 0), spare)
    return pixels[top : top + high].copy()
