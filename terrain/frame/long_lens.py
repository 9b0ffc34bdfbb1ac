"""The small scenes in a mist for the lenses of a kit: which suits each, and how full the frame is.

::

    +--------------------------+
    |                          |     the lens that suits shows a scene as large as the margin of
    |    Y YY Y   YYY  Y Y     |     the frame allows; fills = its width over the frame's
    |   |<----- wide ----->|   |
    +--------------------------+
"""

from __future__ import annotations

import math
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.country import Country
from terrain.frame.framing import MARGIN
from terrain.frame.lens import Kit, Lens, lens_of
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Spot
from terrain.mist.trees import TREES_M
from terrain.view.small_scenes import shallows_in_view

_LARGEST: Final = 1.0 - 2.0 * MARGIN
_SMALLEST: Final = 0.1
"""Shares of the frame's width that a scene may fill (common practice, no source)."""

_BESIDE_DEG, _BESIDE = 15.0, 3

_WIDEST_DEG: Final = 20.0
"""What is wider is none for a long lens (common practice, no source)."""


def small_scenes(
    country: Country,
    spot: Spot,
    *,
    kit: Kit | None = None,
    trees_m: tuple[float, float] = TREES_M,
    toward_deg: float | None = None,
    count: int = 5,
) -> gpd.GeoDataFrame:
    """The best few of the shallows and islets in view, each with the lens of a kit that suits.

    Parameters
    ----------
    country : Country
        The ground, with the mist on it; without a mist there are none.
    spot : Spot
        Where the camera stands.
    kit : Kit, optional
        Sensor and lenses; the camera is held level.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres, as for `shallows_in_view`.
    toward_deg : float, optional
        An azimuth: up to three within 15 degrees of it come first.
    count : int, optional
        How many, at most.

    Returns
    -------
    geopandas.GeoDataFrame
        The largest first, unless an azimuth says otherwise, with the columns of
        `shallows_in_view`, of which `focal_mm` is the longest focal length that leaves a margin,
        and

        - `lens`: the one that shows it largest with that margin, in words; `lens_mm`: the focal
          length to set; `fills`: share of the frame's width that it then fills

        Those that no lens makes as wide as a tenth of the frame are left out, those too wide for
        all of them, and what is wider than 20 degrees.

    Raises
    ------
    NoGround
        Where the spot has no known ground.
    TerrainError
        For lenses or heights of trees that cannot be.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> knoll = np.maximum(95.0 - 2.0 * np.hypot(row, col - 20), 0.0)
    >>> isle = terrain.Dem(np.maximum(200.0 - 9.0 * np.hypot(row, col + 30), knoll), grid)
    >>> misty = terrain.Country(isle, mist=terrain.level_mist(isle, 100.0))
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> table = terrain.small_scenes(misty, terrain.Spot(lon_deg=lon, lat_deg=lat))
    >>> table[["kind", "lens"]].values.tolist(), table["fills"].round(2).tolist()
    ([['shallows', '70 mm']], [0.43])
    """
    kit = kit or Kit()
    lenses = [lens_of(mm) for mm in kit.lenses_mm]
    sensor_mm = kit.sensor.width_mm
    found = _in_view(country, spot, trees_m, sensor_mm)
    suits = [_suiting(lenses, focal_mm) for focal_mm in found["focal_mm"]]
    table = found.assign(
        lens=[str(lens) for lens, _ in suits],
        lens_mm=[mm for _, mm in suits],
        fills=[
            2.0 * mm * math.tan(math.radians(0.5 * wide)) / sensor_mm
            for (_, mm), wide in zip(suits, found["width_deg"], strict=True)
        ],
    )
    held = _chosen(table[table["fills"].between(_SMALLEST, 1.0)], toward_deg, count)
    return held.assign(rank=range(1, len(held) + 1)).reset_index(drop=True)


def _in_view(
    country: Country, spot: Spot, trees_m: tuple[float, float], sensor_mm: float
) -> gpd.GeoDataFrame:
    asked: dict[str, Any] = {
        "trees_m": trees_m,
        "sensor_width_mm": sensor_mm,
        "widest_deg": _WIDEST_DEG,
    }
    if country.mist is not None:
        return shallows_in_view(country, spot, fills=_LARGEST, **asked)
    return gpd.GeoDataFrame(
        pd.DataFrame({"rank": [], "kind": [], "azimuth_deg": [], "width_deg": [], "focal_mm": []}),
        geometry=[],
        crs="EPSG:4326",
    )


def _chosen(table: gpd.GeoDataFrame, toward_deg: float | None, count: int) -> gpd.GeoDataFrame:
    if toward_deg is None:
        return table.head(count)
    aside_deg = np.abs(wrap_deg(table["azimuth_deg"].to_numpy() - toward_deg))
    first = table[aside_deg <= _BESIDE_DEG].head(min(_BESIDE, count))
    rest = table.drop(index=first.index).head(count - len(first))
    return table.loc[[*first.index, *rest.index]]


def _suiting(lenses: list[Lens], focal_mm: float) -> tuple[Lens, float]:
    """The lens with the longest focal length not above one, or else the widest; and that length."""
    able = [(lens, mm) for lens in lenses if (mm := lens.up_to(focal_mm)) is not None]
    if able:
        return max(able, key=lambda one: one[1])
    widest = min(lenses, key=lambda lens: lens.shortest_mm)
    return widest, widest.shortest_mm
