"""The sun of one morning or evening, minute by minute, while the light is low."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import NoSun
from terrain.light.colour import colour_begins, colour_ends
from terrain.words.clocks import hour_minute


def sun(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """The sun minute by minute while the light is low: over a place, or the middle of the map."""
    day = asked.day()
    lon_deg, lat_deg = table.country.dem.grid.centre_lonlat
    if asked.said.get("lat_deg"):
        given = table.given(asked)
        lon_deg, lat_deg = given.lon_deg, given.lat_deg
    path = terrain.sun_path(day, lon_deg=lon_deg, lat_deg=lat_deg)
    first, last = _low_light(day, lon_deg, lat_deg, evening=asked.evening)
    begin = first.astimezone(dt.UTC).replace(second=0, microsecond=0)
    count = int(np.ceil((last - begin).total_seconds() / 60.0)) + 1
    moments = [begin + dt.timedelta(minutes=number) for number in range(count)]
    times_s = [path.seconds(moment) for moment in moments]
    azimuth, altitude = path.at(times_s)
    _, true_altitude = path.true_at(times_s)
    return {
        "minutes": [
            {
                "utc": moment.isoformat(timespec="seconds"),
                "clock": hour_minute(moment.astimezone(path.zone)),
                "azimuth_deg": float(azimuth[at]) % 360.0,
                "altitude_deg": float(altitude[at]),
                "true_altitude_deg": float(true_altitude[at]),
            }
            for at, moment in enumerate(moments)
            if np.isfinite(altitude[at])
        ],
        "semidiameter_deg": path.semidiameter_deg,
    }


def _low_light(
    day: dt.date, lon_deg: float, lat_deg: float, *, evening: bool
) -> tuple[dt.datetime, dt.datetime]:
    """From the first colour to the end of the low sun, or of an evening from there to the last."""
    light = terrain.twilight(day, lon_deg=lon_deg, lat_deg=lat_deg)
    edge = light.sunset if evening else light.sunrise
    if edge is None:
        raise NoSun(f"there is no sun{'set' if evening else 'rise'} on {day}: {light.state}")
    high = light.evening_golden_begins if evening else light.morning_golden_ends
    high = high or light.transit or edge
    return (high, colour_ends(light, edge)) if evening else (colour_begins(light, edge), high)
