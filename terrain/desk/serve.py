"""A desk served to the browser of this machine, until Ctrl-C."""

from __future__ import annotations

import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from typing import TYPE_CHECKING, Final

import uvicorn

from terrain.desk.app import app_of
from terrain.desk.desk import Desk
from terrain.desk.guard import Guard
from terrain.desk.work import Job
from terrain.errors import TerrainError

if TYPE_CHECKING:
    from terrain.desk.table import Ground, Table

_HERE: Final = "127.0.0.1"
_FIRST_S: Final = 0.5
_WAIT_S: Final = 1
"""How long answers at work may take to end when the desk is closed."""


def serve(
    lay: Callable[[Callable[[Ground], None]], Table],
    *,
    port: int | None,
    say: Callable[[str], None],
    browser: bool,
) -> None:
    """Serve a desk until it is ended.

    lay: reads its ground, and shows it as soon as it has. port: a free one unless given. say: is
    told the address once the desk answers. browser: whether to open it there. Raises what `lay`
    raises, and TerrainError for a port that is taken.
    """
    listener = listen(port)
    with listener:
        at = listener.getsockname()[1]
        desk = Desk(lay, failed=lambda: setattr(server, "should_exit", True), warm=_warm)
        guard = Guard(app_of(desk), port=at)
        address = f"http://{_HERE}:{at}/?t={guard.token}"
        server = uvicorn.Server(
            uvicorn.Config(
                guard,
                log_config=None,
                log_level="critical",
                access_log=False,
                ws="none",
                server_header=False,
                timeout_graceful_shutdown=_WAIT_S,
            )
        )
        # a connection that comes before the server is ready waits in the listener
        say(address)
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        # the server ends in good order first, and then says by what
        with suppress(KeyboardInterrupt):
            server.run(sockets=[listener])
        desk.close()
        if desk.table.done():
            desk.table.result()


def _warm(table: Table, job: Job) -> None:
    """Load the rooms that the page will ask, once it has had what it shows first."""
    time.sleep(_FIRST_S)
    warm = import_module("terrain.desk.warm")
    warm.warm(table, job)


def listen(port: int | None) -> socket.socket:
    """A socket of this machine alone, at a port or a free one; TerrainError where it is taken."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((_HERE, port or 0))
    except OSError as error:
        listener.close()
        raise TerrainError(
            f"port {port} cannot be had ({error.strerror}): give another, or none"
        ) from error
    listener.listen(128)
    return listener
