"""The beginning and the end of every run: ready streams, one line for what went wrong, a code.

It loads next to nothing itself, so that Ctrl-C has its word from the beginning.
"""

from __future__ import annotations

import atexit
import gc
import importlib.util
import logging
import os
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from terrain_start import STOPPED, STOPPED_WORDS, end, end_at_once

_NO_MEMORY_WORDS = (
    "there is not enough memory for this: give larger cells with --cell M, less ground with a "
    "place and --reach KM, or less to be taken with --memory GB"
)
_NO_MEMORY_SIGNS = (
    *("cannot allocate", "out of memory", "outofmemory", "bad_alloc"),
    *("can't start new thread", "failed to map segment"),
)
_MOST_LETTERS = 600
_COMPILING_WORDS = (
    "the first run of each command on this machine compiles it, up to half a minute; "
    "later runs are quick"
)


def run(arguments: list[str] | None = None) -> None:
    """Run the command line: bad input is one line on stderr and exit code 2."""
    # what the libraries load stays; to look it through for refuse, at the end too, takes long
    gc.set_threshold(500_000, 20, 100)
    atexit.register(gc.freeze)
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    if arguments is None:
        _forget_settings_of_libraries()
    words = sys.argv[1:] if arguments is None else arguments
    try:
        with _stopped_at_once():
            from terrain.command import streams
            from terrain.command.app import app_for

            app = app_for(words)
    except MemoryError:
        end_at_once(_NO_MEMORY_WORDS, 2)
    streams.prepare()
    try:
        code = _answer(app, words)
        # the command line library turns Ctrl-C into this code
        if code == STOPPED:
            _stop(STOPPED_WORDS, STOPPED)
        if (failed := streams.failure()) is not None:
            _stop(f"the answer cannot be printed: {failed.strerror}", 2)
    except (Exception, KeyboardInterrupt) as error:
        _stop(*_told(error))


def _forget_settings_of_libraries() -> None:
    """What a user has set for other programs must not stop or change the answers of this one."""
    for name in list(os.environ):
        of_compiler = name.startswith("NUMBA_") and name != "NUMBA_CACHE_DIR"
        if of_compiler or name == "MPLBACKEND":
            del os.environ[name]
    # what is not understood there is told on several lines
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    found = importlib.util.find_spec("matplotlib")
    if found is not None and found.origin is not None:
        own = os.path.join(os.path.dirname(found.origin), "mpl-data", "matplotlibrc")  # noqa: PTH118, PTH120
        os.environ["MATPLOTLIBRC"] = own


def _answer(app: Callable[..., object], words: list[str]) -> object:
    from terrain.command.beside import compiled_beside
    from terrain.command.report import aside
    from terrain.command.streams import send_nowhere
    from terrain.compiling import on_first_compile, on_trouble

    def say_compiling() -> None:
        aside(_COMPILING_WORDS)

    try:
        with (
            on_first_compile(say_compiling),
            on_trouble(lambda words: aside(f"note: {words}")),
            compiled_beside(words),
        ):
            code = app(words or ["--help"], standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        send_nowhere(sys.stdout)
        return 0
    return code


def _told(error: BaseException) -> tuple[str, int]:
    """What a person is told of an error, and the exit code."""
    from typer.exceptions import TyperException

    from terrain.command.help_pages import EXAMPLES
    from terrain.command.streams import send_nowhere
    from terrain.errors import TerrainError

    if isinstance(error, TyperException):
        asked = getattr(getattr(error, "ctx", None), "command", None)
        name = getattr(asked, "name", None)
        known = f"terrain {name} --help" if name in EXAMPLES else "terrain --help"
        return f"{error.format_message()} ({known} says more)", 2
    if _is_out_of_memory(error):
        return _NO_MEMORY_WORDS, 2
    if isinstance(error, TerrainError):
        return str(error), 2
    if _is_behind(error, KeyboardInterrupt):
        return STOPPED_WORDS, STOPPED
    if isinstance(error, OSError):
        send_nowhere(sys.stdout)
        about = f"{error.filename}: " if error.filename else ""
        return f"{about}{error.strerror or error}", 2
    if isinstance(error, UnicodeDecodeError) and _is_of("matplotlib", error):
        return f"the file matplotlibrc, rules for pictures, cannot be read: {error}", 2
    kind = type(error).__name__
    return f"{kind}: {error} (this is a defect in terrain, not in your data)", 1


def _is_behind(error: BaseException, *kinds: type[BaseException]) -> bool:
    """Whether an error of a kind is behind another: in compiled code Ctrl-C is a SystemError."""
    behind: BaseException | None = error
    while behind is not None and not isinstance(behind, kinds):
        behind = behind.__cause__ or behind.__context__
    return behind is not None


def _is_out_of_memory(error: BaseException) -> bool:
    """Whether memory ran out: for Python, for a library that says so in words, for a thread."""
    behind = error.__cause__ or error.__context__
    if isinstance(error, MemoryError) or (behind is not None and _is_out_of_memory(behind)):
        return True
    said = f"{type(error).__name__} {error}".lower()
    return any(words in said for words in _NO_MEMORY_SIGNS)


def _is_of(package: str, error: BaseException) -> bool:
    """Whether an error was raised in a package, or in what it called."""
    frames = traceback.walk_tb(error.__traceback__)
    return any(frame.f_globals.get("__name__", "").startswith(package) for frame, _ in frames)


@contextmanager
def _stopped_at_once() -> Iterator[None]:
    """Let Ctrl-C end the process within the block: in the middle of an import nothing is done."""

    try:
        before = signal.signal(signal.SIGINT, end)
    except ValueError:  # only the first thread is told of signals
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _stop(message: str, code: int) -> None:
    from terrain.command.report import aside

    words = " ".join(message.split())
    aside(f"terrain: {words if len(words) <= _MOST_LETTERS else f'{words[:_MOST_LETTERS]}…'}")
    sys.exit(code)
