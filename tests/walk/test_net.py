from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_array

from terrain.ground.places import Spot
from terrain.walk.graph import _in_bands, graph_of
from terrain.walk.net import lay_net
from terrain.walk.pace import Going


@pytest.fixture
def steps() -> tuple[list, tuple]:
    """Steps from some of 20 000 nodes to others ever farther on, and a few beyond them."""
    random, count = np.random.default_rng(7), 20_000
    over = []
    for away in (-130, -1, 1, 130):
        first = np.flatnonzero(random.random(count) < 0.6).astype(np.int32)
        first = first[(first + away >= 0) & (first + away < count)]
        over.append((first, first + np.int32(away), random.random(first.size)))
    near = np.arange(0, count, 70), np.arange(0, count, 70) % 9 + count, random.random(286)
    return over, near


def test_a_graph_is_that_of_its_steps_in_whatever_order(steps) -> None:
    over, near = steps
    graph = graph_of(over, near, 20_009)
    first, second, seconds = (np.concatenate(parts) for parts in zip(*over, near, strict=True))
    shuffled = np.random.default_rng(8).permutation(first.size)
    twin = csr_array(
        (seconds[shuffled], (first[shuffled], second[shuffled])), shape=(20_009, 20_009)
    )
    assert graph.nnz == first.size
    for part in ("indptr", "indices", "data"):
        np.testing.assert_array_equal(getattr(graph, part), getattr(twin, part))


def test_steps_in_bands_are_the_same_and_near_one_another(steps) -> None:
    over, _ = steps
    parts = list(_in_bands(over, 20_000))
    assert sum(first.size for first, _, _ in parts) == sum(first.size for first, _, _ in over)
    begins = np.array([first[0] for first, _, _ in parts])
    assert len(parts) == 3 * len(over)
    assert np.all(np.diff(begins[:: len(over)]) > 8000)
    assert all(np.ptp(first) < 8192 for first, _, _ in parts)


def test_nothing_is_left_to_sort_in_the_steps_of_a_node(make_dem, monkeypatch) -> None:
    given: list[np.ndarray] = []

    def keep(steps: tuple, shape: tuple[int, int]) -> csr_array:
        given.extend(steps[1])
        return csr_array(steps, shape=shape)

    monkeypatch.setattr("terrain.walk.graph.csr_array", keep)
    ground = make_dem(np.zeros((90, 200)), cell_m=50.0)
    lay_net(ground, [Spot(lon_deg=-24.0, lat_deg=54.4)], Going())
    first, second = given
    by_node = np.argsort(first, kind="stable")
    same = np.diff(first[by_node]) == 0
    assert np.count_nonzero(same) > 200_000
    assert np.all(np.diff(second[by_node])[same] > 0)
