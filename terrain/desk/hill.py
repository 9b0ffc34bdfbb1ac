"""What is asked of a hill: from one spot on one day, and from every cell in a year."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.planes import Plane, Scale
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import NoAnswer
from terrain.frame.answer import SpotAnswer, answer_at
from terrain.sun.calendar import calendar_year
from terrain.words.answer import record_of, said_of
from terrain.words.framing import framing_lines
from terrain.words.records import for_json

DAYS = Scale(0.0, 1.0)
LENS_MM: Final = (1.0, 3000.0)


def answer(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """Whether the sun is behind the hill of a spot: the record of `terrain sunrise`, and words.

    With scenes=0 without the small scenes in view, so that it is there sooner. With lens_mm what
    that lens takes in as well, and the scenes are for it.
    """
    given, day, evening = table.given(asked), asked.day(), asked.evening
    scene = table.scene(asked)
    job.check()
    bag = _bag(table, asked)
    kit = None if asked.said.get("scenes") == "0" else bag
    found = answer_at(scene, table.camera(given), day, kit=kit, evening=evening)
    job.check()
    words = [*said_of(found, given).lines]
    if asked.said.get("lens_mm"):
        words += _frame(scene, found, bag)
    return {**for_json(record_of(found)), "words": words}


def _bag(table: Table, asked: Asked) -> terrain.Kit:
    """The lens that is asked about, or all of the kit."""
    if not asked.said.get("lens_mm"):
        return table.kit
    lens_mm = asked.number("lens_mm", least=LENS_MM[0], most=LENS_MM[1])
    return replace(table.kit, lenses_mm=(lens_mm,))


def _frame(scene: terrain.Scene, found: SpotAnswer, bag: terrain.Kit) -> list[str]:
    """What a lens takes in, a line each; none where there is nothing to frame."""
    try:
        framing = terrain.frame_view(scene, found.backlight, kit=bag)
    except NoAnswer:
        return []
    return list(framing_lines(framing, chosen=True))


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
