"""A file that is complete or not there: written beside the old one, then put in its place."""

from __future__ import annotations

import errno
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from pyogrio.errors import DataLayerError, DataSourceError

from terrain.errors import TerrainError
from terrain.scratch import is_stale

_OURS: Final = ".terrain-"
_NAMED_BY_US: Final = re.compile(r"\.terrain-\w{8}")


@contextmanager
def whole_file(path: str | Path, doing: str = "", *endings: str) -> Iterator[Path]:
    """A path to write to, which takes the place of `path` when the block ends without an error.

    doing, endings: what the block does ("draw"), and how the name may end; any way unless given.
    Raises TerrainError for another ending, and where the folder cannot be made or written to, or
    holds no more; a file that was there before stays as it was until the new one is complete. A
    link stays a link to the file that is replaced; what is no file, such as a pipe, is written to.
    """
    path = Path(path)
    if endings and path.suffix.lower() not in endings:
        *others, last = endings
        wanted = f"{', '.join(others)} or {last}" if others else last
        raise TerrainError(f"cannot {doing} {path}: the name must end in {wanted}")
    try:
        target = _behind_links(path)
        check_may_replace(path)
        poured = _is_no_file(target)
        beside = Path(tempfile.gettempdir()) if poured else target.parent
        beside.mkdir(parents=True, exist_ok=True)
        _clear_stale(beside)
        with tempfile.TemporaryDirectory(prefix=_OURS, dir=beside) as folder:
            partial = Path(folder, path.name)
            yield partial
            _to_the_disk(partial)
            (_pour if poured else _put_in_place)(partial, target)
    except OSError as error:
        raise TerrainError(f"cannot write {path}: {error.strerror or error}") from error
    except (DataSourceError, DataLayerError) as error:
        raise TerrainError(f"cannot write {path}: {_short(str(error))}") from error


def check_may_replace(path: Path) -> None:
    """TerrainError where a file is write-protected, though its folder can be written to."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return
    # to an administrator nothing is forbidden, but what nobody may write is kept all the same
    protected = not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    if protected or not os.access(path, os.W_OK):
        raise TerrainError(f"cannot write {path}: it is write-protected")


def _short(reason: str) -> str:
    """The end of what GDAL says, which may begin with a page of SQL."""
    return reason.rsplit("failed: ", maxsplit=1)[-1][-200:]


def _behind_links(path: Path) -> Path:
    """The file that a link leads to; a pipe of this process has a name, but no place."""
    if not path.is_symlink():
        return path
    real = Path(os.path.realpath(path))
    if real.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return real if real.exists() or not path.exists() else path


def _is_no_file(target: Path) -> bool:
    """Whether it is a pipe, a terminal or a device: there nothing can be put in place."""
    if target.parts[1:2] in (("dev",), ("proc",)):
        return target.exists()
    return target.exists() and not target.is_file()


def _to_the_disk(partial: Path) -> None:
    """Wait until the disk has it all: some find out only then that they have no room."""
    with partial.open("rb+") as file:
        os.fsync(file.fileno())


def _pour(partial: Path, target: Path) -> None:
    with partial.open("rb") as whole, target.open("ab", buffering=0) as into:
        shutil.copyfileobj(whole, into)


def _put_in_place(partial: Path, target: Path) -> None:
    with suppress(OSError):
        shutil.copymode(target, partial)
    partial.replace(target)


def _clear_stale(folder: Path) -> None:
    """Remove what a kill in the middle of writing left in a folder."""
    for left in folder.glob(f"{_OURS}*"):
        with suppress(OSError):
            if _NAMED_BY_US.fullmatch(left.name) and is_stale(left.lstat()):
                shutil.rmtree(left, ignore_errors=True)
