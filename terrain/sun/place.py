"""The one check that every part of the sun's room makes of a place on the earth."""

from __future__ import annotations

from terrain.errors import TerrainError

__all__ = ["check_place"]


def check_place(lon_deg: float, lat_deg: float) -> None:
    """Raise TerrainError unless a longitude and a latitude in degrees name a place on the earth.

    >>> check_place(-24.0, 54.4)
    """
    if not -180.0 <= lon_deg <= 180.0:
        raise TerrainError(f"longitude {lon_deg:g} is not between -180 and 180 degrees")
    if not -90.0 <= lat_deg <= 90.0:
        raise TerrainError(f"latitude {lat_deg:g} is not between -90 and 90 degrees")
