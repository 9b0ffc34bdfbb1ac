"""The colours of our pictures for the page, which draws with nothing else."""

from __future__ import annotations

from typing import Any

import numpy as np

from terrain.desk.asked import Asked
from terrain.desk.work import Job
from terrain.show.map.year_colours import YEAR_RING, ring_place
from terrain.show.paper import palette


def colours(table: object, asked: Asked, job: Job) -> dict[str, Any]:
    """The colours of our pictures: each by its name, and one for each day of the year."""
    days = YEAR_RING(ring_place(np.arange(1, 367)))
    ground = palette.GROUND(np.linspace(0.0, 1.0, 16))
    named = {name.lower(): value for name, value in vars(palette).items() if _is_colour(value)}
    return {**named, "ground": _hex(ground), "days": _hex(days)}


def _is_colour(value: object) -> bool:
    return isinstance(value, str) and value.startswith("#")


def _hex(colours: Any) -> list[str]:
    return ["#" + "".join(f"{round(255 * part):02x}" for part in row[:3]) for row in colours]
