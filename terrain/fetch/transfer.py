"""A file brought from the network: whole or not at all, and from where it broke off.

What has come of a file lies in `.partial` beside its place until all of it has, with the mark
(ETag) that the server gave it: another try asks for the rest of that same file alone.
"""

from __future__ import annotations

import gzip
import re
import shutil
import time
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

import requests
from requests.exceptions import ChunkedEncodingError, ConnectionError, RequestException, Timeout

from terrain.errors import TerrainError
from terrain.fetch.cache import alone_with, is_kept, put

Count = Callable[[int], None]
"""Told how many bytes more have come."""

_TIMEOUTS_S: Final = (15.0, 30.0)
_WAITS_S: Final = (0.2, 1.0, 3.0, 8.0)
_BUSY: Final = (408, 425, 429, 500, 502, 503, 504)
_NOT_THERE: Final = (403, 404, 410)
_PIECE: Final = 1 << 16
_MOST_BYTES: Final = 2_000_000_000
_SPAN: Final = re.compile(r"bytes (\d+)-\d+/(\d+)")


class NotThereError(TerrainError):
    """The server has no such file."""


class _BrokenOffError(Exception):
    """Not all came; another try may bring the rest."""


def fetch(
    url: str,
    path: Path,
    *,
    facts: Mapping[str, Any],
    check: Callable[[Path], None],
    count: Count = lambda _: None,
    is_there: Callable[[Path], bool] = is_kept,
    tries: int | None = None,
) -> None:
    """Bring a file to its place; one that ends in .gz is unpacked unless its place says so too.

    facts: to be kept beside it. check: raises a TerrainError where what came is no such file.
    is_there: whether another process has brought it while this one waited for it. tries: how
    often in vain, at most. Raises NotThereError, and TerrainError where the way to it fails in the
    end.
    """
    ending = ".gz" if urlsplit(url).path.endswith(".gz") and path.suffix != ".gz" else ""
    partial = path.parent / ".partial" / f"{path.name}{ending}"
    mark = partial.with_name(f"{partial.name}.etag")
    try:
        partial.parent.mkdir(parents=True, exist_ok=True)
        with alone_with(partial, lambda: count(0)):
            if is_there(path):
                return
            _bring(url, partial, mark, count, len(_WAITS_S) + 1 if tries is None else tries)
            whole = _checked(url, _unpacked(partial, partial.with_name(path.name)), check)
            etag = mark.read_text(encoding="utf-8") if mark.exists() else ""
            put(whole, path, {"url": url, "etag": etag, **facts})
            _forget(partial, mark)
    except OSError as error:
        raise TerrainError(f"cannot keep {path}: {error.strerror or error}") from error


def _checked(url: str, whole: Path, check: Callable[[Path], None]) -> Path:
    try:
        check(whole)
    except TerrainError as error:
        whole.unlink()
        raise TerrainError(f"what came from {url} is no whole raster: {error}") from error
    return whole


def _bring(url: str, partial: Path, mark: Path, count: Count, in_vain: int) -> None:
    """All of a file into the partial one, as long as each few tries bring more of it."""
    most, tries = 0, 0
    while True:
        try:
            _try(url, partial, mark, count)
        except _BrokenOffError as error:
            have = partial.stat().st_size if partial.exists() else 0
            most, tries = (have, 0) if have > most else (most, tries + 1)
            if tries >= in_vain:
                raise TerrainError(
                    f"{url} cannot be fetched: {error}; what has come is kept, try again later "
                    "for the rest"
                ) from error
            time.sleep(_WAITS_S[max(tries - 1, 0)])
        else:
            return


def _try(url: str, partial: Path, mark: Path, count: Count) -> None:
    have = partial.stat().st_size if partial.exists() and mark.exists() else 0
    asked = {"Accept-Encoding": "identity"}
    if have:
        asked |= {"Range": f"bytes={have}-", "If-Range": mark.read_text(encoding="utf-8")}
    try:
        with requests.get(url, headers=asked, stream=True, timeout=_TIMEOUTS_S) as answer:
            _take(answer, partial, mark, have, count)
    except (ConnectionError, ChunkedEncodingError, Timeout) as error:
        raise _BrokenOffError(_reason(error)) from error
    except RequestException as error:
        raise TerrainError(f"{url} cannot be fetched: {error}") from error


def _take(answer: requests.Response, partial: Path, mark: Path, have: int, count: Count) -> None:
    if answer.status_code in _NOT_THERE:
        raise NotThereError(f"there is no {answer.url} ({answer.status_code})")
    if answer.status_code in _BUSY:
        raise _BrokenOffError(f"the server answered {answer.status_code}")
    if answer.status_code == 416:
        # the rest of a file of which all has come, or of another one
        _forget(partial, mark)
        raise _BrokenOffError("the server has another file now")
    if answer.status_code not in (200, 206):
        raise TerrainError(
            f"{answer.url} cannot be fetched: the server answered {answer.status_code}"
        )
    span = _SPAN.fullmatch(answer.headers.get("Content-Range", ""))
    if answer.status_code == 206 and (span is None or int(span[1]) != have):
        _forget(partial, mark)
        raise _BrokenOffError("the server sent another part than was asked for")
    if answer.status_code == 200:
        have = 0
        _forget(partial, mark)
    said = int(span[2]) if span else int(answer.headers.get("Content-Length", -1))
    _write(answer, partial, mark, have, count)
    if said >= 0 and partial.stat().st_size != said:
        raise _BrokenOffError(f"{partial.stat().st_size} bytes came of {said}")


def _write(answer: requests.Response, partial: Path, mark: Path, have: int, count: Count) -> None:
    etag = answer.headers.get("ETag", "")
    # a weak mark does not stand for the very bytes
    if etag and not etag.startswith("W/"):
        mark.write_text(etag, encoding="utf-8")
    with partial.open("ab") as file:
        for piece in answer.iter_content(_PIECE):
            have += len(piece)
            if have > _MOST_BYTES:
                raise TerrainError(f"{answer.url} is longer than any tile: it is not fetched")
            file.write(piece)
            count(len(piece))


def _forget(*files: Path) -> None:
    for file in files:
        file.unlink(missing_ok=True)


def _unpacked(packed: Path, whole: Path) -> Path:
    if packed == whole:
        return packed
    try:
        with gzip.open(packed) as source, whole.open("wb") as into:
            shutil.copyfileobj(source, into, _PIECE)
    except (EOFError, gzip.BadGzipFile, zlib.error) as error:
        with suppress(OSError):
            _forget(packed, whole)
        raise TerrainError(f"{packed.name} did not come whole: {error}") from error
    return whole


def _reason(error: Exception) -> str:
    if isinstance(error, Timeout):
        return "the server does not answer"
    if isinstance(error, ChunkedEncodingError):
        return "the connection broke off"
    return "the server cannot be reached"
