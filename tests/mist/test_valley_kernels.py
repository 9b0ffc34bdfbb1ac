"""The kernels that a mist along valley floors is made by, each against a slow twin."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.mist._drainage_kernels import level_cells
from terrain.mist._floor_kernels import nearest_floors, of_sources
from terrain.mist._kernels import Links, Onward, smooth_lines
from terrain.mist.onward import run_on
from terrain.mist.smoothing import _STRIP, turned

ROWS, COLS = 9, 11
NEIGHBOURS = [(row, col) for row in (-1, 0, 1) for col in (-1, 0, 1) if (row, col) != (0, 0)]


def within_rim(seed: int) -> tuple[np.random.Generator, NDArray[np.bool_]]:
    """Random numbers, and what is known of a raster: all but the rim and a hole in one of two."""
    known = np.zeros((ROWS, COLS), dtype=bool)
    known[1:-1, 1:-1] = True
    known[4, 5] = seed % 2 == 0
    return np.random.default_rng(seed), known


@pytest.mark.parametrize("seed", range(12))
def test_lines_are_smoothed_as_their_equations_say(seed: int) -> None:
    rng, known = within_rim(seed)
    floor = np.where(known, rng.uniform(0, 60, known.shape), np.nan).astype(np.float32)
    surface = np.where(known, rng.uniform(-50, 300, known.shape), 0).astype(np.float32)
    time, jump_m = 9.0, 30.0
    expected = surface.copy()
    for row in range(1, ROWS - 1):
        left = np.eye(COLS)
        for col in range(1, COLS - 1):
            if known[row, col - 1] and known[row, col + 1]:
                for beside in (col - 1, col + 1):
                    apart = abs(float(floor[row, col]) - float(floor[row, beside]))
                    link = time * (1 - apart / jump_m) if apart < jump_m else 0.0
                    left[col, col] += link
                    left[col, beside] -= link
        # no share of any value in any other is below 0: what is higher before is no lower after
        assert np.linalg.inv(left).min() > -1e-12
        expected[row] = np.linalg.solve(left, surface[row].astype(float))
    # it takes columns
    turned = np.ascontiguousarray(surface.T)
    links = Links(np.ascontiguousarray(floor.T), np.ascontiguousarray(known.T), jump_m, time)
    smooth_lines(0, ROWS - 2, turned, links)
    np.testing.assert_allclose(turned.T[known], expected[known], atol=1e-4)


def test_a_level_stretch_and_a_slope_stay_as_they_are() -> None:
    _, known = within_rim(0)
    known = np.ascontiguousarray(known.T)
    links = Links(np.where(known, np.float32(5), np.float32(np.nan)), known, 30.0, 9.0)
    for line in (np.full(COLS, 320.1), 7.3 * np.arange(COLS)):
        surface = np.ascontiguousarray(np.tile(line.astype(np.float32), (ROWS, 1)).T)
        before = surface.copy()
        smooth_lines(0, ROWS - 2, surface, links)
        np.testing.assert_allclose(surface, before, rtol=1e-6)
    # level mist stays level to the last bit
    flat = np.full((COLS, ROWS), np.float32(320.1))
    smooth_lines(0, ROWS - 2, flat, links)
    assert np.unique(flat).size == 1


def test_columns_side_by_side_are_each_smoothed_alone() -> None:
    """More of them than are solved at once, and parts of them, come to the same to the last bit."""
    rng, shape = np.random.default_rng(4), (9, 90)
    known = rng.random(shape) < 0.9
    floor = np.where(known, rng.uniform(0, 60, shape), np.nan).astype(np.float32)
    surface = rng.uniform(-50, 300, shape).astype(np.float32)
    links, whole, parts = Links(floor, known, 30.0, 9.0), surface.copy(), surface.copy()
    smooth_lines(0, 88, whole, links)
    for col in range(88):
        smooth_lines(col, col + 1, parts, links)
    np.testing.assert_array_equal(whole, parts)
    assert (whole != surface).any()
    np.testing.assert_array_equal(whole[:, [0, -1]], surface[:, [0, -1]])


def slow_run_on(top: NDArray, over: Onward) -> NDArray:
    """What comes from every cell to every other beside it, again and again until nothing rises."""
    lies, top, rose = ~np.isnan(top), top.copy(), True
    while rose:
        rose = False
        for cell in np.flatnonzero(~np.isnan(top)):
            for row_step, col_step in NEIGHBOURS:
                near = cell + row_step * over.cols + col_step
                loss = over.aslant if row_step and col_step else over.thinning
                ground, depth = over.ground[near], top[cell] - over.ground[cell]
                ways = [min(top[cell], ground + depth) - loss]
                if not lies[near] and not over.unclaimed[near]:
                    ways = [way for way in ways if way - ground >= over.thinnest]
                if over.unclaimed[near]:
                    ways.append(min(top[cell], ground + over.deepest))
                if lies[near]:
                    ways.append(top[cell] - loss - loss)
                best = max(ways, default=-np.inf)
                if over.known[near] and best > ground and not best <= top[near]:
                    top[near], rose = best, True
    return top


@pytest.mark.parametrize("seed", range(12))
def test_mist_runs_on_as_the_slow_twin_has_it(seed: int) -> None:
    rng, known = within_rim(seed)
    ground = np.where(known, rng.uniform(0, 40, known.shape), -1e5).astype(np.float32).ravel()
    known = known.ravel()
    lies = known & (rng.uniform(size=known.size) < 0.15)
    unclaimed = known & ~lies & (rng.uniform(size=known.size) < 0.3)
    top = np.where(lies, ground + rng.uniform(0.1, 25, known.size), np.nan).astype(np.float32)
    losses = (np.float32(value) for value in (3.0, 4.2426, 0.5, 12.0))
    over = Onward(ground, known, unclaimed, COLS, *losses)
    expected = slow_run_on(top, over)
    assert np.any(expected > np.nan_to_num(top, nan=-1e9))
    run_on(top, over)
    np.testing.assert_array_equal(top, expected)


def take_nearest(source: NDArray, floor: NDArray, rounds: int) -> None:
    off, lines = np.empty((2, ROWS, COLS), dtype=np.int32), np.empty((2, COLS), dtype=np.int64)
    within = source.reshape(ROWS, COLS), floor.reshape(ROWS, COLS)
    nearest_floors(*within, off, lines, rounds)


def slow_nearest(source: NDArray, floor: NDArray, rounds: int) -> NDArray:
    """Cell by cell, its own floor first, then that of the one beside, then of the row before."""
    found = source.copy()

    def squared(cell: int, at: int) -> int:
        (row, col), (at_row, at_col) = divmod(cell, COLS), divmod(at, COLS)
        return (row - at_row) ** 2 + (col - at_col) ** 2

    for turn in range(2 * rounds):
        sign = -1 if turn % 2 else 1
        for cell in range(COLS + 1, found.size - COLS - 1)[::sign]:
            for step in (-1, 1 - COLS, -COLS, -1 - COLS):
                near = cell + sign * step
                nearer = squared(cell, found[near]) < squared(cell, found[cell])
                if floor[near] < floor[cell] and found[near] >= 0 and (found[cell] < 0 or nearer):
                    found[cell] = found[near]
    return found


@pytest.mark.parametrize("levels", [3, 12, 99])
@pytest.mark.parametrize("seed", range(12))
def test_each_cell_takes_the_floors_of_those_before_it_in_their_order(
    seed: int, levels: int
) -> None:
    rng, known = within_rim(seed)
    floor = np.where(known, rng.integers(0, levels, known.shape), -1e5).astype(np.float32).ravel()
    # floors at random, so that many are as near as others
    source = np.where(
        known & (rng.random(known.shape) < 0.6), rng.integers(0, known.size, known.shape), -1
    )
    source = source.astype(np.int32).ravel()
    for rounds in (1, 2):
        found = source.copy()
        take_nearest(found, floor, rounds)
        np.testing.assert_array_equal(found, slow_nearest(source, floor, rounds))
        assert (found != source).any()


@pytest.mark.parametrize("seed", range(12))
def test_each_cell_belongs_to_a_floor_below_it_and_near(seed: int) -> None:
    rng, known = within_rim(seed)
    floor = np.where(known, rng.permutation(known.size).reshape(known.shape), -1e5)
    floor = floor.astype(np.float32).ravel()
    seeds = rng.choice(np.flatnonzero(known.ravel()), 4, replace=False)
    source = np.full(floor.size, -1, dtype=np.int32)
    source[seeds] = seeds
    # all floors from which a way only rises to a cell, found from below
    reach: dict[int, set[int]] = {}
    for cell in np.argsort(floor, kind="stable"):
        if known.ravel()[cell]:
            steps = (row * COLS + col for row, col in NEIGHBOURS)
            below = [cell + step for step in steps if floor[cell + step] < floor[cell]]
            reach[cell] = {int(cell)} & set(seeds.tolist())
            reach[cell] |= set().union(*(reach.get(near, set()) for near in below))
    take_nearest(source, floor, 10)
    for cell, floors in reach.items():
        assert (source[cell] == -1) == (not floors)
        assert not floors or int(source[cell]) in floors
        if cell in seeds:
            assert source[cell] == cell
    # once nothing more comes nearer, another round changes nothing
    settled = source.copy()
    take_nearest(settled, floor, 1)
    np.testing.assert_array_equal(settled, source)


@pytest.mark.parametrize("shape", [(2 * _STRIP + 3, 5), (5, 2 * _STRIP + 3), (1, 1)])
def test_a_raster_is_turned_whole(shape: tuple[int, int]) -> None:
    values = np.random.default_rng(1).random(shape).astype(np.float32)
    found = turned(values)
    np.testing.assert_array_equal(found, values.T)
    assert found.flags.c_contiguous
    assert not np.shares_memory(found, values)


@pytest.mark.parametrize("seed", range(12))
def test_level_cells_have_four_neighbours_as_high(seed: int) -> None:
    rng, known = within_rim(seed)
    known[:, [0, -1]] = True
    floor = rng.choice(
        np.array([10.0, 10.0005, 10.0005, 10.004]), known.shape, p=[0.1, 0.5, 0.3, 0.1]
    )
    floor = floor.astype(np.float32)
    expected = np.zeros(known.shape, dtype=bool)
    for row in range(1, ROWS - 1):
        for col in range(1, COLS - 1):
            beside = floor[[row - 1, row + 1, row, row], [col, col, col - 1, col + 1]]
            expected[row, col] = known[row, col] and np.abs(beside - floor[row, col]).max() < 1e-3
    flat = np.zeros(known.shape, dtype=bool)
    level_cells(1, ROWS - 1, floor, known, np.float32(1e-3), flat)
    np.testing.assert_array_equal(flat, expected)
    assert expected.any()


def test_a_cell_takes_height_and_top_of_its_own_floor() -> None:
    source = np.array([2, -1, 2, 0], dtype=np.int32)
    floor, top = np.float32([1, 2, 3, 4]), np.float32([10, 20, 30, 40])
    floor_of, top_of = np.zeros((2, 4), dtype=np.float32)
    of_sources(0, 4, source, floor, top, floor_of, top_of)
    np.testing.assert_array_equal(floor_of, np.float32([3, np.nan, 3, 1]))
    np.testing.assert_array_equal(top_of, np.float32([30, 0, 30, 10]))
