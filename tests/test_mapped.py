"""What is laid out for other processes comes back as it was, and its arrays are not copied."""

from __future__ import annotations

import mmap
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.arrays import sealed
from terrain.ground.dem import Dem
from terrain.mapped import lay_out, read_laid_out
from terrain.mist.level import level_mist
from tests.conftest import MakeDem


def there_and_back(what: object, folder: Path) -> Any:
    lay_out(what, folder)
    return read_laid_out(folder)


def is_mapped(array: np.ndarray) -> bool:
    """Whether an array lies in a file."""
    owner: Any = array
    while isinstance(owner, np.ndarray) and owner.base is not None:
        owner = owner.base
    while isinstance(owner, memoryview):
        owner = owner.obj
    return isinstance(owner, mmap.mmap)


@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("dtype", [np.float32, np.float64, np.bool_, np.int32])
def test_large_arrays_are_mapped_as_they_were(order: Any, dtype: Any, tmp_path: Path) -> None:
    values = np.asarray(np.arange(30_000).reshape(100, 300) % 7, dtype=dtype, order=order)
    before = [values, sealed(values.copy(order="K")), np.ones(4097, dtype=np.int8), values * 1]
    after = there_and_back(before, tmp_path)
    assert all(map(is_mapped, after))
    for was, now in zip(before, after, strict=True):
        assert now.dtype == was.dtype
        assert np.array_equal(now, was)
        assert str(now.flags).replace("OWNDATA : False", "OWNDATA : True") == str(was.flags)
        assert now.ctypes.data % 64 == 0


def test_one_that_is_written_to_changes_for_no_other(tmp_path: Path) -> None:
    mine = there_and_back(np.zeros(10_000), tmp_path)
    mine[:] = 1.0
    assert read_laid_out(tmp_path).max() == 0.0


def test_small_empty_and_strange_arrays_come_back(tmp_path: Path) -> None:
    before = [np.arange(3), np.zeros((0, 5)), np.float32(2.0), np.arange(20_000)[::3], "no array"]
    for was, now in zip(before, there_and_back(before, tmp_path), strict=True):
        assert np.array_equal(now, was)
        assert type(now) is type(was)


def test_one_number_for_all_cells_stays_one_number(tmp_path: Path) -> None:
    after = there_and_back(np.broadcast_to(np.float32(250.0), (1000, 1000)), tmp_path)
    assert (after.shape, after.strides, after.flags.writeable) == ((1000, 1000), (0, 0), False)
    assert (after == np.float32(250.0)).all()
    assert sum(file.stat().st_size for file in tmp_path.iterdir()) < 1000


def test_ground_and_its_mist_lie_in_the_file(make_dem: MakeDem, tmp_path: Path) -> None:
    row, col = np.mgrid[:60, :80]
    dem = make_dem(np.hypot(row - 30.0, col - 40.0), lon=-3.0, lat=54.0)
    ground, mist = there_and_back((dem, level_mist(dem, 20.0)), tmp_path)
    assert isinstance(ground, Dem)
    assert ground.grid == dem.grid
    assert is_mapped(ground.heights_m)
    assert is_mapped(mist.top_m)
    assert not ground.heights_m.flags.writeable
    assert (tmp_path / "rest").stat().st_size < 10_000


def test_what_cannot_be_pickled_is_told(tmp_path: Path) -> None:
    with pytest.raises((pickle.PicklingError, AttributeError)):
        lay_out(lambda: None, tmp_path)
