"""The ground and the mists over it as planes: heights, flood levels, tops along valley floors."""

from __future__ import annotations

from typing import Final

from terrain.desk.asked import Asked
from terrain.desk.mists import MistSaid
from terrain.desk.planes import Plane
from terrain.desk.table import Table
from terrain.desk.work import Job

_MOST_M: Final = 9000.0


def heights(table: Table, asked: Asked, job: Job) -> Plane:
    """The heights of a tile."""
    return table.scale.plane(table.tile(asked).of(table.country.dem.heights_m))


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
