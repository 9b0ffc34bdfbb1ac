"""Sentences fit a terminal and are broken between words; what is to be typed is left whole."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.command.report import print_json
from terrain.command.wrapping import broken, wrapped
from tests.command.conftest import Terrain

_WORDS = st.lists(st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=30))


@given(words=_WORDS, width=st.integers(1, 120), begins=st.sampled_from(["", "- ", "  "]))
def test_words_stay_whole_and_in_order_and_lines_are_no_wider(
    words: list[str], width: int, begins: str
) -> None:
    line = begins + " ".join(words)
    lines = broken(line, width).split("\n")
    assert " ".join(lines).split() == line.split()
    for each in lines:
        assert len(each) <= width or len(each.removeprefix("- ").split()) <= 1


def test_what_follows_is_set_in_under_what_it_belongs_to() -> None:
    assert broken("- take a lamp and a spare", 14) == "- take a lamp\n  and a spare"
    assert broken("  slope: how steep", 12) == "  slope: how\n  steep"


def test_a_place_is_not_parted() -> None:
    assert "54.4071, -24.0634" in broken("from the first of them at 54.4071, -24.0634 on", 36)


@pytest.mark.parametrize("width", [40, 80])
def test_what_a_command_says_fits(
    terrain: Terrain, isle: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    said = terrain("mist", isle).out.splitlines()
    long = next(at for at, line in enumerate(said) if line.startswith("The mist covers"))
    assert len(said[long:]) > 1
    assert max(len(line) for line in said[long:]) <= width
    title = said[: next(at for at, line in enumerate(said) if not line.strip())]
    assert max(map(len, title)) <= width


def test_without_a_terminal_nothing_is_broken(
    terrain: Terrain, isle: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    assert any(len(line) > 100 for line in terrain("mist", isle).out.splitlines())
    long = "a word " * 40
    assert wrapped(long, io.StringIO()) == long


def test_json_is_not_broken(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "20")
    print_json({"why": "a word " * 20})
    assert "a word " * 20 in capsys.readouterr().out


def on_a_terminal(asked: list[str], *, columns: int) -> str:
    """All that a process writes to a terminal, without what moves the cursor there."""
    own, theirs = pty.openpty()
    environment = os.environ | {"COLUMNS": str(columns)}
    with subprocess.Popen(asked, stdout=theirs, stderr=theirs, env=environment):
        os.close(theirs)
        said = b""
        # that nobody writes to it any more is an error
        with suppress(OSError):
            while part := os.read(own, 65536):
                said += part
    os.close(own)
    return re.sub(r"\x1b\[[\d;?]*[A-Za-z]", "", said.decode())


def test_on_a_terminal_an_error_is_broken_and_the_command_after_it_is_not(isle: Path) -> None:
    asked = [sys.executable, "-m", "terrain", "summits", str(isle), "--prominence", "2000"]
    said = on_a_terminal(asked, columns=40).replace("\r\n", "\n").rpartition("\r")[2]
    *words, command, end = said.split("\n")
    assert end == ""
    assert max(map(len, words)) <= 40
    assert re.sub(r"\s+", " ", " ".join(words)).endswith("the most prominent has 579 m; try:")
    assert command == f"  terrain summits {isle} --prominence 579"
