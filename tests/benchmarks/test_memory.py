"""How much memory an answer takes beyond the ground, at its peak, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

PEAK = Path("/proc/self/clear_refs")
SIDE = 2000

SCRIPT = """
import sys
from terrain.year.atlas import backlight_atlas
from terrain.sight.viewshed import margin, viewshed
from tests.benchmarks.ground import hill, middle, rugged

answers = {
    "viewshed": lambda dem: viewshed(dem, middle(dem)),
    "margin": lambda dem: margin(dem, middle(dem)),
    "backlight_atlas": lambda dem: backlight_atlas(dem, hill(dem), 2026),
}
answer, side = answers[sys.argv[1]], int(sys.argv[2])

def held(what):
    lines = open("/proc/self/status").read().splitlines()
    (line,) = (line for line in lines if line.startswith(what))
    return 1024 * int(line.split()[1])

dem = rugged(side)
answer(rugged(200))  # kernels are loaded, or compiled
before = held("VmRSS")
open("/proc/self/clear_refs", "w").write("5")  # forget the peak so far
kept = answer(dem)
print((held("VmHWM") - before) / side**2)
"""


@pytest.mark.skipif(not PEAK.exists(), reason="the peak of memory is not told on this system")
@pytest.mark.parametrize(
    ("name", "result_bytes", "extra_bytes"),
    # one working copy of the heights and two bytes a cell; for the atlas a gigabyte in 13 million
    [("viewshed", 1, 4 + 2), ("margin", 4, 4 + 2), ("backlight_atlas", 0, 77)],
)
def test_memory_beyond_the_ground(name: str, result_bytes: int, extra_bytes: int) -> None:
    found = subprocess.run(
        [sys.executable, "-c", SCRIPT, name, str(SIDE)],
        cwd=Path(__file__).parents[2],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    bytes_a_cell = float(found.stdout)
    assert 0.0 < bytes_a_cell <= result_bytes + extra_bytes
