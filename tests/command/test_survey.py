"""`terrain survey`: what it refuses in a line, and what it keeps, says and draws."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from terrain.surveying.tasks import Standing
from terrain.words.surveys import failed_lines, standing_words
from tests.command.conftest import Terrain
from tests.surveying.conftest import made_hills, write_ground

NEAR = ("--farthest", "3", "--reach", "3", "--prominence", "200", "--per-hill", "1")
DAYS = ("--from", "2026-10-01", "--to", "2026-10-02")

OF_VANTAGES = (
    # its default too: it is said, and does nothing
    *(("--mist-top", "300"), ("--within", "1.0"), ("--farthest", "15"), ("--per-hill", "5")),
    *(("--to", "2026-10-02"), ("--show",)),
)
IDLE = {
    "summits": (*OF_VANTAGES, ("--from", "2026-10-01"), ("--ends", "both"), ("--reach", "20")),
    "light": (*OF_VANTAGES, ("--names", "n.csv"), ("--prominence", "30"), ("--count", "5")),
    "atlas": (*OF_VANTAGES, ("--count", "5")),
}


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
        *(
            (
                ("--save", "kept", "--what", what, *words),
                f"{words[0]} does nothing with --what {what}",
            )
            for what, several in IDLE.items()
            for words in several
        ),
        (("--save", "kept", "--what", "light", "--ends", "both"), "give --ends mornings, or"),
        (("--save", "kept", "--what", "atlas", "--ends", "both"), "give --ends mornings, or"),
        (("--save", "kept", "--what", "atlas", "--ends", "noons"), "give both, mornings, evenings"),
        (
            ("--save", "kept", "--what", "light", "--save", "l.csv"),
            "cannot save as l.csv: the raster",
        ),
        (("--save", "kept", "--what", "summits", "--save", "s.png"), "the name must end in .gpkg"),
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
    assert "tasks done now" in first.out
    kept = tmp_path / "kept"
    assert {"survey.parquet", "summits.parquet", "survey.png"} <= {p.name for p in kept.iterdir()}
    assert (tmp_path / "hills.csv").read_text().count("\n") > 1
    again = terrain(*words)
    assert "nothing was left to do" in again.out


@pytest.mark.slow
def test_the_summits_alone_are_shown_and_saved(
    terrain: Terrain, ground: Path, tmp_path: Path
) -> None:
    words = ("survey", ground, "--what", "summits", "--prominence", "200", "--workers", "1")
    words = (*words, "--save", tmp_path / "kept")
    found = terrain(*words, "--save", tmp_path / "hills.csv")
    assert found.code == 0, found.err
    lines = (tmp_path / "hills.csv").read_text().splitlines()
    rows = json.loads(terrain(*words, "--json").out)
    alone = json.loads(terrain("summits", ground, "--prominence", "200", "--json").out)
    assert rows == alone
    assert len(lines) == len(rows) + 1 > 1
    assert f"{len(rows)} hills in 1 tile; 1 task done now" in found.out
    assert f"{rows[0]['prominence_m']:.0f}" in found.out


def test_how_it_stands_is_said_in_a_line() -> None:
    standing = Standing(
        stage="vantages", done=3, tiles=16, failed=1, hills=20, rows=1, left_s=600.0
    )
    assert standing_words(standing) == (
        "vantages: 3 of 16 tiles, 1 failed, 20 hills, 1 vantage, about 10 minutes to go"
    )
    assert failed_lines({"tile 2 of 4": "it is torn"}) == ["tile 2 of 4: it is torn"]
