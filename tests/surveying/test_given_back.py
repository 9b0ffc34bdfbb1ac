"""A worker holds what one task takes: the ground of a task goes with it, not when chance collects.

What refers to itself stays until Python looks for it, and it does not know how large an array is:
so a worker grew by 95 MB with some of its hills, and lost it with others.
"""

from __future__ import annotations

import gc
import subprocess
import sys
import weakref
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import terrain
from terrain.cores import at_most
from terrain.ground.relief.summits import hill_in
from terrain.surveying.hills import vantages_of
from terrain.surveying.tasks import _most_mb
from tests.surveying.conftest import DAYS


@pytest.fixture
def nothing_is_collected() -> Iterator[None]:
    """What refers to itself stays within the test."""
    gc.disable()
    yield
    gc.enable()


def is_given_back(country: Path, work: Callable[[terrain.Dem], Any]) -> bool:
    """Whether nothing holds the ground any more when a work on it is done, as a worker does it.

    On one core, that is: of work shared out, a thread that was called and not waited for lets go
    of the ground when it comes to it.
    """
    ground = terrain.read_dem(country)
    left = weakref.ref(ground)
    with at_most(1):
        work(ground)
    del ground
    return left() is None


@pytest.mark.usefixtures("nothing_is_collected")
@pytest.mark.parametrize("tops_m", [(), (90.0,), (90.0, 110.0)], ids=["none", "one", "a range"])
def test_the_ground_of_a_hill_goes_with_its_answer(
    country: Path, question: terrain.SurveyQuestion, tops_m: tuple[float, ...]
) -> None:
    asked = replace(question, tops_m=tops_m)
    hills = terrain.find_summits(terrain.read_dem(country), min_prominence_m=260.0)
    answered = list[int]()

    def search(ground: terrain.Dem) -> None:
        for number in range(6):
            with suppress(terrain.NoAnswer):
                answered.append(len(vantages_of(ground, hill_in(hills, number), asked)))

    assert is_given_back(country, search)
    assert answered


@pytest.mark.usefixtures("nothing_is_collected")
@pytest.mark.parametrize("kind", [terrain.LightOfDay, terrain.HillsOfDay])
def test_the_ground_of_a_tile_goes_with_its_rasters(country: Path, kind: Any) -> None:
    summits = terrain.find_summits(terrain.read_dem(country), min_prominence_m=260.0)
    work = kind(day=DAYS[0])
    assert is_given_back(country, lambda ground: work.bands(terrain.Country(ground), summits))


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="as Linux tells it")
def test_what_a_process_held_is_not_what_whoever_started_it_held() -> None:
    """The system's own count goes on from the process that a worker was started by."""
    script = "from terrain.surveying.tasks import _most_mb; print(_most_mb())"
    before = _most_mb()
    held = np.ones(2**27)
    told = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True)
    assert float(told.stdout) < 600.0 < held.nbytes / 2**20 < _most_mb() - 0.5 * before
