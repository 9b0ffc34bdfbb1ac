"""What is said of where a spot stands."""

from __future__ import annotations

from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.words.figures import eighth


def moved(given: Spot, spot: Spot) -> list[str]:
    """A line about how far a spot was moved onto a top; none where it stands at the place given.

    >>> print(*moved(Spot(lon_deg=-24.0, lat_deg=54.4), Spot(lon_deg=-23.9997, lat_deg=54.4002)))
    The spot stands 30 m north-east of the place given, on the top of the raster's cells.
    """
    toward, away_m = azimuth_and_distance(given.lon_deg, given.lat_deg, spot.lon_deg, spot.lat_deg)
    if away_m < 0.5:
        return []
    off = f"{away_m:.0f} m {eighth(float(toward) % 360.0)} of the place given"
    return [f"The spot stands {off}, on the top of the raster's cells."]
