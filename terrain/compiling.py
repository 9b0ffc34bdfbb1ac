"""The one door to the compiler: a kernel is compiled once on a machine, and kept.

numba keeps compiled code by the source file of each function, and does not see that a function
from another file, compiled into it, has changed since. So all of it is kept under one stamp of
every kernel's source: kernels of two releases never mix. It is kept in the first of these that can
be written to::

    $NUMBA_CACHE_DIR   ->   the package's __pycache__   ->   the user's cache   ->   temporary files

and nowhere, which is slow but works, if none can. Whatever is damaged there is compiled anew
(`compiled_files`).
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache as once
from inspect import isfunction
from pathlib import Path
from typing import Any, Final, TypeVar

from terrain.compiled_files import keep_soundly

PACKAGE: Final = Path(__file__).parent
UNUSED_DAYS: Final = 30.0
"""Compiled code of other releases goes when it has not been used for so long (no source)."""

Function = TypeVar("Function", bound=Callable[..., Any])
Tell = Callable[[], None]
TellOf = Callable[[str], None]

_waiting: list[Tell] = []
_counting: list[Tell] = []
_troubled: list[TellOf] = []


def njit(*, cache: bool = True, **options: Any) -> Callable[[Function], Function]:
    """numba's decorator of the same name, its options too; the compiled code is kept here.

    cache: whether it is kept at all. With `_nrt=False` no references to arrays are counted, which
    else costs a lock at each call and slice: for what makes no array and returns none.

    >>> @njit(cache=False, nogil=True)
    ... def twice(height_m: float) -> float:
    ...     return 2.0 * height_m
    >>> twice(21.0)
    42.0
    """
    import numba

    config: Any = numba.config
    numba_njit: Any = numba.njit

    def compiled(function: Function) -> Function:
        _listen()
        folder = kept_in() if cache else None
        asked_for = config.CACHE_DIR
        # numba asks for the folder while it decorates; other packages keep their own
        config.CACHE_DIR = "" if folder is None else str(folder)
        try:
            # no C code calls a kernel; without the entry for it they compile 6 % sooner
            decorate = numba_njit(cache=folder is not None, no_cfunc_wrapper=True, **options)
            made: Function = decorate(function)
            if folder is not None:
                keep_soundly(made, _tell)
        finally:
            config.CACHE_DIR = asked_for
        return made

    return compiled


def inner(**options: Any) -> Callable[[Function], Function]:
    """`njit` for what kernels alone call: no way in from Python is made, which takes long.

    A call from Python compiles one, for this process: right for a test, too slow for a command.

    >>> @inner(cache=False)
    ... def twice(height_m: float) -> float:
    ...     return 2.0 * height_m
    >>> twice(21.0)
    42.0
    """

    def compiled(function: Function) -> Function:
        made = njit(no_cpython_wrapper=True, nogil=True, **options)(function)
        if hasattr(made, "py_func"):
            _make_way_in_when_called(made, options)
        return made

    return compiled


def _make_way_in_when_called(dispatcher: Any, options: dict[str, Any]) -> None:
    @once
    def way_in() -> Any:
        return njit(**{**options, "cache": False})(dispatcher.py_func)

    # numba would jump to where no code is: it is to know none for Python, and to ask for it here
    dispatcher._insert = lambda *_: None
    dispatcher._compile_for_args = lambda *_, **__: way_in()


@contextmanager
def compiled_when_called() -> Iterator[None]:
    """Let what is imported within compile its functions when they are called, and not before.

    A package may have numba compile for types that it says ahead, whether that is called or not.
    """
    import numba

    numba_: Any = numba
    njit_ahead = numba_.njit

    def njit_later(*given: Any, **options: Any) -> Any:
        functions = [each for each in given if isfunction(each)]
        return njit_ahead(*functions, **options)

    numba_.njit = njit_later
    try:
        yield
    finally:
        numba_.njit = njit_ahead


@contextmanager
def on_trouble(tell: TellOf) -> Iterator[None]:
    """Call `tell` with what is wrong with the compiled code that is kept, once for each fault.

    >>> with on_trouble(print):
    ...     pass
    """
    told: set[str] = set()

    def tell_once(words: str) -> None:
        if words not in told:
            told.add(words)
            tell(words)

    _troubled.append(tell_once)
    try:
        yield
    finally:
        _troubled.remove(tell_once)


@contextmanager
def on_first_compile(tell: Tell) -> Iterator[None]:
    """Call `tell` before the first kernel compiled within the block, if none was kept before.

    >>> with on_first_compile(lambda: print("compiling once; later runs are quick")):
    ...     pass
    """
    _waiting.append(tell)
    try:
        yield
    finally:
        if tell in _waiting:
            _waiting.remove(tell)


@contextmanager
def on_each_compile(tell: Tell) -> Iterator[None]:
    """Call `tell` after whatever is compiled within the block.

    >>> with on_each_compile(lambda: print("another one")):
    ...     pass
    """
    _counting.append(tell)
    try:
        yield
    finally:
        _counting.remove(tell)


@once
def kept_in() -> Path | None:
    """The folder of compiled kernels, made if need be, or None where nothing can be written."""
    name = f"kernels-{stamp(PACKAGE)}"
    for place in _places():
        folder = place / name
        if not folder.exists():
            _clear_unused(place)
        if _can_write(folder):
            with suppress(OSError):  # a folder of somebody else's that may be written to
                os.utime(folder)
            return folder
    return None


def stamp(package: Path) -> str:
    """What the compiled code depends on: the kernels' sources and the constants in them."""
    total = hashlib.sha256(b"a file for each signature")
    for source in sorted([*package.rglob("_*kernels.py"), package / "constants.py"]):
        total.update(source.read_bytes())
    return total.hexdigest()[:16]


