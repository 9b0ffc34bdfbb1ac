"""Read almost good files for as long as there is time, each a new one.

python -m tests.attacks.fuzz SECONDS [FIRST SEED]

They are read by forks, a batch each, for GDAL may bring down the process that reads. What was not
read as it should be is kept in a folder that is named at the end.
"""

from __future__ import annotations

import itertools
import json
import os
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Final

import numpy as np

from tests.attacks import areas, places, rasters, soundings
from tests.attacks.mutating import Kind, attacks, mutant

_AT_ONCE: Final = 20
_MOST_S: Final = 10
"""Processor time for one file; of waiting twenty times as much, for busy machines."""
_MOST_BYTES: Final = 6 * 1024**3


def all_kinds() -> list[Kind]:
    """Good files of every kind."""
    return [kind for module in (rasters, places, areas, soundings) for kind in module.kinds()]


def fuzz(seconds: float, first: int = 0) -> int:
    """Read for so long, print what is wrong, and return how many were."""
    ends, kinds = time.monotonic() + seconds, all_kinds()
    tried: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    kept = Path(tempfile.mkdtemp(prefix="terrain-fuzz-"))
    with tempfile.TemporaryDirectory() as folder:
        for number in itertools.count():
            turn, kind = number // len(kinds), kinds[number % len(kinds)]
            seeds = range(first + turn * _AT_ONCE, first + (turn + 1) * _AT_ONCE)
            if time.monotonic() > ends:
                break
            place = Path(folder, kind.name).parent
            place.mkdir(exist_ok=True)
            for seed, wrong in attacks_apart(kind, place, seeds):
                bad[kind.name] += 1
                print(wrong, flush=True)
                _keep(kind, seed, kept)
            tried[kind.name] += len(seeds)
    for name in tried:
        print(f"{tried[name]} read, {bad[name]} not as they should be, of {name}")
    print(f"{tried.total()} files read, {tried.total() - bad.total()} as they should be,", end=" ")
    print(f"{bad.total()} not" + (f": {kept}" if bad else ""))
    if not bad:
        kept.rmdir()
    return bad.total()


def attacks_apart(kind: Kind, folder: Path, seeds: range) -> Iterator[tuple[int, str]]:
    """As `attacks`, in a fork; after a file that ends one, another goes on."""
    while seeds:
        told, code = _told_by_fork(kind, folder, seeds)
        at, found = seeds.start, dict[int, str]()
        for line in told:
            at, wrong = json.loads(line)
            if wrong:
                found[at] = wrong
        if code != 0:
            found[at] = f"{kind.name} {at}: the reader ends by {_how(code)}"
        yield from found.items()
        seeds = range(0) if code == 0 else range(at + 1, seeds.stop)


def _told_by_fork(kind: Kind, folder: Path, seeds: range) -> tuple[list[str], int]:
    out, to_out = os.pipe()
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            with os.fdopen(to_out, "w", encoding="utf-8") as told:
                _read_all(kind, folder, seeds, told)
            code = 0
        finally:
            os._exit(code)
    os.close(to_out)
    with os.fdopen(out, encoding="utf-8") as told:
        # of a line that it did not come to the end of nothing is known
        lines = [line for line in told if line.endswith("\n")]
    return lines, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _read_all(kind: Kind, folder: Path, seeds: range, told: IO[str]) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    for seed in seeds:
        print(json.dumps([seed, None]), file=told, flush=True)
        # these end it in the middle of GDAL, too
        signal.setitimer(signal.ITIMER_PROF, _MOST_S)
        signal.alarm(20 * _MOST_S)
        for wrong in attacks(kind, folder, range(seed, seed + 1)):
            print(json.dumps([seed, wrong]), file=told, flush=True)


def _how(code: int) -> str:
    if code in (-signal.SIGPROF, -signal.SIGALRM):
        return f"no end in {_MOST_S} s"
    return f"exit code {code}" if code > 0 else f"the signal {signal.Signals(-code).name}"


def _keep(kind: Kind, seed: int, folder: Path) -> None:
    name = Path(kind.name)
    content = mutant(np.random.default_rng(seed), kind.good, text=kind.text)
    (folder / f"{name.parent}-{seed}-{name.name}").write_bytes(content)


if __name__ == "__main__":
    sys.exit(min(fuzz(float(sys.argv[1]), *map(int, sys.argv[2:3])), 1))
