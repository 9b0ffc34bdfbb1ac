"""What a plan must warn of, from the ground, the clock and the cold.

Nothing here replaces local rules, a forecast, or people who know the ground; the sentences made
of it (`terrain.words.plan`) end by saying so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_deg
from terrain.mist.mist import Mist
from terrain.view.look import View
from terrain.view.scene import Scene
from terrain.walk.walk import Walk

# what is worth a warning: common practice, no source
EDGE_DEG = 40.0
EDGE_REACH_M = 30.0
_DARK_S = 60.0
_STEEP_WAY_DEG = 20.0
_STEEP_GROUND_DEG = 30.0
_LITTLE_FREEBOARD_M = 30.0
_LITTLE_CLEARANCE_M = 5.0
_IN_MIST_M = 50.0
_COLD_C = 5.0
# inversions of a few metres on frosty floors are the steepest (common practice, no source)
_MOST_LAPSE_K_PER_M = 0.2


STANDARD_LAPSE_K_PER_M = 0.0065
"""Fall of temperature with height in the standard atmosphere (ISO 2533), kelvin a metre."""


@dataclass(frozen=True, kw_only=True)
class Air:
    """The air that a forecast gives: temperature and wind at a height above the sea.

    Parameters
    ----------
    temperature_c : float
        Degrees Celsius.
    wind_kmh : float, optional
        At ten metres over open ground, km/h.
    at_height_m : float, optional
        Where they hold, metres above the sea.
    lapse_k_per_m : float, optional
        Fall of temperature with height, K a metre; negative under an inversion.

    Raises
    ------
    TerrainError
        For a temperature, a height or a fall that is not one of the air, and for a wind that is
        not one to be out in.

    Examples
    --------
    >>> import terrain
    >>> terrain.Air(temperature_c=-4.0, wind_kmh=20.0, at_height_m=600.0).wind_kmh
    20.0
    """

    temperature_c: float
    wind_kmh: float = 0.0
    at_height_m: float = 0.0
    lapse_k_per_m: float = STANDARD_LAPSE_K_PER_M

    def __post_init__(self) -> None:
        if not -80.0 <= self.temperature_c <= 60.0:
            raise TerrainError(f"a temperature of {self.temperature_c} °C is not one of the air")
        if not 0.0 <= self.wind_kmh <= 400.0:
            raise TerrainError(f"a wind of {self.wind_kmh} km/h is not one to be out in")
        if not -500.0 <= self.at_height_m <= 9000.0:
            raise TerrainError(f"a height of {self.at_height_m} m is not one of the ground's air")
        if not -_MOST_LAPSE_K_PER_M <= self.lapse_k_per_m <= _MOST_LAPSE_K_PER_M:
            raise TerrainError(f"a fall of {self.lapse_k_per_m} K a metre is not one of the air")


@dataclass(frozen=True, kw_only=True)
class Cold:
    """Air temperature at the spot and how cold it feels in the wind, degrees Celsius."""

    temperature_c: float
    wind_kmh: float
    feels_c: float


@dataclass(frozen=True, kw_only=True)
class Cautions:
    """What to warn of; None, or False, where it is no matter.

    dark_s: seconds of the walk in before civil dawn, or of an evening's walk back after civil dusk.
    in_mist_m: metres of the way in the mist. steep: the way or the ground it crosses is. edge: as
    `edge_near` gives it. freeboard_m: how little the spot stands above the mist. clearance_m: how
    little the line of sight passes over ground. cold: at the spot.
    """

    dark_s: float | None = None
    in_mist_m: float | None = None
    steep: bool = False
    edge: tuple[float, float] | None = None
    freeboard_m: float | None = None
    clearance_m: float | None = None
    cold: Cold | None = None


def cautions_for(scene: Scene, view: View, walk: Walk, cold: Cold | None = None) -> Cautions:
    """What to warn of on a walk to its spot and a wait there, or on the walk back from it.

    view: of the hill of the scene from there. walk: the one in the dark. cold: there, where a
    forecast was given.
    """
    in_mist_m = 0.0 if scene.mist is None else _in_mist_m(walk, scene.mist)
    way_deg, ground_deg = abs(walk.steepest.slope_deg), walk.steepest_ground.ground_deg
    low = view.freeboard_m < _LITTLE_FREEBOARD_M
    close = view.visible and view.clearance_m < _LITTLE_CLEARANCE_M
    return Cautions(
        dark_s=walk.dark_s if walk.dark_s >= _DARK_S else None,
        in_mist_m=in_mist_m if in_mist_m >= _IN_MIST_M else None,
        steep=way_deg >= _STEEP_WAY_DEG or ground_deg >= _STEEP_GROUND_DEG,
        edge=edge_near(scene.dem, view.spot),
        freeboard_m=view.freeboard_m if low else None,
        clearance_m=view.clearance_m if close else None,
        cold=cold if cold is not None and cold.feels_c < _COLD_C else None,
    )


def edge_near(dem: Dem, spot: Spot) -> tuple[float, float] | None:
    """Slope (degrees) of the steepest ground within 30 m and azimuth of the nearest, if an edge.

    An edge is ground of more than 40 degrees; None where there is none. The cells that the 30 m
    touch count, so on coarse rasters the ground looked at is wider.
    """
    row, col = dem.grid.cell_of(spot.lon_deg, spot.lat_deg)
    reach = int(np.ceil(EDGE_REACH_M / dem.cell_m)) + 1
    top, left = max(row - reach, 0), max(col - reach, 0)
    near = dem.heights_m[top : row + reach + 1, left : col + reach + 1]
    window = Dem(near, dem.grid.window(top, left, (near.shape[0], near.shape[1])))
    slope = slope_deg(window)
    lon, lat = window.grid.lonlat(*np.indices(slope.shape))
    azimuth, distance = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    steep = (slope > EDGE_DEG) & (distance <= EDGE_REACH_M + 0.5 * dem.cell_m)
    if not steep.any():
        return None
    nearest = np.unravel_index(np.argmin(np.where(steep, distance, np.inf)), slope.shape)
    return float(slope[steep].max()), float(azimuth[nearest])


def _in_mist_m(walk: Walk, mist: Mist) -> float:
    top_m = np.nan_to_num(mist.top_at(walk.lon_deg, walk.lat_deg), nan=-np.inf)
    misty = walk.height_m < top_m
    return float(np.diff(walk.distance_m)[misty[1:] & misty[:-1]].sum())


def cold_at(air: Air, height_m: float) -> Cold:
    """The cold at a height (metres above the sea) in the air a forecast gives for another."""
    temperature = air.temperature_c - air.lapse_k_per_m * (height_m - air.at_height_m)
    return Cold(
        temperature_c=temperature,
        wind_kmh=air.wind_kmh,
        feels_c=wind_chill_c(temperature, air.wind_kmh),
    )


def wind_chill_c(temperature_c: float, wind_kmh: float) -> float:
    """Wind chill, degrees Celsius; the air's own temperature above 10 °C or below 4.8 km/h of wind.

    Source: the index of the Meteorological Service of Canada and the US National Weather Service
    (2001), wind in km/h at ten metres, by MetPy.

    >>> round(wind_chill_c(-10.0, 30.0), 1)
    -19.5
    """
    if temperature_c > 10.0 or wind_kmh < 4.8:
        return temperature_c
    # it takes seconds to import, and few plans are told a wind
    from metpy.calc import windchill
    from metpy.units import units

    air, wind = units.Quantity(temperature_c, "degC"), units.Quantity(wind_kmh, "km/h")
    return float(windchill(air, wind, mask_undefined=False).m_as("degC"))
