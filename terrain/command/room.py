"""How much ground there is memory for: what the work of each command takes, held against a limit.

The figures are measured (`python -m tests.benchmarks.room`): the peak of each command on made
ground of 4 and 9 million cells, and what each cell adds to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

from terrain.command.report import aside
from terrain.cores import cores
from terrain.errors import TerrainError
from terrain.memory import free_bytes

if TYPE_CHECKING:
    from terrain.ground.raster.blocks import Coarse

DEFAULT_GB: Final = 4.0
"""Most memory that a command takes unless it is told otherwise, gigabytes."""

_OWN_GB: Final = 0.5
"""What the program and its libraries take on hardly any ground, while they compile, too."""

_BESIDE_GB: Final = 0.35
"""What a process beside the command takes on hardly any ground, by /proc/PID/smaps_rollup."""

_LEAST_GB: Final = 0.05
_FREE_SHARE: Final = 0.9
_LARGE_S: Final = 30.0


@dataclass(frozen=True)
class Work:
    """What some work on ground takes: bytes and microseconds a cell, at the most on real ground.

    near: whether the command has an option for a place. bytes_beside: what a process beside the
    command takes a cell, which maps what is worked out of the ground, for those that begin some.
    """

    bytes_a_cell: float
    us_a_cell: float
    near: bool = False
    bytes_beside: float = math.inf


SUMMITS: Final = Work(55.0, 0.7, near=True)
MIST: Final = Work(125.0, 1.5, near=True)
PASSES: Final = Work(90.0, 1.0, near=True)
HILLS: Final = Work(100.0, 2.0, near=True)
LIGHT: Final = Work(110.0, 3.0, near=True)
ATLAS: Final = Work(100.0, 1.5)
VANTAGES: Final = Work(110.0, 1.0)
SEASON: Final = Work(110.0, 2.0, bytes_beside=75.0)
SURVEY: Final = Work(200.0, 0.0)
ONE_SPOT: Final = Work(50.0, 0.3)
"""What is worked out at one spot looks at the ground as it is read."""


@dataclass(frozen=True, kw_only=True)
class Room:
    """For how much ground there is memory. memory_gb: the most to take, where it is said."""

    work: Work
    memory_gb: float | None = None

    @cached_property
    def limit_gb(self) -> float:
        """The most to take, gigabytes: what may be taken, as far as it is free."""
        free = free_bytes()
        wanted = self.memory_gb or DEFAULT_GB
        return wanted if free is None else min(wanted, _FREE_SHARE * free / 1e9)

    @cached_property
    def most_cells(self) -> int:
        """How many cells of ground that is enough for; TerrainError where for hardly any."""
        for_ground_gb = self.limit_gb - _OWN_GB
        if for_ground_gb < _LEAST_GB - 1e-9:
            least = f"{_OWN_GB + _LEAST_GB:g} GB"
            if self.limit_gb == self.memory_gb:
                raise TerrainError(
                    f"--memory {self.memory_gb:g} is too little, the program itself takes "
                    f"{_OWN_GB:g} GB: give {least} or more"
                )
            raise TerrainError(
                f"only {self.limit_gb / _FREE_SHARE:.1f} GB of memory is free, and {least} is "
                "needed even for little ground: close other programs"
            )
        return int(1e9 * for_ground_gb / self.work.bytes_a_cell)

    def takes_gb(self, cells: float) -> float:
        """What work on so many cells takes, gigabytes."""
        return _OWN_GB + cells * self.work.bytes_a_cell / 1e9

    def processes(self, cells: int) -> int:
        """How many may work at once on so many cells, each on a core: the command and others."""
        spare_gb = self.limit_gb - self.takes_gb(cells)
        beside_gb = _BESIDE_GB + cells * self.work.bytes_beside / 1e9
        return 1 + max(min(cores() - 1, int(spare_gb / beside_gb)), 0)

    def check(self, coarse: Callable[..., Coarse], *, is_whole: bool) -> None:
        """Say how the ground is read and how long the work is, where that is out of the ordinary.

        coarse: how it is read where so many cells at most are held. is_whole: whether all of it
        is. TerrainError where there is not the memory for cells of the size asked for.
        """
        read = coarse(most_cells=self.most_cells)
        if read.cells > self.most_cells:
            finest = coarse(most_cells=self.most_cells, cell_m=None)
            raise TerrainError(
                f"{_millions(read.cells)} cells take about {self.takes_gb(read.cells):.1f} GB, and "
                f"{self._limit} may be taken: give --cell {math.ceil(finest.cell_m)} or more, "
                f"{self._ways_out(read.cells, is_whole)}"
            )
        if read.side > 1 and not read.is_asked:
            self._say_coarse(read, is_whole)
        seconds = read.cells * self.work.us_a_cell / 1e6
        if seconds > _LARGE_S:
            aside(
                f"note: {_millions(read.cells)} cells of ground take about "
                f"{self.takes_gb(read.cells):.1f} GB and {_duration(seconds)}"
            )

    def _say_coarse(self, read: Coarse, is_whole: bool) -> None:
        finer = self._ways_out(read.cells * read.side**2, is_whole)
        aside(
            f"note: the ground is read at {_metres(read.cell_m)} cells (of "
            f"{_metres(read.own_m)}), the mean of {read.side} x {read.side} each, to stay within "
            f"{self._limit}; summits keep the height of their highest, and their prominence may "
            f"come out lower. {finer} reads finer"
        )

    @property
    def _limit(self) -> str:
        if self.limit_gb < (self.memory_gb or DEFAULT_GB):
            return f"the {self.limit_gb:.1f} GB that are free"
        return f"{self.limit_gb:.3g} GB"

    def _ways_out(self, cells: float, is_whole: bool) -> str:
        """What reads finer: the options that say so."""
        ways = [f"--memory {math.ceil(self.takes_gb(cells))}"]
        if not is_whole:
            ways.append("a smaller --reach")
        elif self.work.near:
            ways.append("a place with --near and --reach")
        return " or ".join(ways)


def _millions(cells: float) -> str:
    return f"{cells / 1e6:,.{0 if cells >= 1e7 else 1}f} million"


def _metres(length_m: float) -> str:
    return f"{round(length_m, 1):g} m" if length_m < 1e5 else f"{length_m / 1000.0:.0f} km"


def _duration(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes} minutes" if minutes > 1 else "a minute"
