"""No answer of any command tells a number that is none, or one in a form that nobody reads."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

import numpy as np
import rasterio

from tests.attacks import Case, Left, ground, island
from tests.attacks.environment import COMMANDS
from tests.attacks.judging import UNWANTED

_SAVED: Final = {
    "summits": "csv",
    "mist": "svg",
    "passes": "svg",
    "skyline": "svg",
    "sunrise": "svg",
    "vantages": "svg",
    "hills": "csv",
    "atlas": "svg",
    "light": "svg",
    "plan": "html",
    "season": "svg",
    "survey": "csv",
}
_TEXTS: Final = re.compile(r"<script.*?</script>|<style.*?</style>|<[^>]*>", re.DOTALL)


def cases() -> Iterator[Case]:
    """Each command on the island, and where a part of it is not known."""
    for kind, isle in (("known", ground()), ("torn", _torn)):
        for command, asked in COMMANDS.items():
            save = ["--save", f"out.{_SAVED[command]}"] if command in _SAVED else []
            words = [command, "area.toml", *asked]
            quick = kind == "torn" and command == "skyline"
            for flag in ([*save], ["--json"]):
                yield Case(
                    f"{command} {' '.join(flag)} on {kind} ground",
                    [*words, *flag],
                    island(isle__tif=isle),
                    holds=_says_no_nan,
                    quick=quick and flag != ["--json"],
                )
    yield Case("the demo", ["demo", "demo"], codes=frozenset({0}))


def _torn(at: Path) -> None:
    """The island with holes in it: by the hills, at the edge, and here and there (seed 5)."""
    at.write_bytes(ground())
    with rasterio.open(at, "r+") as file:
        heights = file.read(1)
        heights[30:45, 45:52] = np.nan
        heights[:12, 60:] = np.nan
        heights[np.random.default_rng(5).random(heights.shape) < 0.002] = np.nan
        file.nodata = np.nan
        file.write(heights, 1)


def _says_no_nan(left: Left) -> Iterable[str]:
    for path in left.folder.glob("out.*"):
        if path.suffix in (".svg", ".html", ".csv"):
            said = _TEXTS.sub(" ", path.read_text(encoding="utf-8"))
            for found in UNWANTED.finditer(said):
                yield f"{path.name} says {said[max(found.start() - 20, 0) : found.end() + 20]!r}"
