"""The quick attacks of every module, in one process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.attacks.__main__ import all_cases, modules

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="cases are forks of one process")


def _tried(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "tests.attacks", *words],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_quick_case_comes_out_clean() -> None:
    done = _tried("--quick")
    assert done.returncode == 0, done.stdout + done.stderr
    assert not done.stdout.startswith("0 tried")


@pytest.mark.slow
def test_every_module_has_cases_of_names_of_their_own() -> None:
    named = [f"{module}: {case.name}" for module, case in all_cases()]
    assert len(named) > 1500
    assert len(set(named)) == len(named)
    assert {name.partition(":")[0] for name in named} == set(modules())


@pytest.mark.slow
def test_a_part_of_all_cases_comes_out_clean() -> None:
    done = _tried("--part=7/80")
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.slow
def test_a_fork_says_what_a_process_of_its_own_says() -> None:
    done = _tried("--twice", "--part=9/200")
    assert done.returncode == 0, done.stdout + done.stderr
