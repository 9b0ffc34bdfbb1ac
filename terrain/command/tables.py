"""Tables for people: as many columns as the terminal is wide, each explained on demand."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from io import StringIO
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

from terrain.command.explained import DISPENSABLE, meaning
from terrain.command.streams import in_its_letters, say
from terrain.command.wrapping import wrapped
from terrain.ground.names import LONGEST, plain

if TYPE_CHECKING:
    from rich.table import Table

_BETWEEN: Final = 3
_PLACE: Final = re.compile(r"-?\d+\.\d+, -?\d+\.\d+")
_WIDEST: Final = 400
_CUT: Final = f"A name that ends in … is longer than the {LONGEST} letters that are kept of one."


@dataclass(frozen=True, kw_only=True)
class Telling:
    """How tables are told: wide, with all columns however wide that is; explain, each column."""

    wide: bool = False
    explain: bool = False


_telling: ContextVar[Telling] = ContextVar("telling", default=Telling())  # noqa: B039
# what is said once under all tables of an answer
_once: ContextVar[set[str] | None] = ContextVar("once", default=None)


@contextmanager
def told(telling: Telling) -> Iterator[None]:
    """Tell the tables of the block so."""
    token, once = _telling.set(telling), _once.set(set())
    try:
        yield
    finally:
        _telling.reset(token)
        _once.reset(once)


class Column(NamedTuple):
    """One column of a table: its heading, how to write a cell of it, and on which side.

    write: from a row to the text of its cell. left: set left, as the first column always is.
    """

    heading: str
    write: Callable[[Any], str]
    left: bool = False


class _Written(NamedTuple):
    """A column with all that stands in it; words: how wide its longest word is."""

    heading: str
    cells: list[str]
    left: bool

    @property
    def words(self) -> int:
        from rich.cells import cell_len

        texts = (self.heading, *self.cells)
        return max((cell_len(word) for text in texts for word in _words(text)), default=0)

    def widest(self, texts: Iterable[str]) -> int:
        """How wide the longest line of some of it is."""
        from rich.cells import cell_len

        return max((cell_len(line) for text in texts for line in text.split("\n")), default=0)


def _words(text: str) -> list[str]:
    """What is not broken: words, and latitude with longitude."""
    return [text] if _PLACE.fullmatch(text) else text.split()


def table(
    title: str, columns: Sequence[Column], rows: Iterable[Any], *, numbered: bool = False
) -> None:
    """Print a table, a line a row; numbered: with the number of each row before it.

    What does not fit a terminal is broken between words, and columns that can be spared are left
    out, and named.
    """
    from rich.console import Console

    every = list(rows)
    written = [
        _Written(
            _shown(one.heading),
            [_shown(one.write(row)) for row in every],
            one.left or (at == 0 and not numbered),
        )
        for at, one in enumerate(columns)
    ]
    if numbered:
        numbers = [str(number) for number, _ in enumerate(every, start=1)]
        written.insert(0, _Written("no.", numbers, True))
    stream = Console()
    width = _width(stream)
    kept, spared = _fitting(written, width)
    least = sum(one.words + _BETWEEN for one in kept)
    drawn = StringIO()
    console = Console(
        file=drawn,
        width=max(width, least),
        force_terminal=stream.is_terminal,
        # what stands in brackets or between colons is part of a name
        markup=False,
        emoji=False,
    )
    # by itself, for a table breaks its title to its own width, however narrow that is
    heading = _shown(title[:1].upper() + title[1:])
    console.print(heading, style="table.title", highlight=False)
    console.print(_sheet(kept, len(every), console.width), highlight=False)
    say(drawn.getvalue().removesuffix("\n"), sys.stdout)
    for words in _below(kept, spared):
        say(wrapped(words, sys.stdout), sys.stdout)
    if any(map(_has_cut_name, (title, *(cell for one in kept for cell in one.cells)))):
        _say_once(_CUT)


def _has_cut_name(text: str) -> bool:
    return "…" in text and len(text) >= LONGEST - 1


def _say_once(words: str) -> None:
    said = _once.get()
    if said is None or words not in said:
        say(wrapped(words, sys.stdout), sys.stdout)
        say("", sys.stdout)
    if said is not None:
        said.add(words)


def pairs(title: str, rows: Iterable[tuple[str, str]]) -> None:
    """Print a table of things and what they are."""
    table(title, [Column("", itemgetter(0)), Column("", itemgetter(1), True)], rows)


def _width(stream: Any) -> int:
    if _telling.get().wide:
        return _WIDEST
    # a pipe has no width of its own: rows must not be folded there, unless that is asked for
    known = stream.is_terminal or "COLUMNS" in os.environ
    return int(stream.width if known else max(stream.width, 160))


def _fitting(written: Sequence[_Written], width: int) -> tuple[list[_Written], list[str]]:
    """The columns that fit, and the headings of those that were spared for them."""
    kept, spared = list(written), []
    for heading in DISPENSABLE:
        if sum(one.words + _BETWEEN for one in kept) <= width:
            break
        fewer = [one for one in kept if _in_line(one.heading) != heading]
        spared += [_in_line(one.heading) for one in kept if one not in fewer]
        kept = fewer
    return kept, spared


def _widths(columns: Sequence[_Written], width: int) -> list[int]:
    """How wide each column is: its longest word at least; where there is room its cells in a line,
    the narrowest first, and then its heading."""
    widths = [one.words for one in columns]
    left = width - sum(widths) - _BETWEEN * len(columns)
    for wishes in (
        [one.widest(one.cells) for one in columns],
        [one.widest([one.heading]) for one in columns],
    ):
        for at in sorted(range(len(columns)), key=wishes.__getitem__):
            more = max(min(wishes[at] - widths[at], left), 0)
            widths[at] += more
            left -= more
    return widths


def _sheet(columns: Sequence[_Written], count: int, width: int) -> Table:
    from rich import box
    from rich.table import Table

    sheet = Table(
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_header=any(one.heading for one in columns),
    )
    for one, wide in zip(columns, _widths(columns, width), strict=True):
        side: Literal["left", "right"] = "left" if one.left else "right"
        sheet.add_column(one.heading, justify=side, overflow="fold", width=wide)
    for row in range(count):
        sheet.add_row(*(one.cells[row] for one in columns))
    return sheet


def _below(columns: Sequence[_Written], spared: Sequence[str]) -> Iterator[str]:
    """What is said under a table: what its columns mean, and which were left out."""
    if _telling.get().explain:
        for one in columns:
            if sentence := meaning(_in_line(one.heading)):
                yield f"  {_in_line(one.heading)}: {sentence}"
        yield ""
    if spared:
        yield f"Left out for the width, shown with --wide: {', '.join(spared)}."
        yield ""


def _in_line(heading: str) -> str:
    """A heading in one line, without the zone of a clock."""
    return " ".join(heading.split()).partition(" (")[0]


def _shown(text: str) -> str:
    return in_its_letters("\n".join(plain(part) for part in text.split("\n")), sys.stdout)
