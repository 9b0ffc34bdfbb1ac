"""The README as a newcomer takes it: every command of it, typed as it stands, and its Python."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
import rasterio
from affine import Affine
from rasterio.enums import Resampling
from typer.testing import CliRunner

from terrain.command.app import app
from terrain.command.area_file import open_area
from tests.conftest import SetClock

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, re.DOTALL)
LINES = [
    line
    for kind, text in BLOCKS
    for line in text.splitlines()
    if not kind and line.startswith("terrain ")
]
FETCHED = [line for line in LINES if line.startswith("terrain ground") or "copernicus" in line]
"""Tried where ground is served: tests/command/test_ground.py."""

COMMANDS = [line for line in LINES if line not in FETCHED]
ON_A_TILE = [line for line in COMMANDS if ".hgt.zip" in line]

ASCENT = """pressure hPa,height m,temperature C,dew point C
970,120,3.0,3.0
955,250,3.2,3.1
940,380,7.5,1.0
900,740,6.0,-4.0
850,1210,3.0,-8.0
"""


def block(kind: str, beginning: str) -> str:
    """The one block of the README of a kind that begins so."""
    (text,) = (text for of, text in BLOCKS if of == kind and text.startswith(beginning))
    return text


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
    """What the README takes for granted: a raster, names, ways, an ascent, and the area file."""
    set_clock("2026-01-01T03:00")
    data = ROOT / "data"
    shutil.copy(ground, tmp_path)
    names = gpd.read_file(data / "summits.geojson")
    names = names.assign(lat=names.geometry.y, lon=names.geometry.x)
    names[["name", "lat", "lon"]].to_csv(tmp_path / "names.csv", index=False)
    ways = gpd.read_file(data / "paths.geojson")
    ways[["geometry"]].to_file(tmp_path / "paths.gpx", driver="GPX", layer="tracks")
    (tmp_path / "area.toml").write_text(block("toml", "name"))
    (tmp_path / "ascent.csv").write_text(ASCENT)
    (tmp_path / "places.csv").write_text(block("", "name,lat,lon"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def saved(command: str) -> list[str]:
    words = shlex.split(command)
    return [words[at + 1] for at, word in enumerate(words) if word == "--save"]


def test_there_are_commands_in_the_readme() -> None:
    assert len(COMMANDS) > 15
    assert len(ON_A_TILE) == 1


def test_places_of_the_readme_are_those_of_the_demo() -> None:
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


@pytest.mark.parametrize("command", [line for line in COMMANDS if line not in ON_A_TILE])
def test_a_command_of_the_readme_does_what_it_says(command: str, folder: Path) -> None:
    result = CliRunner().invoke(app, shlex.split(command)[1:])
    assert result.exit_code == 0, result.output
    for name in saved(command):
        assert (folder / name).stat().st_size > 100


def test_from_a_downloaded_tile_to_the_phone(folder: Path, open_data: Path) -> None:
    (command,) = ON_A_TILE
    shutil.copy(open_data / "N50E011.hgt.zip", folder)
    result = CliRunner().invoke(app, shlex.split(command)[1:])
    assert result.exit_code == 0, result.output
    (sheet,) = saved(command)
    assert "my hill" in (folder / sheet).read_text()


def test_the_python_of_the_readme_finds_vantages(folder: Path, open_data: Path) -> None:
    for tile in ("N49E011.hgt.zip", "N50E011.hgt.zip"):
        shutil.copy(open_data / tile, folder)
    script = block("python", "import") + "\nprint(len(vantages))"
    found = subprocess.run(
        [sys.executable, "-c", script], cwd=folder, check=True, stdout=subprocess.PIPE, text=True
    )
    assert int(found.stdout) > 0
    assert (folder / "map.png").stat().st_size > 100
