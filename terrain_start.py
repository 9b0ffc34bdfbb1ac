"""What a run loads first, before the package: from here on Ctrl-C is answered in one line."""

from __future__ import annotations

# what `signal` is made from, in C: that one loads a good deal before it can be asked
import _signal  # type: ignore[import-not-found]
import os

STOPPED = 130
STOPPED_WORDS = "stopped; every file already written is whole"


def run() -> None:
    """Run the command line of this process."""
    before = _signal.signal(_signal.SIGINT, end)
    from terrain.command.main import run as answer

    _signal.signal(_signal.SIGINT, before)
    try:
        answer()
    finally:
        # all is said and written: what the libraries do at their end has nothing to tell of it
        _signal.signal(_signal.SIGINT, end)


def end(*_: object) -> None:
    """Answer Ctrl-C: in the middle of an import nothing is done."""
    end_at_once(STOPPED_WORDS, STOPPED)


def end_at_once(message: str, code: int) -> None:
    """End with one line before anything is loaded, and so without it."""
    os.write(2, f"terrain: {message}\n".encode())
    os._exit(code)
