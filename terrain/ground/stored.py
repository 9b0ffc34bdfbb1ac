"""Whether a file is there to be read, whatever its name."""

from __future__ import annotations

from pathlib import Path

from terrain.errors import TerrainError

_MOST_LETTERS = 300


def check_file(path: str, *, or_folder: bool = False, or_pipe: bool = False) -> None:
    """Stop where there is no file of a name; a pipe or a device might be waited for for ever."""
    called = path if len(path) <= _MOST_LETTERS else f"{path[:_MOST_LETTERS]}..."
    try:
        there = Path(path)
        if there.is_file() or (or_folder and there.is_dir()) or (or_pipe and there.exists()):
            return
        is_odd = there.exists() and not there.is_dir()
    except OSError as error:
        raise TerrainError(f"there is no file {called}: {error.strerror}") from error
    if is_odd:
        raise TerrainError(f"{called} is a device or a pipe: name a file")
    raise TerrainError(f"there is no file {called}")
