"""The light of the sky as a table that the page reads from."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job


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
