"""Area files that are almost good."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import terrain
from terrain.command.area_file import open_area
from terrain.command.kit_asked import KitOptions
from terrain.command.mist_asked import MistOptions
from tests.attacks import AREA, Case, island
from tests.attacks.environment import COMMANDS
from tests.attacks.mutating import Kind, mutants

_AREA = """name = "Isle"
rasters = ["a.tif", "b.tif"]
crs = "EPSG:27700"
height_unit = "foot"
band = 2
[places]
"the stile" = [54.40, -24.01]
"Ärm" = "54.41,-24.05"
[starts]
quay = [54.39, -23.95]
[kit]
sensor_mm = [36, 24]
lenses_mm = [24, [70, 200], 400.0]
[defaults]
hill = "the stile"
mist_top_m = 280
date = 2026-10-13
""".encode()


def _read(path: Path) -> object:
    area = open_area([path])
    place = area.spot("the stile")
    kit = KitOptions(lens=None, sensor=None).over(area)
    mist = MistOptions(mist_top=None, mist_depth=None, mist_ceiling=None, source=None).over(area)
    frame = [terrain.Sensor(width_mm=kit.sensor.width_mm, height_mm=kit.sensor.height_mm)]
    return area.hill_place(None), area.day(None, place), kit, mist, frame


def kinds() -> list[Kind]:
    """A good area file."""
    return [Kind("area/area.toml", _AREA, _read, text=True)]


def cases() -> Iterator[Case]:
    """Mutants of the island's own, for each command."""
    kind = Kind("area/area.toml", AREA.encode(), _read, text=True)
    for number, command in enumerate(COMMANDS):
        first = 3000 + 10 * number
        for name, content in mutants(kind, range(first, first + 6)):
            yield Case(
                f"{command} of {name}",
                [command, "area.toml", *COMMANDS[command]],
                island() | {"area.toml": content},
                quick=command == "summits" and name.endswith("0"),
            )
