"""What a command prints: lines for people, JSON for scripts, progress on stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

from terrain.command.streams import make_room, say
from terrain.command.wrapping import wrapped
from terrain.compiling import on_each_compile
from terrain.ground.names import plain
from terrain.words.records import for_json


def line(*texts: str) -> None:
    """Print lines for a person, broken between words."""
    for text in texts:
        say(wrapped(plain(text), sys.stdout), sys.stdout)


def aside(text: str) -> None:
    """Print a line on stderr, so that what is on stdout stays whole."""
    say(wrapped(plain(text), sys.stderr), sys.stderr)


def saved(path: Path) -> None:
    """Say what was written, on stderr, so that JSON on stdout stays whole."""
    aside(f"wrote {path}")


def print_json(value: object) -> None:
    """Print a value as JSON: a record by its fields, times in ISO 8601, unknown numbers as null."""
    letters = sys.stdout.encoding or ""
    few = not letters.lower().replace("-", "").startswith("utf")
    say(plain(json.dumps(for_json(value), indent=2, ensure_ascii=few)), sys.stdout)


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[float], None]]:
    """A bar on stderr for work that may take more than two seconds; call it with 0 to 1.

    While it stands still because the work has to be compiled first, it counts what has been.
    """
    if quiet:
        yield lambda share: None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        TextColumn("to go"),
        TimeRemainingColumn(),
    )
    make_room()
    shown = Console(stderr=True)
    bar = Progress(*columns, console=shown, transient=True, disable=not shown.is_terminal)
    with bar:
        task, compiled = bar.add_task(what, total=1.0), count(1)

        def tell_compiled() -> None:
            bar.update(task, description=f"{what}: compiling, part {next(compiled)}")

        with on_each_compile(tell_compiled):
            yield lambda share: bar.update(task, completed=share, description=what)
