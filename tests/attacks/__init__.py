"""Attempts to break the command line, each a case that is run for real and then judged.

`python -m tests.attacks` tries them all and counts; the quick ones are part of the suite. A module
here that has a `cases()` takes part: it yields `Case`s, the same ones each time (random draws take
a seed)::

    def cases() -> Iterator[Case]:
        yield Case("a raster of no cells", ["summits", "empty.tif"], {"empty.tif": b""})

What holds for every case needs no saying (`judging.py`): it ends with 0, or with 2 and one line;
within a minute; without a traceback or a "defect"; with no "nan" told; every file that was laid is
as it was unless the case lets it be replaced, every new one can be read, none is left hidden.
"""

from __future__ import annotations

import functools
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from tests.scenes import written

Laid = bytes | str | Callable[[Path], object]
"""A file to lay: what it holds, or what makes it at the path that it is called with."""

HANG_S: Final = 60
"""Processor time after which a case hangs; of waiting five times as much, for busy machines."""


@dataclass(frozen=True)
class Left:
    """What a case left behind: exit code, the two streams, and the folder it ran in.

    halves: what was wrong after it was stopped, before it ran again.
    """

    code: int
    out: str
    err: str
    folder: Path
    halves: tuple[str, ...] = ()


@dataclass(frozen=True)
class Stop:
    """A signal in the middle, at a share of the time that the command takes."""

    signal: int
    share: float


@dataclass(frozen=True)
class Case:
    """One attempt: a command line in a folder of its own with some files in it.

    words: after `terrain`. files: from their names, the folders before them made. environment:
    variables set for it, None takes one away. replaces: the laid files that may be others
    afterwards, or gone. holds: what else must hold, a complaint for each thing that does not.
    codes: how it may end. fresh: in an interpreter of its own, which takes a second; for what
    happens while it starts or ends, such as variables that libraries read when they are imported.
    quick: part of the suite. shell: a line for `sh` in place of the words, with `$TERRAIN` the
    command; always fresh. limit_kb: the size no file may grow beyond. stop: it is
    stopped, looked at, and run again to its end. serves_s: it ends by Ctrl-C after so long, if it
    is still there.
    """

    name: str
    words: Sequence[str] = ()
    files: Mapping[str, Laid] = field(default_factory=dict)
    environment: Mapping[str, str | None] = field(default_factory=dict)
    replaces: frozenset[str] = frozenset()
    holds: Callable[[Left], Iterable[str]] = lambda left: ()
    codes: frozenset[int] = frozenset({0, 2})
    fresh: bool = False
    quick: bool = False
    shell: str = ""
    limit_kb: int | None = None
    stop: Stop | None = None
    serves_s: float | None = None


def island(**others: Laid) -> dict[str, Laid]:
    """The files of a small island: `area.toml`, its ground and names; more or others by name.

    Two hills in a shallow bowl, UTM 27N, 80 x 100 cells of 50 m; the `ridge` looks at the `Knoll`
    over a valley of 60 m. Names of files are written with `__` for the dot: `area__toml`.
    """
    laid: dict[str, Laid] = {
        "area.toml": AREA,
        "isle.tif": ground(),
        "names.csv": "name,lat,lon\nKnoll,54.4065,-24.0274\nthe ridge,54.4057,-24.0589\n",
    }
    return laid | {name.replace("__", "."): one for name, one in others.items()}


AREA: Final = """\
name = "Two Hills"
rasters = ["isle.tif"]
summits = "names.csv"
[places]
"ridge" = [54.4058, -24.0580]
[starts]
"quay" = [54.4000, -24.0600]
[defaults]
hill = "Knoll"
mist_top_m = 150
date = 2026-03-22
"""


@functools.cache
def ground() -> bytes:
    """The island's raster, as GeoTIFF."""
    row, col = np.mgrid[:80, :100] * 50.0
    east, south = col - 2500.0, row - 2000.0
    shore = np.clip(np.minimum.reduce([col, row, 4950.0 - col, 3950.0 - row]) / 10.0, 0, 60)
    peak = 420.0 * np.exp(-(((east - 1000.0) / 350.0) ** 2) - (south / 350.0) ** 2)
    ridge = 280.0 * np.exp(-(((east + 1050.0) / 300.0) ** 2) - (south / 1100.0) ** 4)
    with tempfile.TemporaryDirectory() as folder:
        return written(Path(folder, "isle.tif"), shore + peak + ridge).read_bytes()
