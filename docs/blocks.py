"""What stands in the blocks of a page: commands, Python, and files that a reader is told to write.

A block is three backticks, the kind of what is in it, and where it is a file its name::

    ```csv title="ascent.csv"
    ...
    ```
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

_BLOCK: Final = re.compile(
    r'^```(?P<kind>\w*)(?: title="(?P<title>[^"]+)")?\n(?P<text>.*?)^```$', re.DOTALL | re.MULTILINE
)
_ELSEWHERE: Final = ("terrain demo", "terrain desk", "terrain -", ".hgt.zip", "copernicus")


class Block(NamedTuple):
    """A block: the kind of what is in it, the file that it is or "", its text, where it ends."""

    kind: str
    title: str
    text: str
    end: int


def blocks(page: str) -> list[Block]:
    """The blocks of a page in their order."""
    return [
        Block(found["kind"], found["title"] or "", found["text"], found.end())
        for found in _BLOCK.finditer(page)
    ]


def files(page: str) -> dict[str, str]:
    """The files that a page has a reader write, by name."""
    return {block.title: block.text for block in blocks(page) if block.title}


def commands(text: str) -> Iterator[str]:
    """The command lines of a text, as they are typed."""
    yield from (line for line in text.splitlines() if line.startswith("terrain "))


def commands_of(page: str) -> list[str]:
    """All command lines of a page."""
    return [
        line
        for block in blocks(page)
        if not block.kind and not block.title
        for line in commands(block.text)
    ]


def fetches(command: str) -> bool:
    """Whether a command opens a network."""
    return command.startswith("terrain ground") or "copernicus" in command


def needs_more(text: str) -> bool:
    """Whether a command, or some Python, asks for more than the demo's ground and a moment."""
    return fetches(text) or any(part in text for part in _ELSEWHERE)
