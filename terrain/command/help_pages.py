"""The help of each command: its options in groups, those that matter first, and one example."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from typing import Any, Final

from typer.core import TyperCommand

from terrain.command.loosened import with_what_to_type
from terrain.command.streams import say_at_once
from terrain.errors import NoAnswer

_WORDS: Final = "terrain.words"

GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "The question": (
        *(
            "spot",
            "hill",
            "date",
            "year",
            "first",
            "last",
            "evening",
            "ends",
            "what",
            "start",
            "figure",
        ),
        *("figure", "valley", "every", "walk", "valley_air", "hilltop_air", "floor"),
    ),
    "The mist": ("mist_top", "mist_depth", "mist_ceiling", "source", "hollow", "trees", "pours"),
    "The answer": (
        "save",
        "show",
        "count",
        "wide",
        "explain",
        "as_json",
        "frames",
        "at",
        "hold",
        "pixels",
        "clean",
        "survey",
        "port",
        "browser",
    ),
    "What a place must keep to": (
        *("within", "prominence", "against", "mist_share", "lens", "nearest", "farthest"),
        *("freeboard", "steepest", "apart", "weight", "per_hill", "day_step", "step"),
    ),
    "Kit, person, timing and forecast": (
        *("sensor", "hill_width", "figure_height", "drive", "settle"),
        *("air", "air_height", "lapse", "wind", "disc"),
    ),
    "Who does the work": ("tile", "workers", "scheduler", "dashboard"),
    "The ground": (
        *("sunward", "offline", "yes", "check"),
        *("names", "near", "areas", "valley_reach", "across", "reach", "cell", "memory"),
        *("crs", "unit", "band", "variable", "trust"),
    ),
}
"""The groups in the order of the help, and in each the options by the names of their parameters."""

_AREA: Final = ("terrain-demo/area.toml",)
EXAMPLES: Final[Mapping[str, tuple[str, ...]]] = {
    "demo": ("terrain-demo",),
    "summits": (*_AREA, "--save", "summits.png"),
    "mist": (*_AREA, "--mist-top", "280", "--save", "mist.png"),
    "passes": (*_AREA, "--mist-from", "Ilverk", "--save", "passes.png"),
    "skyline": (*_AREA, "--spot", "Hessick Spur", "--save", "skyline.png"),
    "sunrise": (*_AREA, "--spot", "Hessick Spur", "--save", "view.png"),
    "dates": (*_AREA, "--spot", "Hessick Spur", "--save", "dates.csv"),
    "vantages": (*_AREA, "--walk", "60", "--save", "vantages.png"),
    "hills": (*_AREA, "--save", "hills.csv"),
    "atlas": (*_AREA, "--save", "atlas.png"),
    "light": (*_AREA, "--valley", "Ilverk", "--save", "light.png"),
    "frame": (*_AREA, "--spot", "Hessick Spur", "--lens", "200"),
    "plan": (*_AREA, "--start", "Ashket Gap car park", "--save", "plan.html"),
    "season": (*_AREA, "--from", "2026-10-08", "--to", "2026-10-12", "--hill", "Orrasel"),
    "survey": (
        *(*_AREA, "--from", "2026-10-12", "--to", "2026-10-13", "--prominence", "200"),
        *("--save", "survey"),
    ),
    "desk": (*_AREA,),
    "ground": ("50.05,11.85", "--save", "ground.tif"),
    "sounding": ("--valley-air", "210,2.5,98", "--hilltop-air", "540,6"),
}
"""One command line of each command, in the folder where `terrain demo` was run."""


def example(name: str) -> str:
    """The example of a command, to be typed as it stands."""
    return shlex.join(["terrain", name, *EXAMPLES[name]])


class Command(TyperCommand):
    """A command whose help has its options in groups, and ends with an example.

    It says at once that it has begun: what it needs takes a second or two to load.
    """

    def invoke(self, ctx: Any) -> Any:
        """Answer; where nothing does, say what to type for the nearest miss."""
        say_at_once()
        try:
            return super().invoke(ctx)
        except NoAnswer as error:
            known = [spelling for param in self.get_params(ctx) for spelling in param.opts]
            words = ctx.meta.get(_WORDS, [])
            told = with_what_to_type(error, str(self.name), words, known)
            if told is error:
                raise
            raise told from error

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take the words of the command line apart, and keep them as they are."""
        ctx.meta[_WORDS] = list(args)
        return super().parse_args(ctx, args)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments, then each group of options that the command has."""
        written: dict[str, list[tuple[str, str]]] = {"Arguments": []}
        written |= {group: [] for group in GROUPS}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                written.setdefault(group_of(param), []).append(record)
        for group, records in written.items():
            if records:
                with formatter.section(group):
                    formatter.write_dl(records, col_max=24)

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write the example, whole, for a line that is broken cannot be typed."""
        first = "" if self.name == "demo" else ", after `terrain demo`"
        with formatter.section(f"Example{first}"):
            formatter.write(f"  {example(str(self.name))}\n")


def group_of(param: Any) -> str:
    """The group of a parameter, by its name."""
    if param.param_type_name == "argument":
        return "Arguments"
    return next((group for group, names in GROUPS.items() if param.name in names), "Help")
