"""When direct light reaches the ground and the mist on it, or leaves, as planes of minutes."""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.mists import MistSaid
from terrain.desk.planes import Plane, Scale, Tile
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.ground.coarse import coarser

COARSE: Final = 4
"""Cells of the ground to one of the first answer, to each side."""

MINUTES: Final = Scale(0.0, 1.0 / 8.0)


def light(table: Table, asked: Asked, job: Job) -> tuple[Plane, dict[str, str]]:
    """The minute of a tile's light, counted from a moment that the headers give.

    Cells that are lit all night hold the first minute, or of an evening the last.
    """
    day, evening, said = asked.day(), asked.evening, table.mist_said(asked)
    fine, tile = asked.flag("fine"), table.tile(asked)
    arrival = table.kept(
        ("light", day, evening, said, fine),
        lambda: _arrival(table, said, fine, day, evening, job),
        job,
    )
    part = tile if fine else _coarse(tile)
    minutes = np.clip(part.of(arrival.arrives_s), 0.0, arrival.length_s) / 60.0
    headers = {
        "X-From-UTC": arrival.since.astimezone(dt.UTC).isoformat(timespec="seconds"),
        "X-Rows": str(part.rows),
        "X-Cols": str(part.cols),
    }
    return MINUTES.plane(minutes), headers


def _arrival(
    table: Table, said: MistSaid, fine: bool, day: dt.date, evening: bool, job: Job
) -> terrain.Arrival:
    country = table.under(said)
    if not fine:
        country = terrain.Country(coarser(country.seen, COARSE), refraction=country.refraction)
    return terrain.light_arrival(country, day, evening=evening, progress=job.step)


def _coarse(tile: Tile) -> Tile:
    row, col, rows, cols = (-(-part // COARSE) for part in vars(tile).values())
    return Tile(row, col, rows, cols)
