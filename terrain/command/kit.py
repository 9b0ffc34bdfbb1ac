"""The kit of a command line: its options, and what they and the area file make of it."""

from __future__ import annotations

from dataclasses import dataclass

import terrain
from terrain.command.area import Area
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
        size = _numbers(self.sensor, "x") if self.sensor else area.kit.get("sensor_mm", (36, 24))
        mm = [_lens(text) for text in self.lens] if self.lens else area.kit.get("lenses_mm")
        try:
            width, height = size
            held = terrain.Sensor(width_mm=float(width), height_mm=float(height))
            if mm is None:
                return terrain.Kit(sensor=held)
            lens_mm = tuple(tuple(x) if isinstance(x, list | tuple) else float(x) for x in mm)
            return terrain.Kit(sensor=held, lenses_mm=lens_mm)
        except (TypeError, ValueError) as error:
            raise TerrainError(f"the [kit] of the area file cannot be used: {error}") from error


def _lens(text: str) -> float | tuple[float, ...]:
    numbers = _numbers(text, "-")
    return numbers[0] if len(numbers) == 1 else tuple(numbers)


def _numbers(text: str, between: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.lower().split(between)]
    except ValueError:
        numbers = []
    if len(numbers) != 2 and not (between == "-" and len(numbers) == 1):
        example = "36x24" if between == "x" else "200 or 70-200"
        raise TerrainError(f"{text!r} is not in millimetres: give it as {example}")
    return numbers
