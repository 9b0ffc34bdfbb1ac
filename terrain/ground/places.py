"""The two places a morning is about: where the camera stands, and the hill it looks at."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.constants import EYE_HEIGHT_M
from terrain.errors import TerrainError

# at the poles themselves there is no north to count azimuths from
_NEAREST_POLE_DEG = 89.9999


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a camera stands.

    Parameters
    ----------
    lon_deg : float
        Longitude, WGS 84 degrees.
    lat_deg : float
        Latitude, WGS 84 degrees.
    eye_m : float, optional
        Height of the camera above the ground, metres.
    name : str, optional
        What it is called, "" for nothing.

    Raises
    ------
    TerrainError
        For a place that is not on the earth, and for a height that is not from 0 to 1000 m.

    Examples
    --------
    >>> Spot(lon_deg=-24.0, lat_deg=54.4, name="the stile")
    Spot(lon_deg=-24.0, lat_deg=54.4, eye_m=1.7, name='the stile')
    """

    lon_deg: float
    lat_deg: float
    eye_m: float = EYE_HEIGHT_M
    name: str = ""

    def __post_init__(self) -> None:
        check_place(self.lon_deg, self.lat_deg, has_north=True)
        if not 0.0 <= self.eye_m < 1000.0:
            raise TerrainError(f"an eye height of {self.eye_m} m is not between 0 and 1000 m")

    @property
    def label(self) -> str:
        """Its name, or else where it is: latitude and longitude to about ten metres."""
        return self.name or f"{self.lat_deg:.4f}, {self.lon_deg:.4f}"


@dataclass(frozen=True, kw_only=True)
class Hill:
    """A hill to look at.

    Parameters
    ----------
    lon_deg : float
        Longitude of its summit, WGS 84 degrees.
    lat_deg : float
        Latitude of its summit, WGS 84 degrees.
    height_m : float
        Of the summit above the raster's datum, metres.
    name : str, optional
        What it is called, "" for nothing.
    min_prominence_m : float, optional
        Tops of less prominence than this on its flanks are part of it, metres.

    Raises
    ------
    TerrainError
        For a place that is not on the earth, and for heights that are none.

    Examples
    --------
    >>> import terrain
    >>> terrain.Hill(lon_deg=-24.0, lat_deg=54.4, height_m=312.0).label
    'the hill at 54.4000, -24.0000'
    """

    lon_deg: float
    lat_deg: float
    height_m: float
    name: str = ""
    min_prominence_m: float = 30.0

    def __post_init__(self) -> None:
        check_place(self.lon_deg, self.lat_deg, has_north=True)
        if not math.isfinite(self.height_m):
            raise TerrainError(f"the height of a hill must be a number, got {self.height_m}")
        if not self.min_prominence_m >= 0.0:
            raise TerrainError(f"a prominence of {self.min_prominence_m} m is not 0 m or more")

    @property
    def label(self) -> str:
        """Its name, or else its place."""
        return self.name or f"the hill at {self.lat_deg:.4f}, {self.lon_deg:.4f}"


def check_place(lon_deg: float, lat_deg: float, *, has_north: bool = False) -> None:
    """Raise TerrainError unless a longitude and a latitude in degrees name a place on the earth.

    has_north: whether a pole is none.
    """
    most_deg = _NEAREST_POLE_DEG if has_north else 90.0
    if not (-180.0 <= lon_deg <= 180.0 and abs(lat_deg) <= most_deg):
        raise TerrainError(f"{lat_deg}, {lon_deg} is not a place: give LAT,LON in degrees")
