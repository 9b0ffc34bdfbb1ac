"""`terrain survey`: what it refuses in a line, and what it keeps, says and draws."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.surveying.tasks import Standing
from terrain.words.surveys import failed_lines, standing_words
from tests.command.conftest import Terrain
from tests.surveying.conftest import made_hills, write_ground

NEAR = ("--farthest", "3", "--reach", "3", "--prominence", "200", "--per-hill", "1")
DAYS = ("--from", "2026-10-01", "--to", "2026-10-02")


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    return write_ground(tmp_path / "ground.tif", made_hills(80, 80))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "a survey is kept in a folder: name one"),
        (("--save", "one", "--save", "two"), "name one, and one alone"),
        (("--save", "kept", "--save", "kept.exe"), "the name must end in"),
        (("--save", "kept", "--what", "moons"), "give vantages, summits, light, atlas"),
        (("--save", "kept", "--ends", "noons"), "give both, mornings, evenings"),
        (("--save", "kept", "--cell", "50"), "leave out --cell"),
        (("--save", "kept", "--reach", "2"), "does not hold vantages"),
        (("--save", "kept", "--from", "2026-10-02", "--to", "2026-10-01"), "is before the first"),
        (("--save", "kept", "--mist-top", "300:200:10"), "is not a range of heights"),
        (
            ("--save", "kept", "--what", "light", "--mist-top", "300"),
            "--mist-top does nothing with --what light: leave out one of the two",
        ),
        (("--save", "kept", "--what", "atlas", "--mist-top", "300"), "--mist-top does nothing"),
        (("--save", "kept", "--what", "summits", "--mist-top", "300"), "--mist-top does nothing"),
        (("--save", "kept", "--what", "light", "--names", "n.csv"), "--names does nothing"),
        (("--save", "kept", "--what", "summits", "--show"), "--show does nothing"),
    ],
)
def test_what_makes_no_sense_is_told_before_any_work(
    terrain: Terrain,
    ground: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    outcome = terrain("survey", ground, *words)
    assert outcome.code == 2
    assert said in outcome.err
    assert len(outcome.err.splitlines()) == 1
    assert {path.name for path in tmp_path.iterdir()} == {"ground.tif"}


def test_without_its_libraries_one_line_says_what_to_install(
    terrain: Terrain, ground: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.surveying.extra.find_spec", lambda name: None)
    outcome = terrain("survey", ground, *DAYS, "--save", tmp_path / "kept")
    assert outcome.code == 2
    assert "pip install 'terrain[country]'" in outcome.err


@pytest.mark.slow
def test_all_is_kept_in_the_folder_and_found_there_again(
    terrain: Terrain, ground: Path, tmp_path: Path
) -> None:
    words = ("survey", ground, *DAYS, *NEAR, "--workers", "1", "--save", tmp_path / "kept")
    first = terrain(*words, "--show", "--save", tmp_path / "hills.csv")
    assert first.code == 0, first.err
    assert "tasks were done now" in first.out
    kept = tmp_path / "kept"
    assert {"survey.parquet", "summits.parquet", "survey.png"} <= {p.name for p in kept.iterdir()}
    assert (tmp_path / "hills.csv").read_text().count("\n") > 1
    again = terrain(*words)
    assert "nothing was left to do" in again.out


def test_how_it_stands_is_said_in_a_line() -> None:
    standing = Standing(
        stage="vantages", done=3, tiles=16, failed=1, hills=20, rows=1, left_s=600.0
    )
    assert standing_words(standing) == (
        "vantages: 3 of 16 tiles, 1 failed, 20 hills, 1 vantage, about 10 minutes to go"
    )
    assert failed_lines({"tile 2 of 4": "it is torn"}) == ["tile 2 of 4: it is torn"]
