"""What a command prints: tables and lines for people, JSON for scripts, progress on stderr."""

from __future__ import annotations

import datetime as dt
import json
import math
import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

if TYPE_CHECKING:
    import geopandas as gpd

__all__ = [
    "aside",
    "clock",
    "line",
    "minutes",
    "print_json",
    "progress",
    "rows_of",
    "saved",
    "table",
]


def line(text: str) -> None:
    """Print one line for a person."""
    _say(text, sys.stdout)


def aside(text: str) -> None:
    """Print a line on stderr, so that what is on stdout stays whole."""
    _say(text, sys.stderr)


def saved(path: Path) -> None:
    """Say what was written, on stderr, so that JSON on stdout stays whole."""
    aside(f"wrote {path}")


def table(
    title: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    left: Sequence[str] = (),
) -> None:
    """Print a table; the first column and those in `left` are set left, the others right."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    sheet = Table(
        title=title[:1].upper() + title[1:],
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(headings),
    )
    for number, heading in enumerate(headings):
        to_left = number == 0 or heading in left
        sheet.add_column(heading, justify="left" if to_left else "right", overflow="fold")
    for row in rows:
        sheet.add_row(*row)
    console = Console()
    # a pipe has no width of its own: rows must not be folded there
    if not console.is_terminal:
        console = Console(width=max(console.width, 160))
    with console.capture() as drawn:
        console.print(sheet)
    line(drawn.get().removesuffix("\n"))


def print_json(value: object) -> None:
    """Print a value as JSON: times in ISO 8601 with their UTC offset, unknown numbers as null."""
    line(json.dumps(_plain(value), indent=2, ensure_ascii=False))


def clock(moment: dt.datetime | None) -> str:
    """A moment to the nearest second as the local clock shows it, with the zone.

    >>> clock(dt.datetime(2026, 1, 5, 7, 12, 5, tzinfo=dt.timezone(dt.timedelta(hours=-2))))
    '07:12:05 (UTC-2)'
    """
    if moment is None:
        return "-"
    nearest = moment + dt.timedelta(microseconds=500_000)
    return f"{nearest:%H:%M:%S} ({_zone(moment)})"


def minutes(seconds: float) -> str:
    """A spell of time in the unit that suits it.

    >>> minutes(75.0), minutes(40.4)
    ('1.2 min', '40 s')
    """
    return f"{seconds:.0f} s" if seconds < 60.0 else f"{seconds / 60.0:.1f} min"


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


def _say(text: str, stream: TextIO) -> None:
    """Print a line; a reader who has left, as `| head` does, must not stop the saving."""
    try:
        print(text, file=stream, flush=True)
    except BrokenPipeError:
        # what is still in the buffer and all that follows goes nowhere
        with Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), stream.fileno())


def _zone(moment: dt.datetime) -> str:
    name = moment.tzname() or ""
    if name.isalpha():
        return name
    hours = (moment.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
    return f"UTC{hours:+g}"


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, dt.datetime):
        return value.isoformat(timespec="milliseconds")
    if isinstance(value, dt.date):
        return value.isoformat()
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value
