"""`terrain ground`, and commands whose ground is a source."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest
import rasterio
from typer.testing import CliRunner

from terrain.command.app import app_for
from terrain.errors import TerrainError
from terrain.ground.raster.read import read_dem
from tests.fetch.server import Server
from tests.fetch.test_bring import bucket, server
from tests.test_readme import FETCHED

__all__ = ["bucket", "server"]  # fixtures

ABOUT = ("--reach", "30", "--sunward", "0")


def run(*words: str) -> str:
    app = app_for(words)
    done = CliRunner().invoke(app, list(words), catch_exceptions=False, standalone_mode=False)
    if done.exception is not None:
        raise done.exception
    return done.stdout


@pytest.fixture
def saved(server: Server, tmp_path: Path) -> Path:
    path = tmp_path / "ground.tif"
    run("ground", "50.0,11.5", *ABOUT, "--save", str(path))
    return path


def test_saved_ground_says_what_it_is(saved: Path) -> None:
    dem = read_dem(saved)
    assert dem.vertical_datum == "EGM2008 geoid"
    assert "Airbus" in dem.credit
    with rasterio.open(saved) as raster:
        assert raster.crs.to_epsg() == 9518  # WGS 84 + EGM2008 height
        assert raster.tags()["MODEL"] == "surface"
        assert raster.tags()["SOURCE"] == "copernicus-30"
    assert dem.height_at(11.5, 50.0) == pytest.approx(500.0, abs=0.5)


def test_answer_says_source_and_credit(server: Server) -> None:
    said = run("ground", "50.0,11.2", *ABOUT)
    for word in ("copernicus-30", "EGM2008", "Airbus", "surface", "N50E010"):
        assert word in said, word
    found = json.loads(run("ground", "50.0,11.2", *ABOUT, "--json", "--offline"))
    assert found["fetched_bytes"] == 0


def test_much_is_refused_without_a_terminal(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.command.fetched._MOST_BYTES", 60_000_000)
    with pytest.raises(TerrainError, match=r"about 67 MB in 2 tiles .* add --yes"):
        run("ground", "50.0,11.5", *ABOUT)
    assert not [path for _, path, _ in server.asked if path.endswith(".tif")]
    run("ground", "50.0,11.5", *ABOUT, "--yes")


def test_what_to_type_for_ground_is_typed_as_it_stands(
    server: Server, saved: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = run("ground", "50.0,11.8", *ABOUT, "--check", str(saved))
    (line,) = [line for line in said.splitlines() if line.startswith("  terrain ")]
    run(*shlex.split(line)[1:])
    monkeypatch.setattr("terrain.command.fetched._MOST_BYTES", 1000)
    monkeypatch.setenv("TERRAIN_CACHE", str(tmp_path / "empty"))
    area = tmp_path / "area.toml"
    area.write_text('rasters = ["copernicus-30"]\n')
    asked = ("skyline", str(area), "--spot", "50.6,11.5", "--reach", "5")
    with pytest.raises(TerrainError, match="; try: terrain ground") as caught:
        run(*asked)
    run(*shlex.split(str(caught.value).partition("; try: ")[2])[1:])
    run(*asked)


def test_area_of_open_ground(server: Server, tmp_path: Path) -> None:
    area = tmp_path / "area.toml"
    area.write_text('rasters = ["copernicus-30"]\n')
    words = ("skyline", str(area), "--spot", "50.0,11.5", "--reach", "10", "--json")
    first = run(*words)
    server.asked.clear()
    assert run(*words, "--offline") == first
    assert server.asked == []


def test_source_without_a_place(server: Server) -> None:
    with pytest.raises(TerrainError, match="copernicus-30 is the whole earth"):
        run("passes", "copernicus-30")


@pytest.mark.parametrize("place", ["here", "50", "50,x"])
def test_no_place(place: str) -> None:
    with pytest.raises(TerrainError, match="not a place"):
        run("ground", place)


def test_check_tells_and_draws(saved: Path, tmp_path: Path) -> None:
    picture = tmp_path / "check.png"
    said = run("ground", "50.0,11.5", *ABOUT, "--check", str(saved), "--save", str(picture))
    assert "EGM2008" in said
    assert "All ground within reach is known." in said
    assert picture.read_bytes().startswith(b"\x89PNG")
    kept = run("ground", "50.0,11.5", *ABOUT, "--check", "copernicus-30")
    assert "All ground within reach is known." in kept
    with pytest.raises(TerrainError, match=r"must end in \.png"):
        run("ground", "50.0,11.5", "--check", str(saved), "--save", str(tmp_path / "a.tif"))


@pytest.mark.slow
def test_commands_of_the_readme(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert len(FETCHED) == 4
    for line in FETCHED:
        run(*shlex.split(line)[1:])
    assert {"ground.tif", "check.png", "skyline.png"} <= {path.name for path in tmp_path.iterdir()}