def _places() -> Iterator[Path]:
    if os.environ.get("NUMBA_CACHE_DIR"):
        yield Path(os.environ["NUMBA_CACHE_DIR"])
    yield PACKAGE / "__pycache__"
    for variable in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        if os.environ.get(variable):
            yield Path(os.environ[variable]) / "terrain"
    with suppress(RuntimeError):  # a user without a home
        yield Path.home() / ".cache" / "terrain"
    private = _private_temporary_folder()
    if private is not None:
        yield private


def _private_temporary_folder() -> Path | None:
    """A folder of this user's among the temporary files; code in it is run, so nobody else's."""
    user = os.getuid() if hasattr(os, "getuid") else 0
    try:
        folder = Path(tempfile.gettempdir()) / f"terrain-{user}"
        folder.mkdir(mode=0o700, exist_ok=True)
        found = folder.lstat()
    except OSError:
        return None
    foreign = found.st_uid != user or found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
    if not stat.S_ISDIR(found.st_mode) or (foreign and hasattr(os, "getuid")):
        return None
    return folder


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=folder).close()
    except OSError:
        return False
    return True


def _clear_unused(place: Path) -> None:
    oldest = time.time() - UNUSED_DAYS * 86_400.0
    for folder in place.glob("kernels-*"):
        if folder.stat().st_mtime < oldest:
            shutil.rmtree(folder, ignore_errors=True)


@once
def _listen() -> None:
    from numba.core import event

    class Listener(event.Listener):
        def on_start(self, event: object) -> None:
            told, _waiting[:] = list(_waiting), []
            # who has nobody to tell must not take the word from another process
            for tell in told if told and _is_first_here() else ():
                tell()

        def on_end(self, event: object) -> None:
            for tell in tuple(_counting):
                tell()

    register: Any = event.register
    register("numba:compile", Listener())


def nothing_kept() -> bool:
    """Whether compiled code can be kept, and nothing has been compiled yet."""
    folder = kept_in()
    return folder is not None and not (folder / "begun").exists()


@once
def _is_first_here() -> bool:
    """Whether nothing has been compiled on this machine; to be asked before it is."""
    folder = kept_in()
    if folder is None:
        return True
    try:
        (folder / "begun").touch(exist_ok=False)
    except OSError:
        return not (folder / "begun").exists()
    return True


def _tell(words: str) -> None:
    for tell in _troubled:
        tell(words)
