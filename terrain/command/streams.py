"""What a command prints to, as it may be: closed, full, left by its reader, or of few letters."""

from __future__ import annotations

import codecs
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Final, TextIO

_PLAIN_SIGNS: Final = {
    **{
        "±": "+/-",
        "°": " deg",
        "′": "'",
        "″": '"',
        "²": "2",
        "³": "3",
        "½": "1/2",
        "×": "x",
        "─": "-",
    },
    **{"−": "-", "–": "-", "—": "-", "·": ".", "…": "...", "→": "->", "←": "<-", "µ": "u"},
    **{"≥": ">=", "≤": "<=", "≈": "~", "‘": "'", "’": "'", "“": '"', "”": '"', "\u00a0": " "},
}
_FEW_LETTERS: Final = "terrain-plain"

_MOMENT: Final = "one moment …"

_failed: list[OSError] = []
_moments: list[TextIO] = []


def prepare() -> None:
    """Make the streams ready: none is closed, and none stops at a letter that it does not know."""
    codecs.register_error(_FEW_LETTERS, _plain_signs)
    # a file that is opened next must not get the number of a stream that is closed
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_FEW_LETTERS)
    _failed.clear()


def in_its_letters(text: str, stream: TextIO) -> str:
    """A text as a stream will show it, with plain signs for those that it does not know."""
    letters = stream.encoding or "utf-8"
    return text.encode(letters, _FEW_LETTERS).decode(letters)


def say_at_once() -> None:
    """Say that a run has begun, where a person looks on; what is said next takes its place."""
    with suppress(OSError):
        if sys.stderr.isatty():
            sys.stderr.write(f"{in_its_letters(_MOMENT, sys.stderr)}\r")
            sys.stderr.flush()
            _moments.append(sys.stderr)


def make_room() -> None:
    """Take away what was said at once: a bar or a line is to stand there."""
    while _moments:
        stream = _moments.pop()
        with suppress(OSError):
            stream.write(f"{' ' * (len(_MOMENT) + 2)}\r")
            stream.flush()


def say(text: str, stream: TextIO) -> None:
    """Print a line; a stream that takes no more must not stop the saving."""
    make_room()
    try:
        print(text, file=stream, flush=True)
    except BrokenPipeError:
        send_nowhere(stream)
    except OSError as error:
        send_nowhere(stream)
        if stream is sys.stdout:
            _failed.append(error)


def failure() -> OSError | None:
    """Why not all of the answer was printed, where its reader had not left."""
    return _failed[0] if _failed else None


def send_nowhere(stream: TextIO) -> None:
    """Let what is still in the buffer, and all that follows, go nowhere."""
    with suppress(OSError, ValueError), Path(os.devnull).open("w", encoding="utf-8") as nowhere:
        os.dup2(nowhere.fileno(), stream.fileno())


def _plain_signs(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    unknown = error.object[error.start : error.end]
    return "".join(_PLAIN_SIGNS.get(letter, "?") for letter in unknown), error.end
