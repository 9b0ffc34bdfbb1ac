"""The quick attacks of every module, each module in one process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.attacks.__main__ import modules

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="cases are forks of one process")


@pytest.mark.parametrize("module", modules())
def test_every_quick_case_comes_out_clean(module: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.attacks", "--quick", module],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert not done.stdout.startswith("0 tried")
