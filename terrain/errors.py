"""The errors a user of `terrain` can meet, each a single line that says what to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

_MOST_LETTERS: Final = 1000
_ITS_END: Final = 250


def _line(message: str) -> str:
    """One line of a message that may quote from a stranger's file, whatever it holds.

    >>> _line("no column \\x00name: its columns are\\na")
    'no column �name: its columns are a'
    """
    line = "".join(letter if letter.isprintable() else "�" for letter in " ".join(message.split()))
    if len(line) <= _MOST_LETTERS:
        return line
    return f"{line[: _MOST_LETTERS - _ITS_END]} ... {line[-_ITS_END:]}"


class TerrainError(Exception):
    """Something the user gave cannot be used as it is; the message is one clear line.

    Parameters
    ----------
    message : str, optional
        What was wrong, with the value, and what to do; breaks and signs that do not print are taken
        out of it, and what is over 1000 letters from its middle.

    Examples
    --------
    >>> import terrain
    >>> try:
    ...     terrain.read_dem("no/such/file.tif")
    ... except terrain.TerrainError as error:
    ...     print(error)
    there is no file no/such/file.tif
    """

    def __init__(self, message: str = "") -> None:
        super().__init__(_line(message))


class NoGround(TerrainError):
    """A place lies off the raster or on unknown ground.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> try:
    ...     terrain.Dem([[0, 10, 20], [0, 10, 20]], grid).height_at(-15.0, 50.0)
    ... except terrain.NoGround as error:
    ...     print(str(error).split(":")[0])
    no ground at 50.0000, -15.0000
    """


class NoSun(TerrainError):
    """The sun does not appear at this place on this day; `reason` says why.

    Parameters
    ----------
    reason : str
        In one line.

    Examples
    --------
    >>> import terrain
    >>> terrain.NoSun("the sun stays below the horizon").reason
    'the sun stays below the horizon'
    """

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class NoAnswer(TerrainError):
    """The question is sound, but nothing on this ground answers it.

    Parameters
    ----------
    message : str, optional
        What was lacking, with the nearest miss.
    loosen : sequence of mapping, optional
        What would be asked for the nearest miss, likeliest first: in each the argument to change
        and its value, as `{"tolerance_deg": 1.4}`; None leaves it out.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(2, 3))
    >>> try:
    ...     terrain.level_mist(terrain.Dem([[5, 10, 20], [5, 10, 20]], grid), 1.0)
    ... except terrain.NoAnswer as error:
    ...     print(error)
    mist with its top at 1 m covers no ground: the lowest ground here is 5 m
    """

    def __init__(self, message: str = "", *, loosen: Sequence[Mapping[str, Any]] = ()) -> None:
        super().__init__(message)
        self.loosen = tuple(loosen)
