"""Attacks by the size of the ground and the memory there is for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

import numpy as np
import rasterio
from affine import Affine

from tests.attacks import Case, Left, island
from tests.attacks.environment import COMMANDS
from tests.benchmarks.ground import rugged
from tests.scenes import written

_HUGE: Final = 20_000


def cases() -> Iterator[Case]:
    """All of them."""
    yield from _asked()
    yield from _large()
    yield from _run_out()


def _asked() -> Iterator[Case]:
    for asked in ("0", "-1", "0.2", "0.5", "many"):
        yield Case(
            f"--memory {asked}",
            ["summits", "area.toml", "--memory", asked],
            island(),
            codes=frozenset({2}),
            quick=asked == "0.2",
        )
    for asked in ("0", "-25", "0.001", "20000"):
        yield Case(
            f"--cell {asked}",
            ["summits", "area.toml", "--cell", asked],
            island(),
            codes=frozenset({2}),
            quick=asked == "0.001",
        )
    for command, asked in COMMANDS.items():
        for options in (["--cell", "200"], ["--cell", "33.3"], ["--cell", "9000"]):
            yield Case(
                f"{command} {' '.join(options)}",
                [command, "area.toml", *asked, *options],
                island(),
                quick=command == "mist" and options[1] == "33.3",
            )


def _large() -> Iterator[Case]:
    """Files of 400 million cells, of which next to nothing is stored."""
    for name, words in (
        ("too fine", ["summits", "huge.tif", "--cell", "10"]),
        ("little memory", ["mist", "huge.tif", "--top", "50", "--memory", "0.6", "--cell", "40"]),
    ):
        yield Case(
            f"400 million cells, {name}",
            words,
            {"huge.tif": _huge},
            codes=frozenset({2}),
            holds=_names("--cell", "--memory", "--near"),
        )
    for words in (["--memory", "0.6"], ["--memory", "0.6", "--json"]):
        yield Case(
            f"4 million cells in {' '.join(words[1:])} GB",
            ["summits", "rough.tif", *words],
            {"rough.tif": _rough},
            codes=frozenset({0}),
            holds=_names("note: the ground is read at", "--memory", "--near"),
            quick=False,
        )
    yield Case(
        "noise in little memory",
        ["summits", "noise.tif", "--memory", "0.6", "--prominence", "1"],
        {"noise.tif": _noise},
        quick=False,
    )


def _run_out() -> Iterator[Case]:
    """Processes that may take only so much, whatever is asked of them."""
    for limit_mb in (700, 900, 1200, 1600, 2400, 4000):
        for words in ("summits rough.tif", "mist rough.tif --top 500 --save mist.gpkg"):
            yield Case(
                f"{words.split()[0]} in an address space of {limit_mb} MB",
                files={"rough.tif": _rough},
                shell=f"ulimit -v {1024 * limit_mb}; $TERRAIN {words}",
                holds=_helps_or_answers,
                quick=False,
            )


def _names(*words: str) -> Callable[[Left], Iterable[str]]:
    def missing(left: Left) -> Iterator[str]:
        for word in words:
            if word not in left.err:
                yield f"does not say {word}"

    return missing


def _helps_or_answers(left: Left) -> Iterable[str]:
    if left.code == 2 and "memory" not in left.err:
        yield f"says nothing of memory: {left.err[-300:]}"


def _huge(path: Path) -> None:
    profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": "EPSG:32628"}
    profile |= {"tiled": True, "blockxsize": 512, "blockysize": 512, "sparse_ok": True}
    placing = Affine(10, 0, 4e5, 0, -10, 6.1e6)
    with rasterio.open(
        path, "w", width=_HUGE, height=_HUGE, transform=placing, **profile
    ) as raster:
        raster.write(np.full((512, 512), 100.0, dtype=np.float32), 1, window=((0, 512), (0, 512)))


def _rough(path: Path) -> None:
    written(path, rugged(2000).heights_m)


def _noise(path: Path) -> None:
    written(path, np.random.default_rng(3).uniform(0.0, 200.0, (2000, 2000)))
