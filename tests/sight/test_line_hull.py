"""The hull of ground far ahead, against one that every node is put on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.arrays import Singles
from terrain.sight._line_hull_kernels import HullPoints, hull_over, push_hull

Points = list[tuple[float, float]]


def room(count: int) -> HullPoints:
    return HullPoints(*np.zeros((2, count), dtype=np.float32))


def of_every_node(bent: Singles, first: int, last: int) -> Points:
    """The slow twin."""
    hull, top = room(bent.size), -1
    for u in range(last, first - 1, -1):
        if not math.isnan(bent[u]):
            top = push_hull(hull, top, np.float32(u), bent[u])
    return list(zip(hull.u[: top + 1].tolist(), hull.w[: top + 1].tolist(), strict=True))


def ground(seed: int, unknown: float) -> Singles:
    rng = np.random.default_rng(seed)
    heights = 300.0 * np.cumsum(rng.normal(size=900)) / 30.0 + rng.uniform(0.0, 40.0, 900)
    heights[rng.uniform(size=900) < unknown] = np.nan
    return heights.astype(np.float32)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("unknown", [0.0, 0.3, 0.99])
@pytest.mark.parametrize(("first", "last"), [(0, 899), (40, 41), (7, 300), (5, 5)])
def test_the_hull_of_a_few_nodes_and_what_stands_over_it_is_that_of_all(
    seed: int, unknown: float, first: int, last: int
) -> None:
    bent, hull = ground(seed, unknown), room(900)
    top = hull_over(bent, first, last, room(900), hull, -1)
    found = list(zip(hull.u[: top + 1].tolist(), hull.w[: top + 1].tolist(), strict=True))
    assert found == of_every_node(bent, first, last)


def test_it_goes_on_from_a_hull_that_is_there() -> None:
    bent, hull, both = ground(3, 0.0), room(1000), ground(3, 0.0)
    top = hull_over(bent, 500, 899, room(900), hull, -1)
    top = hull_over(bent, 100, 499, room(900), hull, top)
    assert list(
        zip(hull.u[: top + 1].tolist(), hull.w[: top + 1].tolist(), strict=True)
    ) == of_every_node(both, 100, 899)
