"""What is taken along: the plan of what the desk shows, as a sheet, a way, times with alarms."""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from starlette.responses import Response

import terrain
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import TerrainError
from terrain.ground.geodesy import azimuth_and_distance

Save = Callable[[Table, terrain.Plan, Path], None]

_drawing = threading.Lock()
"""Pictures are drawn one at a time: matplotlib does not promise more."""


class _Kind(NamedTuple):
    """How a kind of file is written, and what a browser is told that it is."""

    save: Save
    media: str


def _save_way(table: Table, plan: terrain.Plan, path: Path) -> None:
    terrain.save_gpx(plan, path)


def _save_times(table: Table, plan: terrain.Plan, path: Path) -> None:
    terrain.save_calendar(plan, path)


def _save_sheet(table: Table, plan: terrain.Plan, path: Path) -> None:
    with _drawing:
        terrain.save_sheet(plan, path, paths=table.tract.ways())


_KINDS: Final = {
    "sheet.html": _Kind(_save_sheet, "text/html"),
    "plan.gpx": _Kind(_save_way, "application/gpx+xml"),
    "plan.ics": _Kind(_save_times, "text/calendar"),
}


def take(table: Table, asked: Asked, job: Job) -> Response:
    """The plan of the spot, hill and day of a request as a file of the name asked for."""
    name = asked.text("file")
    if name not in _KINDS:
        raise TerrainError(f"there is no file {name} to take along: {', '.join(_KINDS)} there are")
    kind, plan = _KINDS[name], _plan(table, asked, job)
    job.check()
    with tempfile.TemporaryDirectory(prefix="terrain-desk-") as folder:
        path = Path(folder, name)
        kind.save(table, plan, path)
        content = path.read_bytes()
    return download(content, f"{plan.day:%Y-%m-%d}-{name}", kind.media)


def download(content: bytes, name: str, media: str) -> Response:
    """A file for the browser to keep under a name."""
    says = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media, headers=says)


def _plan(table: Table, asked: Asked, job: Job) -> terrain.Plan:
    scene, day, evening = table.scene(asked), asked.day(), asked.evening
    camera = table.camera(table.given(asked))
    start = _start(table, asked, camera)
    plan: terrain.Plan = table.kept(
        ("plan", scene, camera, day, evening, start),
        lambda: terrain.plan_morning(
            scene.country,
            camera,
            scene.hill,
            day,
            start=start,
            paths=table.tract.ways(),
            water=scene.country.water,
            kit=table.kit,
            evening=evening,
            progress=job.step,
        ),
        job,
    )
    return plan


def _start(table: Table, asked: Asked, camera: terrain.Spot) -> terrain.Spot:
    """Where the walk begins: as asked, or else at the nearest of the area's starts."""
    if asked.said.get("start"):
        return table.tract.spot(asked.text("start"))
    starts = list(table.tract.starts.values())
    if not starts:
        raise TerrainError(
            "a plan needs a start: say where to walk from, or give [starts] to the area"
        )

    def away_m(start: terrain.Spot) -> float:
        ends = (camera.lon_deg, camera.lat_deg, start.lon_deg, start.lat_deg)
        return float(azimuth_and_distance(*ends)[1])

    return min(starts, key=away_m)
