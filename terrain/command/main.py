"""`terrain`: one command a question, each a thin skin over the library."""

from __future__ import annotations

import atexit
import gc
import sys
import warnings
from importlib import import_module

import typer
from typer.exceptions import TyperException

from terrain.command.groups import flat
from terrain.command.report import aside
from terrain.compiling import on_first_compile
from terrain.errors import TerrainError

_STOPPED = 130
_STOPPED_WORDS = "stopped; every file already written is whole"

app = typer.Typer(
    name="terrain",
    help="Find where to stand for a hill above the mist with the sunrise behind it.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for name in (
    "demo",
    "summits",
    "mist",
    "passes",
    "skyline",
    "sunrise",
    "dates",
    "vantages",
    "hills",
    "atlas",
    "light",
    "frame",
    "plan",
    "season",
    "sounding",
):
    # each is a module with one function of its name
    app.command()(flat(getattr(import_module(f"terrain.command.{name}"), name)))


def run(arguments: list[str] | None = None) -> None:
    """Run the command line: bad input is one line on stderr and exit code 2."""
    # what the libraries load stays; to look it through for refuse, at the end too, takes long
    gc.set_threshold(500_000, 20, 100)
    atexit.register(gc.freeze)
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
    try:
        words = sys.argv[1:] if arguments is None else arguments
        with on_first_compile(_say_compiling):
            code = app(words or ["--help"], standalone_mode=False)
        # the command line library turns Ctrl-C into this code
        if code == _STOPPED:
            _stop(_STOPPED_WORDS, _STOPPED)
    except TyperException as error:
        _stop(f"{error.format_message()} (terrain COMMAND --help says more)", 2)
    except TerrainError as error:
        _stop(str(error), 2)
    except Exception as error:
        if _was_stopped(error):
            _stop(_STOPPED_WORDS, _STOPPED)
        _stop(f"{type(error).__name__}: {error} (this is a defect in terrain, not in your data)", 1)


def _was_stopped(error: BaseException) -> bool:
    """Whether Ctrl-C is behind an error: in compiled code it comes out as a SystemError."""
    behind: BaseException | None = error
    while behind is not None and not isinstance(behind, KeyboardInterrupt):
        behind = behind.__cause__ or behind.__context__
    return behind is not None


def _say_compiling() -> None:
    aside("compiling once for this machine, up to half a minute; later runs are quick")


def _stop(message: str, code: int) -> None:
    aside(f"terrain: {' '.join(message.split())}")
    sys.exit(code)


if __name__ == "__main__":
    run()
