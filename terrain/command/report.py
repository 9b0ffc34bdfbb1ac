"""What a command prints: tables and lines for people, JSON for scripts, progress on stderr."""

from __future__ import annotations

import datetime as dt
import json
import math
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TextIO

if TYPE_CHECKING:
    import geopandas as gpd


def line(*texts: str) -> None:
    """Print lines for a person."""
    for text in texts:
        _say(text, sys.stdout)


def aside(text: str) -> None:
    """Print a line on stderr, so that what is on stdout stays whole."""
    _say(text, sys.stderr)


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
        title=title[:1].upper() + title[1:],
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
        sheet.add_row(*[str(number)] * numbered, *(column.write(row) for column in columns))
    console = Console()
    # a pipe has no width of its own: rows must not be folded there
    if not console.is_terminal:
        console = Console(width=max(console.width, 160))
    with console.capture() as drawn:
        console.print(sheet)
    line(drawn.get().removesuffix("\n"))


def pairs(title: str, rows: Iterable[tuple[str, str]]) -> None:
    """Print a table of things and what they are."""
    table(title, [Column("", itemgetter(0)), Column("", itemgetter(1))], rows)


def print_json(value: object) -> None:
    """Print a value as JSON: a record by its fields, times in ISO 8601, unknown numbers as null."""
    line(json.dumps(_plain(value), indent=2, ensure_ascii=False))


def picked(thing: object, *names: str) -> dict[str, Any]:
    """Some parts of an answer by their names, for `print_json`."""
    return {name: getattr(thing, name) for name in names}


def rows_of(table: gpd.GeoDataFrame) -> list[dict[str, Any]]:
    """The rows of a table with places, for `print_json`, each with lon_deg and lat_deg."""
    points = table.geometry
    plain = table.drop(columns=points.name).assign(lon_deg=points.x, lat_deg=points.y)
    records: list[dict[str, Any]] = plain.to_dict("records")
    return records


@contextmanager
def progress(what: str, *, quiet: bool = False) -> Iterator[Callable[[float], None]]:
    """A bar on stderr for work that may take more than two seconds; call it with 0 to 1."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    shown = Console(stderr=True)
    bar = Progress(*columns, console=shown, transient=True, disable=quiet or not shown.is_terminal)
    with bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _say(text: str, stream: TextIO | None) -> None:
    """Print a line; a reader who has left, as `| head` does, must not stop the saving."""
    # a stream that was closed before the start is none at all, and print would take another
    if stream is None:
        return
    try:
        print(text, file=stream, flush=True)
    except BrokenPipeError:
        # what is still in the buffer and all that follows goes nowhere
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), stream.fileno())


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        value = {part.name: getattr(value, part.name) for part in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, dt.datetime):
        # of a table a moment may be none at all, which does not equal itself
        return value.isoformat(timespec="milliseconds") if value == value else None
    if isinstance(value, dt.date):
        return value.isoformat()
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value
