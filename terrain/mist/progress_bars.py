"""Keeping the progress bars of a chatty library off the terminal."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

__all__ = ["without_progress_bars"]

_ERASE_LINE: Final = b"\r\x1b[2K"


@contextmanager
def without_progress_bars() -> Iterator[None]:
    """Keep the cursor codes of richdem's progress bars off stderr, and nothing else.

    richdem has no way to leave them out. They are written by compiled code, so the file descriptor
    itself is set aside for the while; where it is closed, nothing can come through.
    """
    try:
        terminal = os.dup(2)
    except OSError:
        yield
        return
    with tempfile.TemporaryFile() as said:
        os.dup2(said.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(terminal, 2)
            os.close(terminal)
            said.seek(0)
            # a closed descriptor may have become that of a file opened since, to be read alone
            with suppress(OSError):
                os.write(2, said.read().replace(_ERASE_LINE, b""))
