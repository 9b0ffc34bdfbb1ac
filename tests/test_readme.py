"""README and pages as a newcomer takes them: every command, typed as it stands, and Python."""

from __future__ import annotations

import shlex
import shutil
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import rasterio
from affine import Affine
from distributed import LocalCluster
from rasterio.enums import Resampling
from typer.testing import CliRunner

import terrain
from docs.blocks import blocks, commands_of, fetches, files
from docs.ground import lay_out
from terrain.command.app import app_for
from terrain.command.area_file import open_area
from tests.conftest import SetClock

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
PAGES = {"README.md": README} | {
    file.relative_to(ROOT).as_posix(): file.read_text()
    for file in sorted((ROOT / "docs" / "pages").rglob("*.md"))
}
FILES = {name: text for page in PAGES.values() for name, text in files(page).items()}
LINES = list(dict.fromkeys(line for page in PAGES.values() for line in commands_of(page)))
FETCHED = [line for line in LINES if fetches(line)]
"""Tried where ground is served: tests/command/test_ground.py."""

ELSEWHERE = [line for line in LINES if line.startswith(("terrain demo", "terrain desk"))]
"""Tried by what makes the pages and the demo of a wheel, and in tests/desk."""

COMMANDS = [line for line in LINES if line not in FETCHED + ELSEWHERE]
ON_A_TILE = [line for line in COMMANDS if ".hgt.zip" in line]


@pytest.fixture(scope="session")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's ground on cells of twice the side: what a command does is the same on it."""
    file = tmp_path_factory.mktemp("readme") / "ground.tif"
    with rasterio.open(ROOT / "data" / "upland.tif") as fine:
        profile = fine.profile
        shape = fine.height // 2, fine.width // 2
        heights = fine.read(1, out_shape=shape, resampling=Resampling.average)
        cell_m, _, west, _, _, north = fine.transform[:6]
    coarser = Affine(2 * cell_m, 0, west, 0, -2 * cell_m, north)
    profile.update(height=shape[0], width=shape[1], transform=coarser)
    with rasterio.open(file, "w", **profile) as coarse:
        coarse.write(heights, 1)
    return file


@pytest.fixture
def folder(
    ground: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, set_clock: SetClock
) -> Path:
    """What the pages take for granted: a raster, names, ways, and the files they have written."""
    set_clock("2026-01-01T03:00")
    lay_out(tmp_path, ground)
    for name, text in FILES.items():
        (tmp_path / name).write_text(text)
    (tmp_path / "area.toml").write_text(FILES["my-hills.toml"])
    monkeypatch.chdir(tmp_path)
    return tmp_path


def saved(command: str) -> list[str]:
    words = shlex.split(command)
    return [words[at + 1] for at, word in enumerate(words) if word == "--save"]


def test_there_are_commands_in_the_readme_and_on_the_pages() -> None:
    assert len(COMMANDS) > 20
    assert len([line for line in commands_of(README) if line in COMMANDS]) == 4
    assert len(ON_A_TILE) == 1


def test_places_of_the_pages_are_those_of_the_demo() -> None:
    area = open_area([ROOT / "data" / "area.toml"])
    on_area = [shlex.split(line) for line in COMMANDS if "area.toml" in line]
    places = [
        words[at + 1].partition("=")[0]
        for words in on_area
        for at, word in enumerate(words)
        if word in ("--spot", "--mist-from", "--valley", "--start", "--hill")
    ]
    assert len(places) > 2
    for place in places:
        assert area.spot(place).name == place


@pytest.mark.usefixtures("fewer_of_a_kind")
@pytest.mark.parametrize("command", [line for line in COMMANDS if line not in ON_A_TILE])
def test_a_command_of_the_pages_does_what_it_says(
    command: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a worker of a survey begins with all that it loads: one does what two do, in this process too
    monkeypatch.setattr("terrain.surveying.workers.cores", lambda: 1)
    monkeypatch.setattr("distributed.LocalCluster", partial(LocalCluster, processes=False))
    words = shlex.split(command)[1:]
    result = CliRunner().invoke(app_for(words), words)
    assert result.exit_code == 0, result.output
    for name in saved(command):
        assert (folder / name).stat().st_size > 100


@pytest.mark.slow
def test_from_a_downloaded_tile_to_the_phone(folder: Path, open_data: Path) -> None:
    (command,) = ON_A_TILE
    shutil.copy(open_data / "N50E011.hgt.zip", folder)
    words = shlex.split(command)[1:]
    result = CliRunner().invoke(app_for(words), words)
    assert result.exit_code == 0, result.output
    (sheet,) = saved(command)
    assert "my hill" in (folder / sheet).read_text()


def test_the_python_of_the_pages_finds_vantages(
    folder: Path, open_data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # no more of the two tiles than lies about the hill of the example, close by the seam
    hill = terrain.Spot(lon_deg=11.8533, lat_deg=50.0517)
    about = partial(terrain.read_dem, around=hill, reach_m=16_000.0)
    monkeypatch.setattr(terrain, "read_dem", about)
    for tile in ("N49E011.hgt.zip", "N50E011.hgt.zip"):
        shutil.copy(open_data / tile, folder)
    (example,) = (
        block.text
        for block in blocks(PAGES["docs/pages/how-to/use-python.md"])
        if block.kind == "python"
    )
    names: dict[str, Any] = {"__name__": "__main__"}
    exec(compile(example, "the example", "exec"), names)
    assert len(names["vantages"]) > 0
    assert (folder / "map.png").stat().st_size > 100
