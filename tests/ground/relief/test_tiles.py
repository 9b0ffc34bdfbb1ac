"""Summits of ground in tiles: to the cell those of the ground in one piece."""

from __future__ import annotations

import pickle
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rasterio
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from rasterio.windows import Window

from terrain.errors import TerrainError
from terrain.ground.raster.cuts import Cells
from terrain.ground.raster.parts import plan_parts
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summit_table import SummitCells, summit_cells
from terrain.ground.relief.summits import find_summits
from terrain.ground.relief.tiles import summits_of_parts, tree_of_part, tree_of_tile
from terrain.ground.relief.tops import tops_of
from terrain.ground.relief.trees import TopTree, joined_trees
from tests.conftest import MakeDem
from tests.ground.raster.test_parts import write
from tests.plain import plain_kernels

LEAST_M = 0.5

# few heights make plateaux, and passes of one height; many none
heights = st.one_of(
    st.integers(0, 3).map(float), st.integers(0, 9).map(float), st.just(float("nan"))
)
grounds = arrays.arrays(
    np.float32, st.tuples(st.integers(1, 12), st.integers(1, 12)), elements=heights
)


@st.composite
def cut_grounds(draw: st.DrawFn) -> tuple[np.ndarray, list[int], list[int]]:
    ground = draw(grounds)
    edges = [
        [0, *sorted(draw(st.sets(st.integers(1, size - 1), max_size=3))), size]
        if size > 1
        else [0, size]
        for size in ground.shape
    ]
    return ground, edges[0], edges[1]


def tree_of(ground: np.ndarray, own: Cells) -> TopTree:
    shared = ground[own.top : own.bottom + 1, own.left : own.right + 1]
    return tree_of_tile(shared, own, ground.shape, LEAST_M)


def trees_of(ground: np.ndarray, rows: list[int], cols: list[int]) -> list[TopTree]:
    return [
        tree_of(ground, Cells(top, left, bottom, right))
        for top, bottom in pairwise(rows)
        for left, right in pairwise(cols)
    ]


def in_one_piece(ground: np.ndarray) -> SummitCells:
    unit = np.ones(ground.shape[0])
    return summit_cells(tops_of(ground, unit, unit), ground, LEAST_M)


def assert_same(found: SummitCells, whole: SummitCells, *, but: tuple[str, ...] = ()) -> None:
    for name, values in vars(whole).items():
        if name not in but:
            np.testing.assert_array_equal(getattr(found, name), values, err_msg=name)


@settings(max_examples=150, deadline=None)
@given(cut=cut_grounds(), seed=st.integers(0, 9))
def test_tiles_give_what_one_piece_gives(
    cut: tuple[np.ndarray, list[int], list[int]], seed: int
) -> None:
    ground, rows, cols = cut
    trees = trees_of(ground, rows, cols)
    whole = in_one_piece(ground)
    tree = joined_trees(trees)
    assert tree.nodes.cell.size == 0
    known = tree.settled.middle >= 0
    assert_same(tree.settled, whole, but=("middle",))
    np.testing.assert_array_equal(tree.settled.middle[known], whole.middle[known])
    # whatever the order in which they are joined, and by whatever ways
    dice = np.random.default_rng(seed)
    while len(trees) > 1:
        first, second = dice.choice(len(trees), 2, replace=False)
        joined = joined_trees([trees[first], pickle.loads(pickle.dumps(trees[second]))])
        trees = [tree for at, tree in enumerate(trees) if at not in (first, second)] + [joined]
    assert_same(trees[0].settled, whole, but=("middle",))
    assert trees[0].nodes.cell.size == 0


@settings(max_examples=15, deadline=None)
@given(cut=cut_grounds())
def test_without_compiling_the_trees_are_the_same(
    cut: tuple[np.ndarray, list[int], list[int]],
) -> None:
    compiled = joined_trees(trees_of(*cut))
    with plain_kernels():
        plain = joined_trees(trees_of(*cut))
    assert_same(plain.settled, compiled.settled)


def test_lakeland_in_sixteen_tiles_is_lakeland_in_one_piece(open_data: Path) -> None:
    file = open_data / "lakeland_50m.tif"
    plan = plan_parts(file, side_m=20_000.0, margin_m=0.0)
    assert len(plan) == 16
    trees = [tree_of_part(part) for part in plan]
    whole = find_summits(read_dem(file))
    assert len(whole) > 300
    pd.testing.assert_frame_equal(summits_of_parts(trees, plan), whole, check_exact=True)
    # of 160 000 cells and 1600 at the edges of a tile no more is handed on than this
    assert max(len(pickle.dumps(tree)) for tree in trees) < 100_000


def cut_of(file: Path, cut: Path, window: Window) -> Path:
    """A window of a raster that lies north up, as it is, in a file of its own."""
    with rasterio.open(file) as raster:
        width, _, west, _, depth, north = raster.transform[:6]
        west, north = west + width * window.col_off, north + depth * window.row_off
        placing = {"crs": raster.crs, "transform": Affine(width, 0, west, 0, depth, north)}
        shape = {"count": 1, "height": window.height, "width": window.width}
        with rasterio.open(cut, "w", dtype="int16", **placing, **shape) as part:
            part.write(raster.read(1, window=window), 1)
    return cut


def test_ground_in_degrees_and_whole_metres_is_the_same_in_tiles(
    open_data: Path, tmp_path: Path
) -> None:
    """Of two neighbours in degrees, what lies about the border between them."""
    files = [
        cut_of(open_data / name, tmp_path / f"{first}.tif", Window(400, first, 500, 301))
        for name, first in (("N49E011.hgt.zip", 0), ("N50E011.hgt.zip", 900))
    ]
    plan = plan_parts(files, side_m=12_000.0, margin_m=0.0)
    assert len(plan) == 15
    trees = [tree_of_part(part, min_prominence_m=20.0) for part in plan]
    whole = find_summits(read_dem(files), min_prominence_m=20.0)
    assert len(whole) > 60
    found = summits_of_parts([joined_trees(trees[::2]), *trees[1::2]], plan)
    pd.testing.assert_frame_equal(found, whole, check_exact=True)


def test_a_flat_top_across_tiles_has_one_middle(make_dem: MakeDem, tmp_path: Path) -> None:
    heights = np.zeros((60, 80))
    heights[10:50, 20:61] = 50.0
    dem = make_dem(heights)
    plan = plan_parts(write(dem, tmp_path / "table.tif"), side_m=2_000.0, margin_m=0.0)
    assert len(plan) == 4
    found = summits_of_parts([tree_of_part(part) for part in plan], plan)
    pd.testing.assert_frame_equal(found, find_summits(dem), check_exact=True)
    (at,) = (dem.grid.cell_of(place.x, place.y) for place in found.geometry)
    assert at == (29, 40)


def test_trees_that_do_not_fit(make_dem: MakeDem, tmp_path: Path) -> None:
    ground = np.random.default_rng(1).uniform(0.0, 90.0, (60, 80))
    plan = plan_parts(write(make_dem(ground), tmp_path / "a.tif"), side_m=2e3, margin_m=0.0)
    trees = [tree_of_part(part) for part in plan]
    with pytest.raises(ValueError, match="some parts are missing"):
        summits_of_parts(trees[1:], plan)
    with pytest.raises(ValueError, match="different prominence"):
        joined_trees([trees[0], tree_of_part(plan.part(2), min_prominence_m=10.0)])
    with pytest.raises(TerrainError, match="give more than 0"):
        tree_of_part(plan.part(1), min_prominence_m=0.0)
