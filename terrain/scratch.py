"""A folder for what processes lay aside for one another, and what a kill left of such."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

STALE_S: Final = 3600.0
"""A folder of ours with an unfinished file, so old, is what a kill left (no source)."""

_OURS: Final = ".terrain-workers-"
_LOCK: Final = "lock"


@contextmanager
def scratch() -> Iterator[str]:
    """A folder for what workers lay aside; those that killed commands left are removed.

    It may be gigabytes, where memory was short. Whose command still runs has a lock on its own.
    """
    from filelock import FileLock

    _clear_left(Path(tempfile.gettempdir()))
    with (
        tempfile.TemporaryDirectory(prefix=_OURS, ignore_cleanup_errors=True) as folder,
        FileLock(Path(folder, _LOCK)),
    ):
        yield folder


def _clear_left(folder: Path) -> None:
    from filelock import FileLock, Timeout

    for left in folder.glob(f"{_OURS}*"):
        with suppress(OSError, Timeout):
            if is_stale(left.lstat()):
                with FileLock(left / _LOCK, timeout=0):
                    shutil.rmtree(left, ignore_errors=True)


def is_stale(found: os.stat_result) -> bool:
    """Whether it is a folder of this user's in which no file has been made for long."""
    own = not hasattr(os, "geteuid") or found.st_uid == os.geteuid()
    return own and stat.S_ISDIR(found.st_mode) and found.st_mtime < time.time() - STALE_S
