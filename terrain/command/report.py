"""What a command prints: tables and lines for people, JSON for scripts, progress on stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from io import StringIO
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from terrain.command.streams import in_its_letters, say
from terrain.ground.names import plain
from terrain.words.records import for_json

if TYPE_CHECKING:
    pass


def line(*texts: str) -> None:
    """Print lines for a person."""
    for text in texts:
        say(plain(text), sys.stdout)


def aside(text: str) -> None:
    """Print a line on stderr, so that what is on stdout stays whole."""
    say(plain(text), sys.stderr)


def saved(path: Path) -> None:
    """Say what was written, on stderr, so that JSON on stdout stays whole."""
    aside(f"wrote {path}")


class Column(NamedTuple):
    """One column of a table: its heading, how to write a cell of it, and on which side.

    write: from a row to the text of its cell. left: set left, as the first column always is.
    """

    heading: str
    write: Callable[[Any], str]
    left: bool = False


def table(
    title: str, columns: Sequence[Column], rows: Iterable[Any], *, numbered: bool = False
) -> None:
    """Print a table, a line a row; numbered: with the number of each row before it."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    sheet = Table(
        title=_shown(title[:1].upper() + title[1:]),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(column.heading for column in columns),
    )
    if numbered:
        sheet.add_column("no.", overflow="fold")
    for at, column in enumerate(columns):
        to_left = column.left or (at == 0 and not numbered)
        sheet.add_column(column.heading, justify="left" if to_left else "right", overflow="fold")
    for number, row in enumerate(rows, start=1):
        cells = (_shown(column.write(row)) for column in columns)
        sheet.add_row(*[str(number)] * numbered, *cells)
    stream = Console()
    drawn = StringIO()
    console = Console(
        file=drawn,
        # a pipe has no width of its own: rows must not be folded there
        width=stream.width if stream.is_terminal else max(stream.width, 160),
        force_terminal=stream.is_terminal,
        # what stands in brackets or between colons is part of a name
        markup=False,
        emoji=False,
    )
    console.print(sheet, highlight=False)
    say(drawn.getvalue().removesuffix("\n"), sys.stdout)


def pairs(title: str, rows: Iterable[tuple[str, str]]) -> None:
    """Print a table of things and what they are."""
    table(title, [Column("", itemgetter(0)), Column("", itemgetter(1))], rows)


def print_json(value: object) -> None:
    """Print a value as JSON: a record by its fields, times in ISO 8601, unknown numbers as null."""
    letters = sys.stdout.encoding or ""
    few = not letters.lower().replace("-", "").startswith("utf")
    line(json.dumps(for_json(value), indent=2, ensure_ascii=few))


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[float], None]]:
    """A bar on stderr for work that may take more than two seconds; call it with 0 to 1."""
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
    shown = Console(stderr=True)
    bar = Progress(*columns, console=shown, transient=True, disable=quiet or not shown.is_terminal)
    with bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _shown(text: str) -> str:
    return in_its_letters(plain(text), sys.stdout)
