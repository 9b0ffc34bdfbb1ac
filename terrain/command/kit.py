"""The kit of a command line: its options, and what they and the area file make of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from terrain.errors import TerrainError

if TYPE_CHECKING:
    from terrain.command.area import Area
    from terrain.plan.morning import Kit

__all__ = ["Lenses", "SensorSize", "kit_of"]

Lenses = Annotated[
    list[str] | None,
    typer.Option(
        "--lens",
        metavar="MM",
        help="A lens of the kit: 200, or 70-200 for a zoom; repeatable.",
        show_default="24, 70, 200 and 400",
    ),
]
SensorSize = Annotated[
    str | None,
    typer.Option(
        "--sensor", metavar="MMxMM", help="Width and height of the sensor.", show_default="36x24"
    ),
]


def kit_of(area: Area, lenses: list[str] | None, sensor: str | None) -> Kit:
    """Sensor and lenses by the options, or else by the area file, or else ordinary ones."""
    from terrain.frame.lens import Sensor
    from terrain.plan.morning import Kit

    width, height = _numbers(sensor, "x") if sensor else area.kit.get("sensor_mm", (36.0, 24.0))
    mm = [_lens(text) for text in lenses] if lenses else area.kit.get("lenses_mm")
    try:
        held = Sensor(width_mm=float(width), height_mm=float(height))
        if mm is None:
            return Kit(sensor=held)
        lens_mm = tuple(tuple(x) if isinstance(x, list | tuple) else float(x) for x in mm)
        return Kit(sensor=held, lenses_mm=lens_mm)
    except (TypeError, ValueError) as error:
        raise TerrainError(f"the [kit] of the area file cannot be used: {error}") from error


def _lens(text: str) -> float | tuple[float, float]:
    if "-" not in text:
        (focal_mm,) = _numbers(text, "-")
        return focal_mm
    shortest, longest = _numbers(text, "-")
    return shortest, longest


def _numbers(text: str, between: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.lower().split(between)]
    except ValueError:
        numbers = []
    if len(numbers) != 2 and not (between == "-" and len(numbers) == 1):
        example = "36x24" if between == "x" else "200 or 70-200"
        raise TerrainError(f"{text!r} is not in millimetres: give it as {example}")
    return numbers
