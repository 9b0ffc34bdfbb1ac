"""The answers of a desk by their addresses.

Nothing heavy is loaded with this module: the page is served at once, and the rooms that answer it
load on a thread while the ground is read.
"""

from __future__ import annotations

import asyncio
import json
import mimetypes
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from terrain.desk.asked import Asked
from terrain.desk.desk import Desk
from terrain.desk.work import Dropped, Job
from terrain.errors import TerrainError
from terrain.words.records import for_json

PAGE: Final = Path(__file__).parent / "page"

_FIRST: Final = {
    "/ground.json": "ground.told",
    "/heights/{tile}": "ground.heights",
    "/colours.json": "colours.colours",
}
"""Which function of which module answers of the ground alone, what is asked, and the job."""

_ANSWERS: Final = {
    "/about.json": "about.about",
    "/sun.json": "lowsun.sun",
    "/flood/{tile}": "ground.flood",
    "/valley/{tile}": "ground.valley",
    "/visible/{tile}": "ground.visible",
    "/light/{tile}": "light.light",
    "/seen.json": "seen.seen",
    "/seen/{id}": "seen.planes",
    "/answer.json": "hill.answer",
    "/atlas/{tile}": "hill.atlas",
    "/survey.json": "surveyed.rows",
    "/take/desk.html": "offline.desk",
    "/take/{file}": "carry.take",
    "/sky/{sun_altitude_deg}": "air.sky",
}
"""The same for answers that need the whole table."""

_STREAMS: Final = {
    "/vantages": "rankings.vantages",
    "/season": "rankings.season",
}
"""The same for answers that take long, and tell how far they are as they go."""


def app_of(desk: Desk) -> Starlette:
    """The application of a desk, which opens it when the server starts and closes it at the end."""
    mimetypes.add_type("text/javascript", ".js")

    @asynccontextmanager
    async def open_desk(app: Starlette) -> AsyncIterator[None]:
        desk.open()
        yield
        desk.close()

    routes: list[BaseRoute] = [
        *(Route(path, partial(_answer, desk, by)) for path, by in (_FIRST | _ANSWERS).items()),
        *(Route(path, partial(_stream, desk, by)) for path, by in _STREAMS.items()),
        Route("/drop/{job}", partial(_drop, desk), methods=["POST"]),
        Mount("/", StaticFiles(directory=PAGE, html=True)),
    ]
    handlers: dict[Any, Any] = {HTTPException: _http_wrong, Exception: _defect}
    return Starlette(routes=routes, lifespan=open_desk, exception_handlers=handlers)


async def _answer(desk: Desk, by: str, request: Request) -> Response:
    """Answer on a thread, and drop the work when the page no longer waits."""
    job, asked = Job(), _asked(request)
    with desk.at_work(job, asked.said.get("job", "")):
        working = asyncio.ensure_future(_work(desk, by, asked, job))
        waiting = asyncio.ensure_future(_hang_up(request))
        await asyncio.wait({working, waiting}, return_when=asyncio.FIRST_COMPLETED)
        waiting.cancel()
        if not working.done():
            job.drop()
        try:
            response = _response(await working)
            if by == _FIRST["/heights/{tile}"]:
                desk.sent.set()
            return response
        except Dropped as error:
            return _wrong(str(error), 409)
        except TerrainError as error:
            return _wrong(str(error), 400)


async def _stream(desk: Desk, by: str, request: Request) -> Response:
    """Tell how far the work is, then what came of it, as server-sent events."""
    asked, said = _asked(request), asyncio.Queue[tuple[str, Any] | None]()
    loop = asyncio.get_running_loop()

    def tell(share: float, words: str) -> None:
        event = ("progress", {"done": round(100 * share), "of": 100, "words": words})
        loop.call_soon_threadsafe(said.put_nowait, event)

    async def work(job: Job) -> None:
        try:
            for event in await _work(desk, by, asked, job):
                said.put_nowait(event)
        except TerrainError as error:
            said.put_nowait(("wrong", {"wrong": str(error)}))
        except Exception as error:
            said.put_nowait(("wrong", {"wrong": _defect_line(error)}))
        said.put_nowait(None)

    async def events() -> AsyncIterator[str]:
        job, last = Job(tell), None
        with desk.at_work(job, asked.said.get("job", "")):
            working = asyncio.ensure_future(work(job))
            try:
                while (event := await said.get()) is not None:
                    # progress by whole hundredths, each once
                    if event != last:
                        name, data = last = event
                        yield f"event: {name}\ndata: {json.dumps(for_json(data))}\n\n"
                await working
            finally:
                job.drop()

    return StreamingResponse(events(), media_type="text/event-stream")


async def _work(desk: Desk, by: str, asked: Asked, job: Job) -> Any:
    """What a function of this room answers, on a thread, once the table is laid."""
    table: Any = desk.ground if by in _FIRST.values() else desk.table
    laid = await asyncio.shield(asyncio.wrap_future(table))
    room, _, name = by.partition(".")

    def work() -> Any:
        job.check()
        return getattr(import_module(f"terrain.desk.{room}"), name)(laid, asked, job)

    return await asyncio.get_running_loop().run_in_executor(desk.threads, work)


async def _drop(desk: Desk, request: Request) -> Response:
    return JSONResponse({"dropped": desk.jobs.drop(request.path_params["job"])})


async def _hang_up(request: Request) -> None:
    """Return when the page no longer waits for the answer."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


def _asked(request: Request) -> Asked:
    return Asked({**request.query_params, **request.path_params})


def _response(answer: Any) -> Response:
    """A record as JSON; a plane, or several with headers, as their bytes; a file as it is."""
    if isinstance(answer, Response):
        return answer
    planes, headers = answer if isinstance(answer, tuple) else (answer, {})
    if hasattr(planes, "tobytes"):
        return Response(planes.tobytes(), media_type="application/octet-stream", headers=headers)
    return JSONResponse(for_json(planes))


async def _http_wrong(request: Request, error: HTTPException) -> Response:
    lines = {404: f"there is nothing at {request.url.path}", 405: "this cannot be asked so"}
    return _wrong(lines.get(error.status_code, error.detail), error.status_code)


async def _defect(request: Request, error: Exception) -> Response:
    return _wrong(_defect_line(error), 500)


def _defect_line(error: Exception) -> str:
    return f"{type(error).__name__}: {error} (this is a defect in terrain, not in your data)"


def _wrong(line: str, code: int) -> Response:
    return JSONResponse({"wrong": " ".join(line.split())}, status_code=code)
