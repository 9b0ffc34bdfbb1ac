"""The folder in which fetched ground is kept, and the file beside each that says what it is."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from filelock import FileLock, Timeout
from platformdirs import user_cache_path

from terrain.errors import TerrainError
from terrain.fetch.sources import Source

FOLDER: Final = "TERRAIN_CACHE"
_TOLD_EVERY_S: Final = 0.5


def cache_folder() -> Path:
    """Where ground is kept: TERRAIN_CACHE, or the folder of this user for such things."""
    said = os.environ.get(FOLDER)
    return Path(said).expanduser() if said else user_cache_path("terrain", appauthor=False)


def folder_of(source: Source) -> Path:
    """Where the tiles of a source are kept."""
    return cache_folder() / "ground" / source.name


def side_file(path: Path) -> Path:
    """The file that says what is beside it."""
    return path.with_name(f"{path.name}.json")


def is_kept(path: Path) -> bool:
    """Whether a file is there, whole: as long as the one that was put there."""
    said = said_of(path)
    try:
        return bool(said) and path.stat().st_size == said.get("bytes")
    except OSError:
        return False


def said_of(path: Path) -> dict[str, Any]:
    """What is said of a file, nothing where it was never whole."""
    try:
        said = json.loads(side_file(path).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def age_days(path: Path) -> float:
    """How long ago a kept file was fetched, days; infinite where that is not said."""
    try:
        fetched = dt.datetime.fromisoformat(said_of(path)["fetched"])
        return (dt.datetime.now(dt.UTC) - fetched) / dt.timedelta(days=1)
    except (KeyError, TypeError, ValueError):
        return math.inf


@contextmanager
def alone_with(partial: Path, waiting: Callable[[], None] = lambda: None) -> Iterator[None]:
    """Keep all others, threads and processes, from a file while it is made.

    The lock is the system's, which takes it from a process that ends, however that ends. waiting:
    called now and then while another has it.
    """
    lock = FileLock(partial.with_name(f"{partial.name}.lock"))
    while not lock.is_locked:
        try:
            lock.acquire(timeout=_TOLD_EVERY_S)
        except Timeout:
            waiting()
    try:
        yield
    finally:
        lock.release()


def put(partial: Path, path: Path, facts: Mapping[str, Any]) -> None:
    """Put a whole file in its place, with what is known of it beside it, last."""
    with partial.open("rb+") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        os.fsync(file.fileno())
    said = {
        **facts,
        "fetched": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
        "bytes": partial.stat().st_size,
        "sha256": digest,
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        side_file(path).unlink(missing_ok=True)
        partial.replace(path)
        beside = side_file(partial)
        beside.write_text(json.dumps(said, indent=2, ensure_ascii=False), encoding="utf-8")
        beside.replace(side_file(path))
    except OSError as error:
        raise TerrainError(f"cannot keep {path}: {error.strerror}") from error
