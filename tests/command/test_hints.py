"""What a command says to type next can be typed as it stands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

import terrain.command


def hints(said):
    """The command lines in what was printed: each on a line of its own."""
    return [line.strip() for line in said.splitlines() if line.strip().startswith("terrain ")]


@pytest.mark.parametrize(
    "asked",
    [
        ("vantages",),
        ("vantages", "--mist-top", "180"),
        ("atlas", "--year", "2026"),
    ],
)
def test_the_next_command_is_run_as_it_stands(terrain, isle, tmp_path, monkeypatch, asked):
    monkeypatch.chdir(tmp_path)
    outcome = terrain(asked[0], isle, *asked[1:])
    assert outcome.code == 0, outcome.err
    (hint,) = hints(outcome.out)
    assert set(asked[1:]) <= set(shlex.split(hint))
    again = terrain(*shlex.split(hint)[1:])
    assert again.code == 0, again.err


def test_a_folder_with_a_blank_is_quoted(isle, tmp_path):
    from terrain.command.further import again
    from terrain.command.options import Asked

    file = tmp_path / "my hills.toml"
    asked = dict.fromkeys(("crs", "unit", "band", "variable", "reach", "cell", "memory"))
    said = again(Asked(ground=[file], trust=False, **asked), "dates", None, "--spot", "a b")
    assert shlex.split(said) == ["terrain", "dates", str(file), "--spot", "a b"]


def test_no_hint_leaves_something_to_fill_in():
    """`terrain COMMAND ...` in the words of a command must be made from what was asked."""
    for file in Path(terrain.command.__path__[0]).glob("*.py"):
        assert not re.search(r"terrain [a-z]+ (\.\.\.|.*(LAT,LON|PLACE) )", file.read_text()), file
