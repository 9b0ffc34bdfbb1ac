"""What is printed reaches its reader, and a reader who leaves does not stop the saving."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from terrain.command.tables import Column, pairs, table
from terrain.words.clocks import day_spans


def _run_without_reader(arguments, *, both):
    """A command whose stdout, or both streams, nobody reads from the start."""
    read, write = os.pipe()
    os.close(read)
    streams = {"stdout": write, "stderr": write if both else subprocess.PIPE}
    command = [sys.executable, "-m", "terrain", *map(str, arguments)]
    done = subprocess.run(command, **streams, text=True, timeout=120.0)
    os.close(write)
    return done


# what shows how far it is, where nobody reads that either, is silent with --json
@pytest.mark.parametrize(("words", "both"), [([], True), (["--json"], False)])
def test_a_reader_who_has_left_loses_no_file(isle, tmp_path, words, both):
    file = tmp_path / "summits.csv"
    done = _run_without_reader(["summits", isle, "--save", file, *words], both=both)
    assert done.returncode == 0
    assert file.read_text().startswith("name,")
    if not both:
        assert [line for line in done.stderr.splitlines() if "compiles" not in line] == [
            f"wrote {file}"
        ]


def test_an_error_is_one_exit_code_though_nobody_reads_it(isle):
    assert _run_without_reader(["summits", isle, "--prominence", "0"], both=True).returncode == 2


def test_a_table_without_headings_has_no_empty_head(capsys):
    pairs("a title", [("name", "Hoo")])
    said = [line.strip() for line in capsys.readouterr().out.splitlines()]
    assert [line for line in said if line] == ["A title", "name   Hoo"]
    columns = [Column("what", lambda row: row[0]), Column("", lambda row: row[1])]
    table("a title", columns, [("name", "Hoo")])
    assert "what" in capsys.readouterr().out


def test_days_as_a_person_writes_them():
    assert day_spans("2026-03-03..2026-03-04, 2026-10-10") == "3 Mar to 4 Mar, 10 Oct"
