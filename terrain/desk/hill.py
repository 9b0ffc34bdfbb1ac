"""What is asked of a hill: from one spot on one day, and from every cell in a year."""

from __future__ import annotations

from typing import Any

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.planes import Plane, Scale
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.frame.answer import answer_at
from terrain.show.map.year_ring import YEAR_RING, ring_place
from terrain.show.paper import palette
from terrain.sun.calendar import calendar_year
from terrain.words.answer import record_of, said_of
from terrain.words.records import for_json

DAYS = Scale(0.0, 1.0)


def answer(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """Whether the sun is behind the hill of a spot: the record of `terrain sunrise`, and words.

    With scenes=0 without the small scenes in view, so that it is there sooner.
    """
    given, day, evening = table.given(asked), asked.day(), asked.evening
    scene = table.scene(asked)
    job.check()
    kit = None if asked.said.get("scenes") == "0" else table.kit
    found = answer_at(scene, table.camera(given), day, kit=kit, evening=evening)
    return {**for_json(record_of(found)), "words": list(said_of(found, given).lines)}


def atlas(table: Table, asked: Asked, job: Job) -> tuple[Plane, dict[str, str]]:
    """The day of the year of a tile, as the sun goes north and, after it, as it goes south."""
    year = asked.whole("year", least=1, most=9999)
    calendar_year(year)
    evening, tile, scene = asked.evening, table.tile(asked), table.scene(asked)
    found = table.kept(
        ("atlas", scene.hill, scene.mist, year, evening),
        lambda: terrain.backlight_atlas(scene.country, scene.hill, year, evening=evening),
        job,
    )
    days = np.stack([tile.of(found.north_day), tile.of(found.south_day)])
    first, last = calendar_year(year)
    return DAYS.plane(days), {"X-Days": str((last - first).days + 1)}


def colours(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """The colours of our pictures: each by its name, and one for each day of the year."""
    days = YEAR_RING(ring_place(np.arange(1, 367)))
    ground = palette.GROUND(np.linspace(0.0, 1.0, 16))
    named = {name.lower(): value for name, value in vars(palette).items() if _is_colour(value)}
    return {**named, "ground": _hex(ground), "days": _hex(days)}


def _is_colour(value: object) -> bool:
    return isinstance(value, str) and value.startswith("#")


def _hex(colours: Any) -> list[str]:
    return ["#" + "".join(f"{round(255 * part):02x}" for part in row[:3]) for row in colours]
