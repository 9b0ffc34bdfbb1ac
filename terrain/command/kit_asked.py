"""The options of the kit, and the kit that they ask for in an area."""

from __future__ import annotations

from dataclasses import dataclass

import terrain
from terrain.command.area import Area
from terrain.command.bounds import LENS_MM, SENSOR_MM
from terrain.command.options import option
from terrain.errors import TerrainError


@dataclass(frozen=True, kw_only=True)
class KitOptions:
    """What a command line can say of the kit."""

    lens: list[str] | None = option(
        "MM",
        "A lens of the kit: 200, or 70-200 for a zoom; repeatable.",
        shown="24, 70, 200 and 400",
    )
    sensor: str | None = option("MMxMM", "Width and height of the sensor.", shown="36x24")

    def over(self, area: Area) -> terrain.Kit:
        """Sensor and lenses by the options, or else by the area file, or else ordinary ones."""
        size = area.kit.get("sensor_mm", (36.0, 24.0))
        if self.sensor:
            size = [SENSOR_MM.check("--sensor", mm) for mm in _numbers(self.sensor, "x")]
        sensor = terrain.Sensor(width_mm=size[0], height_mm=size[1])
        lenses = [_lens(text) for text in self.lens] if self.lens else area.kit.get("lenses_mm")
        if lenses is None:
            return terrain.Kit(sensor=sensor)
        each = (tuple(lens) if isinstance(lens, list) else lens for lens in lenses)
        return terrain.Kit(sensor=sensor, lenses_mm=tuple(each))


def _lens(text: str) -> float | tuple[float, float]:
    mm = [LENS_MM.check("--lens", one) for one in _numbers(text, "-")]
    return mm[0] if len(mm) == 1 else (mm[0], mm[1])


def _numbers(text: str, between: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.lower().split(between)]
    except ValueError:
        numbers = []
    if len(numbers) != 2 and not (between == "-" and len(numbers) == 1):
        example = "36x24" if between == "x" else "200 or 70-200"
        raise TerrainError(f"{text[:60]!r} is not in millimetres: give it as {example}")
    return numbers
