"""One survey while it runs: the country as it is cut, the folder, and the way to the workers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from terrain.errors import NoGround, TerrainError
from terrain.ground.features import Features
from terrain.ground.raster.files import RasterFiles
from terrain.surveying.cut import Cut, cut_of
from terrain.surveying.extra import check_installed
from terrain.surveying.rasters import RasterWork
from terrain.surveying.receipts import Folder
from terrain.surveying.stages import Known, first_tasks, know_country, task_gb
from terrain.surveying.tasks import Outcome, Task, Tell, carry_out_all
from terrain.surveying.workers import Workers, called


@dataclass(frozen=True, kw_only=True)
class Run:
    """A survey while it runs. send: does the tasks of a stage, by its name."""

    cut: Cut
    folder: Folder
    send: Callable[[str, Sequence[Task]], Outcome]

    def known(self, prominence_m: float, names: Features | None) -> tuple[Outcome, Known]:
        """What came of the first stage, and what is known of the whole country by it.

        TerrainError where nothing could be read, NoGround where no ground is known.
        """
        first = self.send("ground", first_tasks(self.cut, prominence_m))
        _check_some_ground(first)
        return first, know_country(self.cut, self.folder, first, prominence_m, names)


def begun(
    ground: RasterFiles,
    save: Path,
    *,
    tile_m: float | None,
    workers: Workers | None,
    told: Tell,
    work: RasterWork | None = None,
    **said: Any,
) -> Callable[[float], AbstractContextManager[Run]]:
    """A survey that is ready to run: with how far about its cells ground is read, metres.

    work: of a survey of rasters. said: as `read_dem` takes it. TerrainError where the
    libraries are not installed, or the ground cannot be cut.
    """
    who = workers or Workers()
    # a cluster that is running serves its own
    check_installed(pages=who.dashboard and who.scheduler is None)
    cut, folder = cut_of(ground, tile_m, said), Folder(save.resolve())

    @contextmanager
    def begin(about_m: float) -> Iterator[Run]:
        needs_gb = task_gb(cut, about_m)
        compiled = partial(_compile, work)
        with called(who, task_gb=needs_gb, prepare=compiled) as client:
            send = partial(carry_out_all, folder=folder, client=client, tell=told)
            yield Run(cut=cut, folder=folder, send=send)

    return begin


def _compile(work: RasterWork | None) -> None:
    """Compile all kernels that the tasks will call."""
    from terrain.surveying.warm import compile_kernels, compile_kernels_of

    compile_kernels() if work is None else compile_kernels_of(work)


def _check_some_ground(first: Outcome) -> None:
    """TerrainError where nothing of the country could be read, NoGround where none is known."""
    if not first.receipts:
        label, why = next(iter(first.failures.items()))
        raise TerrainError(f"nothing could be read of any tile; {label}: {why}")
    if not any(one.says["cells"] for one in first.receipts):
        raise NoGround("no ground is known in any tile: every cell is nodata")
