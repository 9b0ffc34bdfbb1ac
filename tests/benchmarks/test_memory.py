"""How much memory an answer takes beyond the ground, at its peak, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

PEAK = Path("/proc/self/clear_refs")
SIDE = 1400

SCRIPT = """
import os, sys
from terrain.year.atlas import backlight_atlas
from terrain.sight.viewshed import margin, viewshed
from tests.benchmarks.ground import hill, middle, rugged

answers = {
    "viewshed": lambda dem: viewshed(dem, middle(dem)),
    "margin": lambda dem: margin(dem, middle(dem)),
    "backlight_atlas": lambda dem: backlight_atlas(dem, hill(dem), 2026),
}
side = int(sys.argv[1])

def held(what):
    lines = open("/proc/self/status").read().splitlines()
    (line,) = (line for line in lines if line.startswith(what))
    return 1024 * int(line.split()[1])

dem, small = rugged(side), rugged(200)
for answer in answers.values():
    answer(small)  # kernels are loaded, or compiled
for name, answer in answers.items():
    child = os.fork()
    if child == 0:
        answer(small)  # what a fork has of files is not there before it is asked for
        before = held("VmRSS")
        open("/proc/self/clear_refs", "w").write("5")  # forget the peak so far
        kept = answer(dem)
        print(name, (held("VmHWM") - before) / side**2, flush=True)
        os._exit(0)
    os.waitpid(child, 0)
"""


@pytest.fixture(scope="module")
def bytes_a_cell() -> dict[str, float]:
    """What each answer takes at its peak, each in a fork that has the ground and no answer."""
    found = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(SIDE)],
        cwd=Path(__file__).parents[2],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    told = (line.split() for line in found.stdout.splitlines())
    return {name: float(each) for name, each in told}


@pytest.mark.skipif(not PEAK.exists(), reason="the peak of memory is not told on this system")
@pytest.mark.parametrize(
    ("name", "result_bytes", "extra_bytes"),
    # one working copy of the heights and two bytes a cell; for the atlas a gigabyte in 13 million
    [("viewshed", 1, 4 + 2), ("margin", 4, 4 + 2), ("backlight_atlas", 0, 77)],
)
def test_memory_beyond_the_ground(
    bytes_a_cell: dict[str, float], name: str, result_bytes: int, extra_bytes: int
) -> None:
    assert 0.0 < bytes_a_cell[name] <= result_bytes + extra_bytes
