"""What a chatty library says is kept off the terminal, whatever state that is in."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from terrain.mist.drainage import _without_progress_bars

FILLING = """
import numpy as np
from terrain.mist.drainage import _filled
ground = np.full((5, 5), 9, dtype=np.float32)
ground[2, 2] = 1
print(_filled(ground)[2, 2] >= 9.0)
"""


def test_hushing_swallows_cursor_codes_alone(capfd: pytest.CaptureFixture[str]) -> None:
    with _without_progress_bars():
        os.write(2, b"\r\x1b[2Kwhat else is said\r\x1b[2K")
    assert capfd.readouterr().err == "what else is said"


@pytest.mark.skipif(os.name == "nt", reason="descriptors are closed otherwise on Windows")
def test_hollows_are_filled_where_nobody_can_be_told() -> None:
    found = subprocess.run(
        [sys.executable, "-c", FILLING],
        stdout=subprocess.PIPE,
        preexec_fn=lambda: os.close(2),
        text=True,
        check=True,
    )
    assert found.stdout == "True\n"
