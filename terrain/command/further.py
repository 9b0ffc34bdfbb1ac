"""The command line of a further question, made from what was asked, to be typed as it stands."""

from __future__ import annotations

import shlex
from pathlib import Path

from terrain.command.options import Ground


def again(asked: Ground, command: str, names: Path | None, *words: str) -> str:
    """The command line of a further question about the same ground, for a line of its own."""
    said = {
        "--crs": asked.crs,
        "--unit": asked.unit,
        "--band": asked.band,
        "--variable": asked.variable,
        "--reach": asked.reach,
        "--cell": asked.cell,
        "--memory": asked.memory,
        "--names": names,
    }
    options = [word for key, one in said.items() if one is not None for word in (key, one)]
    trusted = ["--trust"] if asked.trust else []
    line = ["terrain", command, *asked.ground, *options, *trusted, *words]
    return f"  {shlex.join(map(str, line))}"
