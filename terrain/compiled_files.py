"""Files of compiled code, which any number of processes may write and read at once.

numba keeps the code of a function's signatures in numbered files beside an index of them. Two
processes that write at once can leave an index that names the code of another signature, and that
is run. Here each signature has one file, named by what the signature says and written as a whole;
it ends with a checksum, so that one that is damaged is not run either. Whoever is about to compile
holds a lock, so that another process waits, and reads what came of it.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any, Final
from uuid import uuid4

LONGEST_WAIT_S: Final = 30.0
"""Who waits longer for what another process compiles does so itself (no source)."""

_CHECKSUM_BYTES: Final = 16


def keep_soundly(dispatcher: Any, tell: Callable[[str], None]) -> None:
    """Let numba keep what it compiles of a kernel so, and tell what is wrong with what is kept."""
    cache: Any = getattr(dispatcher, "_cache", None)
    if cache is None:
        return  # without compiling there is nothing to keep
    before = cache._cache_file
    base = before._index_name.removesuffix(".nbi")
    cache._cache_file = KeptCode(Path(before._cache_path), base, before._source_stamp, tell)


class KeptCode:
    """What numba asks of the files of one kernel: `load`, `save` and `flush`.

    base: what the names of its files begin with. stamp: of its source.
    """

    def __init__(self, folder: Path, base: str, stamp: object, tell: Callable[[str], None]) -> None:
        import numba

        self._folder, self._base, self._tell = folder, base, tell
        self._made_by = (numba.__version__, stamp)
        self._locks: dict[Path, Any] = {}

    def load(self, key: object) -> Any:
        """What is kept under a key, a signature among it; None tells numba to compile it."""
        found = self._read(key)
        if found is None and self._waited_for(key):
            found = self._read(key)
        if found is not None:
            self._let_go(key)
        return found

    def save(self, key: object, data: object) -> None:
        """Keep what was compiled, where that can be."""
        from numba.core import serialize

        dumps: Any = serialize.dumps
        try:
            content = dumps(self._made_by) + dumps((key, data))
            # what follows the end of a pickle is not read
            write_whole(self._path(key), content + _checksum(content))
        except Exception as error:
            why = getattr(error, "strerror", None) or "it cannot be written down"
            self._tell(f"compiled code cannot be kept in {self._folder} ({why})")
        finally:
            self._let_go(key)

    def flush(self) -> None:
        """Forget all signatures."""
        for path in self._folder.glob(f"{self._base}.*.nbc"):
            path.unlink(missing_ok=True)

    def _path(self, key: object) -> Path:
        # by its words, since hashes of Python's own differ from process to process
        name = hashlib.blake2b(repr(key).encode(), digest_size=8).hexdigest()
        return self._folder / f"{self._base}.{name}.nbc"

    def _read(self, key: object) -> Any:
        path = self._path(key)
        try:
            content = path.read_bytes()
        except OSError:
            return None
        try:
            _check(content)
            stream = BytesIO(content)
            if pickle.load(stream) != self._made_by:
                return None
            found, data = pickle.load(stream)
        except Exception:  # what is damaged can fail in any way
            with suppress(OSError):
                path.unlink()
            self._tell("damaged files of compiled code are thrown away and made anew")
            return None
        return data if found == key else None

    def _waited_for(self, key: object) -> bool:
        """Take the lock of a signature; whether another process had it until now."""
        from filelock import FileLock, Timeout

        path = self._path(key)
        lock = self._locks.setdefault(path, FileLock(f"{path}.lock"))
        try:
            lock.acquire(timeout=0)
        except Timeout:
            with suppress(Timeout):
                lock.acquire(timeout=LONGEST_WAIT_S, poll_interval=0.02)
            return True
        except (OSError, NotImplementedError):
            pass  # where none can be had, the same is compiled twice at worst
        return False

    def _let_go(self, key: object) -> None:
        lock = self._locks.pop(self._path(key), None)
        if lock is not None:
            lock.release(force=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, also where two processes write it at once; OSError."""
    unfinished = path.with_suffix(f".{uuid4().hex[:16]}")
    try:
        unfinished.write_bytes(content)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def _check(content: bytes) -> None:
    if _checksum(content[:-_CHECKSUM_BYTES]) != content[-_CHECKSUM_BYTES:]:
        raise ValueError("not what was written")


def _checksum(content: bytes) -> bytes:
    return hashlib.blake2b(content, digest_size=_CHECKSUM_BYTES).digest()
