"""Sentences for a terminal, broken between words: a terminal breaks them in the middle of one.

A pipe has no width, so nothing is broken there; nor is a command line, which is to be copied whole.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from typing import Final, TextIO

_TO_TYPE: Final = re.compile(r"(?<=; try:) (?=terrain )")
_COMMAND: Final = re.compile(r"\s*terrain [a-z]+ ")
_BEGINS: Final = re.compile(r"\s*(- )?")
_PLACE: Final = re.compile(r"(-?\d+\.\d+,) (?=-?\d+\.\d+)")
_TOGETHER: Final = "\u00a0"


def wrapped(text: str, stream: TextIO) -> str:
    """A text with its lines broken for a stream: as they are where it has no width of its own."""
    width = _width(stream)
    if width is None:
        return text
    # what is to be typed has a line of its own
    lines = _TO_TYPE.sub("\n  ", text).split("\n")
    return "\n".join(broken(line, width) for line in lines)


def broken(line: str, width: int) -> str:
    """A line as several of a width at most, but for a longer word; what follows is set in.

    >>> print(broken("- the steepest bit goes up at 30°, by 54.4, -24.0", 22))
    - the steepest bit
      goes up at 30°, by
      54.4, -24.0
    >>> print(broken("  terrain mist area.toml --mist-top 200", 22))
      terrain mist area.toml --mist-top 200
    """
    if len(line) <= width or _COMMAND.match(line):
        return line
    begins = _BEGINS.match(line)
    parts = textwrap.wrap(
        _PLACE.sub(rf"\1{_TOGETHER}", line),
        width,
        subsequent_indent=" " * (begins.end() if begins else 0),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(parts).replace(_TOGETHER, " ")


def _width(stream: TextIO) -> int | None:
    """Columns of a terminal; of a pipe none, but where they are said for what is printed."""
    if not stream.isatty() and not (stream is sys.stdout and "COLUMNS" in os.environ):
        return None
    return max(shutil.get_terminal_size().columns, 1)
