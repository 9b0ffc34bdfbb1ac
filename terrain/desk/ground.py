"""The ground and the mists over it as planes: heights, flood levels, tops along valley floors."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.mists import MistSaid
from terrain.desk.planes import NONE, Plane
from terrain.desk.table import Ground, Table
from terrain.desk.work import Job

_MOST_M: Final = 9000.0


def told(ground: Ground, asked: Asked, job: Job) -> dict[str, Any]:
    """What the page must know of the ground to draw it."""
    return {
        "rows": ground.dem.shape[0],
        "cols": ground.dem.shape[1],
        "cell_m": ground.dem.cell_m,
        "tiles": ground.tiles,
        "heights": {"low_m": ground.scale.low, "step_m": ground.scale.step},
    }


def heights(ground: Ground, asked: Asked, job: Job) -> Plane:
    """The heights of a tile."""
    return ground.scale.plane(ground.tile(asked).of(ground.dem.heights_m))


def flood(table: Table, asked: Asked, job: Job) -> Plane:
    """At which top a level mist comes to each cell of a tile."""
    return table.scale.plane(table.tile(asked).of(table.country.levels_m))


def valley(table: Table, asked: Asked, job: Job) -> Plane:
    """The top of mist along the valley floors in a tile."""
    depth_m = asked.number("depth_m", least=0.0, most=_MOST_M)
    said = asked.said.get("ceiling_m")
    ceiling_m = asked.number("ceiling_m", least=-_MOST_M, most=_MOST_M) if said else None
    mist = table.under(MistSaid(depth_m=depth_m, ceiling_m=ceiling_m)).mist
    job.check()
    if mist is None:
        raise ValueError("a mist along valley floors is none")
    return table.scale.plane(table.tile(asked).of(mist.top_m))


def visible(table: Table, asked: Asked, job: Job) -> Plane:
    """Which cells of a tile a spot sees: 1, else 0; NONE where it is not known.

    From within the mist it sees none.
    """
    camera, tile = table.camera(table.given(asked)), table.tile(asked)
    country = table.under(table.mist_said(asked))

    def see() -> Plane:
        known = ~np.isnan(country.dem.heights_m)
        if _is_under(country, camera):
            return np.where(known, 0, NONE).astype("<u2")
        seen = terrain.viewshed(country.seen, camera, refraction=country.refraction)
        if not known.all():
            known &= ~seen | terrain.known_between(country.dem, camera)
        return np.where(known, seen, NONE).astype("<u2")

    return np.ascontiguousarray(tile.of(table.kept(("visible", camera, country), see, job)))


def _is_under(country: terrain.Country, camera: terrain.Spot) -> bool:
    """Whether the ground that a spot stands on lies under the mist."""
    if country.mist is None:
        return False
    return bool(country.mist.covers[country.dem.grid.cell_of(camera.lon_deg, camera.lat_deg)])
