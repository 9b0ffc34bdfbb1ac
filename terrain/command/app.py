"""`terrain`: one command a question, each a thin skin over the library."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Final

import typer

from terrain.command.groups import flat
from terrain.command.help_pages import Command
from terrain.command.report import line

COMMANDS: Final = (
    "demo",
    "desk",
    "ground",
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
    "survey",
    "sounding",
)
"""In the order of the help; each is a module with one function of its name."""


def app_for(words: Sequence[str] = ()) -> typer.Typer:
    """The command line: with the one command that words begin with, else with all of them.

    To load them all, and to take their options apart, takes a tenth of a second.
    """
    app = typer.Typer(
        name="terrain",
        help="Find where to stand for a hill above the mist with the sunrise behind it.",
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_terrain)
    for name in words[:1] if words and words[0] in COMMANDS else COMMANDS:
        function = getattr(import_module(f"terrain.command.{name}"), name)
        # the first sentence whole, where a list of commands would cut it to a line
        first = (function.__doc__ or "").partition("\n\n")[0]
        app.command(cls=Command, short_help=" ".join(first.split()))(flat(function))
    return app


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        line(f"terrain {version('terrain')}")
        raise typer.Exit


def _terrain(
    version: bool = typer.Option(
        False, "--version", help="Print the version.", is_eager=True, callback=_version
    ),
) -> None:
    pass
