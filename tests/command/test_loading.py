"""What a command does not need is not loaded for it."""

from __future__ import annotations

import subprocess
import sys

import pytest

QUIETLY = (
    "from terrain.command.report import progress\nwith progress('', quiet=True) as done: done(1)"
)


@pytest.mark.parametrize(
    ("done", "unused"),
    [
        ("import terrain.command.plan_report", {"matplotlib"}),
        (QUIETLY, {"rich"}),
    ],
)
def test_what_is_not_needed_is_not_loaded(done: str, unused: set[str]) -> None:
    code = f"import sys\n{done}\nprint(*({unused} & set(sys.modules)))"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == ""
