"""From nothing to a plan on a phone in four commands, without a manual.

The internet is a server of this machine, laid out as the public one of Copernicus is.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from typer.testing import CliRunner

from terrain.command.app import app_for
from terrain.fetch.sources import known_sources
from terrain.fetch.tiles import Tile
from tests.browser import chromium, needs_browser, page_of
from tests.fetch.server import serving

fixtures = (chromium,)

ROOT = Path(__file__).parent.parent
COPERNICUS = known_sources()["copernicus-30"]
TILE = Tile(50, 11)
"""Cells of 93 m down and 59 m across: what a command does is the same on them, and sooner."""
ROWS = 1200

HILL = "50.5,11.535"
DAY = ("--date", "2026-03-22", "--mist-top", "320")
FETCH = ("ground", "50.5,11.5", "--reach", "12", "--sunward", "12", "--save", "ground.tif")
VANTAGES = ("vantages", "ground.tif", "--hill", HILL, *DAY)
PLAN = ("plan", "ground.tif", "--hill", HILL, "--start", "50.492,11.48", *DAY)


def heights_m(lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    """A lone hill, and west of it a ridge that looks at it over a shallow valley."""
    east = (lon - 11.5) * 70_800.0
    north = (lat - 50.5) * 111_200.0
    peak = 400.0 * np.exp(-(((east - 2500.0) / 700.0) ** 2) - (north / 700.0) ** 2)
    ridge = 300.0 * np.exp(-(((east + 3000.0) / 600.0) ** 2) - (north / 2500.0) ** 4)
    swell = 12.0 * np.sin(east / 900.0) * np.cos(north / 1100.0)
    return (250.0 + swell + peak + ridge).astype("float32")


@pytest.fixture(scope="module")
def bucket(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bucket")
    for source in (COPERNICUS, known_sources()["copernicus-90"]):
        listed = folder / source.folder / source.listed
        listed.parent.mkdir()
        listed.write_text(f"{Path(TILE.written(source.tile)).stem}\n")
    columns = tuple((below, count // 3) for below, count in COPERNICUS.columns)
    coarse = replace(COPERNICUS, rows=ROWS, columns=columns)
    rows, cols = coarse.shape_of(TILE)
    at = coarse.transform_of(TILE)
    lon, lat = at.c + at.a * (np.arange(cols) + 0.5), at.f + at.e * (np.arange(rows) + 0.5)
    path = folder / coarse.folder / TILE.written(coarse.tile)
    path.parent.mkdir()
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float32"}
    with rasterio.open(path, "w", crs="EPSG:4326", transform=at, **profile) as raster:
        raster.write(heights_m(lon[None, :], lat[:, None]), 1)
    return folder


@pytest.fixture
def internet(bucket: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The server in place of it; a fresh cache, and a folder with nothing in it to be in."""
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.chdir(home)
    monkeypatch.setenv("TERRAIN_CACHE", str(tmp_path / "cache"))
    with serving(bucket) as served:
        monkeypatch.setenv("TERRAIN_GROUND_URL", served.url)
        yield served.url


Run = Callable[[Sequence[str]], tuple[int, str, str]]
"""A way to run a command: its code, what it printed, and what it complained of."""


def here(words: Sequence[str]) -> tuple[int, str, str]:
    """A command run in this process."""
    done = CliRunner().invoke(app_for(words), words)
    return done.exit_code, done.stdout, done.stderr


def apart(program: Path) -> Run:
    """Commands run in processes of their own."""

    def run(words: Sequence[str]) -> tuple[int, str, str]:
        done = subprocess.run([program, *words], capture_output=True, text=True, check=False)
        return done.returncode, done.stdout, done.stderr

    return run


def said(run: Run, *words: str) -> str:
    """What a command says; it ends well, and has nothing to complain of."""
    code, out, err = run(words)
    assert code == 0, err
    for word in ("Traceback", "Error", "Warning", "--help"):
        assert word not in err + out, err
    return out


def first_hour(run: Run) -> Path:
    """The three commands after the installation; the sheet of the plan."""
    assert "Airbus" in said(run, *FETCH)
    assert f"vantages for the hill at {HILL[:4]}" in said(run, *VANTAGES)
    assert "start walking" in said(run, *PLAN, "--save", "sheet.html")
    sheet = Path("sheet.html").resolve()
    assert "Airbus" in sheet.read_text(encoding="utf-8")
    return sheet


def check_on_a_phone(chromium: Any, sheet: Path) -> None:
    """All of it is in the file, fits the screen, and shows."""
    asked: list[str] = []
    with page_of(chromium, sheet, size=(390, 844), asked=asked) as phone:
        assert phone.run("document.documentElement.scrollWidth") == 390
        images = "Promise.all([...document.images].map(i => i.decode())).then(() => 1)"
        assert phone.run(images) == 1
        assert not phone.wrongs
    assert {url for url in asked if not url.startswith("data:")} == {sheet.as_uri()}


@needs_browser
@pytest.mark.usefixtures("fewer_of_a_kind")
def test_three_commands_once_it_is_installed(internet: str, chromium: Any) -> None:
    check_on_a_phone(chromium, first_hour(here))


@needs_browser
@pytest.mark.slow
def test_four_commands_from_nothing(internet: str, chromium: Any, tmp_path: Path) -> None:
    place = tmp_path / "venv"
    subprocess.run([sys.executable, "-m", "venv", place], check=True)
    # its own packages alone, none of the checkout beside
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    pip = [place / "bin/python", "-m", "pip", "install", "--quiet", str(ROOT)]
    subprocess.run(pip, check=True, env=environment)
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("PYTHONPATH", raising=False)
        check_on_a_phone(chromium, first_hour(apart(place / "bin/terrain")))
