"""What was found of a spot, a hill and a day, as the columns that tables of them share."""

from __future__ import annotations

import math
from typing import Any

from terrain.view.backlight import Backlight


def columns_of(answer: Backlight) -> dict[str, Any]:
    """What was found of a spot, a hill and a day, as the columns that tables of them share."""
    view, contact = answer.view, answer.contact
    return {
        "lon_deg": view.spot.lon_deg,
        "lat_deg": view.spot.lat_deg,
        "height_m": view.spot_height_m,
        "appears": contact.appears,
        "clears": contact.clears,
        "uncertainty_s": contact.uncertainty_s,
        "azimuth_deg": view.azimuth_deg,
        "altitude_deg": view.altitude_deg,
        "distance_m": view.distance_m,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "best": str(answer.best.which),
        "best_at": answer.best.at,
        "best_deg": answer.best.away_deg,
        "backdrop": str(view.backdrop),
        "backdrop_m": view.backdrop_distance_m,
        "uncertainty_deg": answer.uncertainty_deg,
        "freeboard_m": view.freeboard_m,
        "clearance_m": view.clearance_m if view.known_between else math.nan,
        "known_between": view.known_between,
        "slope_deg": view.slope_deg,
        "known_to_m": contact.known_to_m,
        "beyond_height_m": contact.beyond_height_m,
    }
