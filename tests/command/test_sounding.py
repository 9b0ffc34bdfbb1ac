"""`terrain sounding`, called as the command line calls it."""

from __future__ import annotations

import json

import pytest
import typer
from typer.testing import CliRunner

from terrain.command.groups import flat
from terrain.command.sounding import sounding
from terrain.errors import TerrainError

NIGHT = """p_hPa,z_m,T_C,td_C,wind_kt,wdir_deg
995,150,2,2,0,0
990,195,4,3.2,2,270
978,300,8,2,3,270
920,800,5,-3,6,280
"""


@pytest.fixture
def night(tmp_path):
    file = tmp_path / "night.csv"
    file.write_text(NIGHT, encoding="utf-8")
    return file


@pytest.fixture
def ask():
    app = typer.Typer()
    app.command()(flat(sounding))

    def call(*arguments):
        result = CliRunner().invoke(app, [str(argument) for argument in arguments])
        if isinstance(result.exception, TerrainError):
            raise result.exception
        assert result.exit_code == 0, result.output
        return result.stdout

    return call


def test_what_a_person_reads(ask, night):
    text = ask(night, "--wide")
    assert "150 (ground)" in text
    assert "to 300 m." in text
    assert "not a forecast" in text


def test_what_a_script_reads(ask, night):
    answer = json.loads(ask(night, "--json"))
    assert answer["ground_m"] == 150.0
    assert answer["range_m"][1] == 300.0
    assert answer["inversions"][0]["strength_k"] == 6.0
    assert "not a forecast" in " ".join(answer["cautions"])


def test_a_floor_above_the_lid(ask, night):
    assert ask(night, "--floor", 400).startswith("Inversions")
    assert json.loads(ask(night, "--floor", 400, "--json"))["range_m"] is None


def test_two_thermometers(ask):
    assert "210 to 540 m" in ask("--valley-air", "210,2.5,98", "--hilltop-air", "540,6")
    answer = json.loads(ask("--valley-air", "210,9", "--hilltop-air", "540,7", "--json"))
    assert answer["range_m"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["file of a sounding"]),
        (["--valley-air", "210,3"], ["--hilltop-air"]),
        (["nowhere.csv"], ["there is no file nowhere.csv"]),
        (["nowhere.csv", "--valley-air", "210,3"], ["not both"]),
        (
            ["--valley-air", "210", "--hilltop-air", "540,6"],
            ["--valley-air 210 is no reading", "humidity"],
        ),
        (
            ["--valley-air", "210,3", "--hilltop-air", "540,6,90"],
            ["--hilltop-air 540,6,90 is no reading"],
        ),
        (["--valley-air", "210,3", "--hilltop-air", "up,6"], ["--hilltop-air up,6 is no reading"]),
        (["--valley-air", "210,3", "--hilltop-air", "540,6", "--floor", "100"], ["--floor"]),
    ],
)
def test_questions_that_cannot_be_answered(ask, arguments, words):
    with pytest.raises(TerrainError) as caught:
        ask(*arguments)
    for word in words:
        assert word in str(caught.value)
