"""A spot that is a summit stands on the raster's own top, and the command says so."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command.conftest import Answers, Terrain

TOP = "54.3815,-23.9485"


@pytest.fixture
def names(tmp_path: Path) -> Path:
    file = tmp_path / "names.csv"
    file.write_text("name,lat,lon\nThe Cairn,54.3819,-23.9475\n", encoding="utf-8")
    return file


def test_the_skyline_of_a_named_summit_shows_no_wall_of_itself(
    terrain: Terrain, answered: Answers, isle: Path, names: Path
) -> None:
    told = answered("skyline", isle, "--spot", "the cairn", "--names", names, "--step", "5")
    assert told.code == 0, told.err
    line = next(line for line in told.out.splitlines() if line.startswith("The spot stands"))
    assert line.endswith("of the place given, on the top of the raster's cells.")
    assert "south-west" in line
    found = told.fields
    near = [
        deg for deg, m in zip(found["altitude_deg"], found["distance_m"], strict=True) if m < 90
    ]
    assert max(near, default=-9.0) < 0.0
    again = f"{found['spot']['lat_deg']},{found['spot']['lon_deg']}"
    stays = terrain("skyline", isle, "--spot", again)
    assert "place given" not in stays.out


def test_a_place_that_the_raster_tells_from_the_top_is_not_moved(
    terrain: Terrain, isle: Path, names: Path
) -> None:
    """The same place without its name: 10 m and more under the top."""
    aside = terrain("skyline", isle, "--spot", "54.3822,-23.9470", "--names", names)
    assert aside.code == 0, aside.err
    assert "place given" not in aside.out


@pytest.mark.parametrize("command", ["sunrise", "frame", "dates", "plan"])
def test_every_command_stands_there_and_says_so(
    terrain: Terrain, isle: Path, tmp_path: Path, command: str
) -> None:
    file = tmp_path / "names.csv"
    file.write_text("name,lat,lon\nWest Top,54.37977,-24.03264\n", encoding="utf-8")
    more = {"dates": ["--year", "2026", "--within", "1"]}.get(command, ["--date", "2026-03-20"])
    told = terrain(command, isle, "--spot", "West Top", "--names", file, *more)
    assert told.code == 0, told.err
    assert told.out.count("of the place given, on the top of the raster's cells.") == 1
