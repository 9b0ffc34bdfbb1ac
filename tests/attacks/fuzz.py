"""Read almost good files for as long as there is time, each a new one.

python -m tests.attacks.fuzz SECONDS [FIRST SEED]
"""

from __future__ import annotations

import itertools
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

from tests.attacks import areas, places, rasters, soundings
from tests.attacks.mutating import Kind, attacks

_AT_ONCE: Final = 20
_MOST_S: Final = 10.0


def all_kinds() -> list[Kind]:
    """Good files of every kind."""
    return [kind for module in (rasters, places, areas, soundings) for kind in module.kinds()]


def fuzz(seconds: float, first: int = 0) -> int:
    """Read for so long, print what is wrong, and return how many were."""
    ends, kinds, tried, bad = time.monotonic() + seconds, all_kinds(), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for number in itertools.count():
            turn, kind = number // len(kinds), kinds[number % len(kinds)]
            seeds = range(first + turn * _AT_ONCE, first + (turn + 1) * _AT_ONCE)
            began = time.monotonic()
            if began > ends:
                break
            place = Path(folder, kind.name).parent
            place.mkdir(exist_ok=True)
            wrong = list(attacks(kind, place, seeds))
            if time.monotonic() - began > _MOST_S * _AT_ONCE:
                wrong.append(f"{kind.name}: {seeds} took {time.monotonic() - began:.0f} s")
            tried, bad = tried + len(seeds), bad + len(wrong)
            print(*wrong, sep="\n", end="\n" if wrong else "", flush=True)
    print(f"{tried} files read, {tried - bad} as they should be, {bad} not")
    return bad


if __name__ == "__main__":
    sys.exit(min(fuzz(float(sys.argv[1]), *map(int, sys.argv[2:3])), 1))
