"""The light of the sky and of the air before the ground, as tables that the page reads from."""

from __future__ import annotations

import json
from typing import Any, Final

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job

_FARTHEST_M: Final = 100_000.0
_NEAREST_M: Final = 10.0
_DISTANCES: Final = 33
_AZIMUTHS: Final = 25


def sky(table: Table, asked: Asked, job: Job) -> tuple[Any, dict[str, str]]:
    """The two layers of a `Sky` as (2, rows, cols, 3) half floats, times what a light meter says.

    The altitude of the sun is its true one. The headers give all else that a `Sky` has, and the
    light of the sky and of the sun on level ground, times the same.
    """
    altitude_deg = asked.number("sun_altitude_deg", least=-90.0, most=90.0)
    eye_m = asked.number("eye_height_m", 0.0, least=-500.0, most=9000.0)
    air = terrain.ClearAir()
    over = terrain.sky(air, sun_altitude_deg=altitude_deg, eye_height_m=eye_m)
    job.check()
    exposure = over.exposure()
    layers = (exposure * np.stack([over.even, over.aureole])).astype("<f2")
    sun = terrain.sunlight(air, sun_altitude_deg=altitude_deg, height_m=eye_m)
    headers = {
        "X-Rows": str(layers.shape[1]),
        "X-Cols": str(layers.shape[2]),
        "X-Horizon-Deg": f"{over.horizon_deg:.4f}",
        "X-Sun-Deg": f"{over.sun_deg:.4f}",
        "X-Asymmetry": f"{over.asymmetry:.4f}",
        "X-Exposure": f"{exposure:.6g}",
        "X-Skylight": json.dumps((exposure * over.irradiance()).tolist()),
        "X-Sunlight": json.dumps((exposure * sun).tolist()),
    }
    return layers, headers


def haze(table: Table, asked: Asked, job: Job) -> tuple[Any, dict[str, str]]:
    """What the air does to the light of ground at one height: (2, distances, azimuths, 3) halves.

    First the share that arrives, then what the air adds, times what the light meter of `sky` says.
    Distances are X-Farthest-M · (row / (rows - 1))², but for the first not 0; azimuths go evenly
    from that of the sun to the opposite one.
    """
    altitude_deg = asked.number("sun_altitude_deg", least=-90.0, most=90.0)
    eye_m = asked.number("eye_height_m", 0.0, least=-500.0, most=9000.0)
    ground_m = asked.number("target_height_m", 0.0, least=-500.0, most=9000.0)
    air = terrain.ClearAir()
    distances_m = np.maximum(_FARTHEST_M * np.linspace(0.0, 1.0, _DISTANCES) ** 2, _NEAREST_M)
    found = terrain.haze(
        air,
        sun_altitude_deg=altitude_deg,
        azimuth_from_sun_deg=np.linspace(0.0, 180.0, _AZIMUTHS),
        distance_m=distances_m[:, np.newaxis],
        eye_height_m=eye_m,
        target_height_m=ground_m,
    )
    job.check()
    exposure = terrain.sky(air, sun_altitude_deg=altitude_deg, eye_height_m=eye_m).exposure()
    headers = {
        "X-Rows": str(_DISTANCES),
        "X-Cols": str(_AZIMUTHS),
        "X-Farthest-M": f"{_FARTHEST_M:g}",
        "X-Exposure": f"{exposure:.6g}",
    }
    return np.stack([found.transmittance, exposure * found.light]).astype("<f2"), headers
