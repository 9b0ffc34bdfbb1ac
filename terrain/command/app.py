"""`terrain`: one command a question, each a thin skin over the library."""

from __future__ import annotations

from importlib import import_module

import typer

from terrain.command.groups import flat
from terrain.command.help_pages import Command
from terrain.command.report import line


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        line(f"terrain {version('terrain')}")
        raise typer.Exit


app = typer.Typer(
    name="terrain",
    help="Find where to stand for a hill above the mist with the sunrise behind it.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback()
def _terrain(
    version: bool = typer.Option(
        False, "--version", help="Print the version.", is_eager=True, callback=_version
    ),
) -> None:
    pass


for name in (
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
):
    # each is a module with one function of its name
    function = getattr(import_module(f"terrain.command.{name}"), name)
    # the first sentence whole, where a list of commands would cut it to a line
    first = (function.__doc__ or "").partition("\n\n")[0]
    app.command(cls=Command, short_help=" ".join(first.split()))(flat(function))
