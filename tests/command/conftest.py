"""The command line as a person meets it: its words, its exit code, and an island to try it on."""

from __future__ import annotations

import io
import json
import os
import shutil
from collections.abc import Callable
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.command.main import run
from terrain.command.options import Saves
from terrain.command.report import print_json
from terrain.sun import calendar
from tests.conftest import SetClock
from tests.scenes import written

COMPILING = (
    "the first run of each command on this machine compiles it, up to half a minute; "
    "later runs are quick\n"
)


@dataclass(frozen=True)
class Outcome:
    """What a command left behind: exit code, and what it printed."""

    code: int
    out: str
    err: str


Terrain = Callable[..., Outcome]


@pytest.fixture
def terrain(capsys: pytest.CaptureFixture[str]) -> Terrain:
    """Run a command in this process."""

    def call(*arguments: object) -> Outcome:
        capsys.readouterr()
        code = 0
        try:
            run([str(argument) for argument in arguments])
        except SystemExit as stop:
            code = int(stop.code or 0)
        captured = capsys.readouterr()
        # the first run on a machine says that it compiles, whatever it is asked
        said = [line for line in captured.err.splitlines(keepends=True) if line != COMPILING]
        return Outcome(code, captured.out, "".join(said))

    return call


@dataclass(frozen=True)
class Answer(Outcome):
    """What a command told a person, and the fields that it would have printed as JSON."""

    fields: Any


Answers = Callable[..., Answer]


@pytest.fixture(scope="session")
def _answers() -> dict[tuple[object, ...], Answer]:
    return {}


@pytest.fixture
def answered(
    terrain: Terrain, monkeypatch: pytest.MonkeyPatch, _answers: dict[tuple[object, ...], Answer]
) -> Answers:
    """Run a command once for both of its answers, and for all tests that ask it at one time."""
    answer = Saves.answer

    def call(*arguments: object) -> Answer:
        words = tuple(str(argument) for argument in arguments)
        asked = calendar.now_at(-24.0, 54.4), os.environ.get("COLUMNS"), words
        if asked in _answers:
            return _answers[asked]
        printed = io.StringIO()

        def both(self: Saves, *, fields: Callable[[], object], **ways: Any) -> None:
            with redirect_stdout(printed):
                print_json(fields())
            answer(self, fields=fields, **ways)

        with monkeypatch.context() as patch:
            patch.setattr(Saves, "answer", both)
            outcome = terrain(*words)
        fields = json.loads(printed.getvalue()) if printed.getvalue() else None
        _answers[asked] = Answer(outcome.code, outcome.out, outcome.err, fields)
        return _answers[asked]

    return call


@pytest.fixture(autouse=True)
def _new_year(set_clock: SetClock) -> None:
    """It is the first morning of 2026, so that nothing of that year is past."""
    set_clock("2026-01-01T03:00")


@pytest.fixture(scope="session")
def isle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An area file over an island of two hills in a shallow bowl, UTM 27N, 50 m cells.

    The eastern hill stands alone; the western ridge looks at it over a valley of 60 m.
    """
    folder = tmp_path_factory.mktemp("isle")
    row, col = np.mgrid[:200, :240] * 50.0
    east, south = col - 6000.0, row - 5000.0
    shore = np.clip(np.minimum.reduce([col, row, col.max() - col, row.max() - row]) / 20.0, 0, 60)
    peak = 520.0 * np.exp(-(((east - 2500.0) / 700.0) ** 2) - (south / 700.0) ** 2)
    ridge = 380.0 * np.exp(-(((east + 3000.0) / 600.0) ** 2) - (south / 2500.0) ** 4)
    written(folder / "isle.tif", shore + peak + ridge)
    (folder / "area.toml").write_text(
        'name = "Two Hills"\nrasters = ["isle.tif"]\n'
        '[places]\n"the ridge" = [54.3794, -24.0331]\n'
        '"Lone Hill" = [54.3815, -23.9485]\n'
        '[starts]\n"the quay" = [54.36, -24.05]\n'
        '[defaults]\nhill = "Lone Hill"\nmist_top_m = 200\ndate = 2026-03-22\n',
        encoding="utf-8",
    )
    return folder / "area.toml"


@pytest.fixture(scope="session")
def clear_isle(isle: Path) -> Path:
    """The same island with no mist over it: a plan there looks for no place above another mist."""
    area = isle.with_name("clear.toml")
    area.write_text(isle.read_text().replace("mist_top_m = 200\n", ""), encoding="utf-8")
    return area


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `terrain demo` makes, with its ground, names and area, no pictures."""
    folder = tmp_path_factory.mktemp("first") / "terrain-demo"
    folder.mkdir()
    data = Path(__file__).parents[2] / "data"
    for name in ("area.toml", "upland.tif", "summits.geojson", "paths.geojson"):
        shutil.copy(data / name, folder)
    return folder
