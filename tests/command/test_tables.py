"""Tables fit the terminal, break between words, and say what their columns mean."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import terrain.command
from terrain.command.explained import DISPENSABLE, meaning
from terrain.command.tables import Column, Telling, table, told
from terrain.ground.names import clean_name

ROWS = [("Bowscale under Mungrisdale", "54.6700, -3.0500", "12.5", "far out of every way there is")]
WIDE = [
    Column("name", lambda row: row[0]),
    Column("place", lambda row: row[1]),
    Column("slope °", lambda row: row[2]),
    Column("but", lambda row: row[3], left=True),
]


@pytest.fixture
def said(capsys, monkeypatch):
    def told_at(width, telling=Telling()):  # noqa: B008
        monkeypatch.setenv("COLUMNS", str(width))
        with told(telling):
            table("a title", WIDE, ROWS)
        return capsys.readouterr().out

    return told_at


@pytest.mark.parametrize("width", [50, 60, 80])
def test_a_table_is_no_wider_than_the_terminal(said, width):
    assert max(len(line) for line in said(width).splitlines() if "--wide" not in line) <= width


@pytest.mark.parametrize("width", [30, 50, 60, 80])
def test_no_word_and_no_place_is_cut_in_two(said, width):
    words = said(width).split()
    assert {"Bowscale", "Mungrisdale", "every"} <= set(words)
    assert "54.6700, -3.0500" in said(width)


@pytest.mark.parametrize("width", range(70, 120))
def test_the_last_column_is_whole_where_others_are_broken(capsys, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    row = ("54.4069, -24.0733", "on its rim, 0.09°", "sky", "only 3 m", "sun 0.9° off")
    columns = [
        Column(f"heading of {at}", lambda row, at=at: row[at], left=True) for at in range(len(row))
    ]
    table("a title", columns, [row, row], numbered=True)
    said = capsys.readouterr().out
    assert max(len(line) for line in said.splitlines()) <= width
    assert set(" ".join(row).replace(", -", "").split()) <= set(said.replace(", -", "").split())


def test_what_is_left_out_is_named_and_wide_shows_it(said):
    narrow, wide = said(44), said(44, Telling(wide=True))
    assert "Left out for the width, shown with --wide: slope °." in " ".join(narrow.split())
    assert "12.5" not in narrow
    assert "12.5" in wide
    assert "--wide" not in wide


def test_each_column_is_explained_on_demand(said):
    assert "slope °: how steep" in said(80, Telling(explain=True))
    assert "how steep" not in said(80)


@pytest.mark.parametrize(("name", "times"), [("hill " * 30, 1), ("hill", 0), ("hill …", 0)])
def test_that_a_name_is_cut_is_said_once(capsys, name, times):
    rows = [clean_name(name)]
    with told(Telling()):
        table("summits", [Column("name", str)], rows)
        table("islands", [Column("name", str)], rows)
    assert capsys.readouterr().out.count("longer than the 80 letters that are kept") == times


def _headings():
    makers = {"Column", "metres", "kilometres", "fixed", "text", "at_clock", "stands", "to_side"}
    for file in Path(terrain.command.__path__[0]).glob("*.py"):
        for call in ast.walk(ast.parse(file.read_text())):
            named = isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
            if named and call.func.id in makers and call.args:
                first = call.args[0]
                if isinstance(first, ast.Constant) and isinstance(first.value, str):
                    yield file.name, " ".join(first.value.split())


def test_every_column_has_a_sentence():
    said_otherwise = {"area_file.py"}
    headings = {one for file, one in _headings() if one and file not in said_otherwise}
    assert len(headings) > 60
    assert {one for one in headings if not meaning(one)} == set()


def test_what_can_be_spared_is_a_column():
    assert all(meaning(one) for one in DISPENSABLE)


def test_a_command_fits_a_terminal_of_eighty(terrain, isle, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    season = ("season", isle, "--from", "2026-03-21", "--to", "2026-03-22", "--hill", "Lone Hill")
    for asked in (("passes", isle), ("summits", isle), ("mist", isle), season):
        rows = [line for line in terrain(*asked).out.splitlines() if line.rstrip().endswith("─")]
        assert rows
        assert max(len(row) for row in rows) <= 80
    assert "height m: above the datum" in terrain("summits", isle, "--explain").out
