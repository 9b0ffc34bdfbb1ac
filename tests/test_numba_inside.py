"""What the package takes for granted of the insides of numba and llvmlite, and nothing else of it.

Two modules lean on names and behaviours that numba does not promise: `terrain.compiling` and
`terrain.sight._vector_kernels`; and kernels on `_nrt=False`. With the oldest and with the newest
numba allowed, run::

    pytest -o addopts= --noconftest tests/test_numba_inside.py

which needs numba, numpy, lazy-loader and pytest alone. What fails names what has changed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest
from numba.core import event

from terrain import compiling
from terrain.compiling import njit, on_first_compile
from terrain.sight._vector_kernels import pick, put, take


def doubled(height_m: float) -> float:
    return 2.0 * height_m


def test_compiled_code_goes_to_the_folder_configured_while_decorating(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, later = tmp_path / "asked", tmp_path / "later"
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(asked))
    kernel = numba.njit(cache=True, no_cfunc_wrapper=True)(doubled)
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(later))
    assert kernel(21.0) == 42.0
    assert list(asked.rglob("*.nbc")), "numba.config.CACHE_DIR is not read while decorating"
    assert not later.exists(), "numba.config.CACHE_DIR is read again when it compiles"


def test_a_listener_hears_of_the_first_call_and_not_of_the_second() -> None:
    heard: list[str] = []

    class Listener(event.Listener):
        def on_start(self, event: object) -> None:
            heard.append("start")

        def on_end(self, event: object) -> None:
            heard.append("end")

    listener = Listener()
    event.register("numba:compile", listener)
    try:
        kernel = numba.njit(doubled)
        assert heard == []
        kernel(1.0)
        assert heard[0] == "start", "no event numba:compile before a kernel is compiled"
        assert heard[-1] == "end"
        told = len(heard)
        kernel(2.0)
        assert len(heard) == told, "an event numba:compile where nothing is compiled"
    finally:
        event.unregister("numba:compile", listener)


def test_whoever_waits_for_the_first_compilation_is_told_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(compiling, "_is_first_here", lambda: True)
    told: list[str] = []
    with on_first_compile(lambda: told.append("compiling")):
        kernel = njit(cache=False, nogil=True)(doubled)
        kernel(1.0)
        kernel(np.float32(1.0))
    assert told == ["compiling"]


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
def test_what_is_to_be_compiled_ahead_may_wait_until_it_is_called() -> None:
    with compiling.compiled_when_called():
        told_ahead = numba.njit(["f8(f8)"], nogil=True)(doubled)
        plain = numba.njit(doubled)
    assert told_ahead.signatures == plain.signatures == []
    assert told_ahead.targetoptions["nogil"]
    assert told_ahead(21.0) == plain(21.0) == 42.0
    assert numba.njit("f8(f8)")(doubled).signatures, "others are not to wait"


def test_each_thing_compiled_is_counted() -> None:
    counted: list[str] = []
    with compiling.on_each_compile(lambda: counted.append("one")):
        kernel = njit(cache=False, nogil=True)(doubled)
        kernel(1.0)
        kernel(2.0)
    kernel(np.float32(1.0))
    assert counted == ([] if numba.config.DISABLE_JIT else ["one"])


@njit(cache=False)
def raise_all(source: np.ndarray, least: np.ndarray) -> None:
    for at in range(least.size):
        height, best = pick(source, np.int32(at)), take(least, at)
        put(least, at, height if height > best else best)


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_loads_and_stores_do_what_plain_indexing_does(dtype: Callable[..., Any]) -> None:
    source, least = np.array([3.0, 1.0, 7.0], dtype), np.array([2.0, 2.0, 9.0], dtype)
    raise_all(source, least)
    np.testing.assert_array_equal(least, [3.0, 2.0, 9.0])
    fixed = source.copy()
    fixed.flags.writeable = False
    raise_all(fixed, least)
    np.testing.assert_array_equal(least, [3.0, 2.0, 9.0])


@pytest.mark.skipif(bool(numba.config.DISABLE_JIT), reason="nothing is compiled")
def test_the_compiler_is_told_that_results_lie_apart_from_what_is_read() -> None:
    raise_all(np.ones(3, np.float32), np.ones(3, np.float32))
    for code in raise_all.inspect_llvm().values():
        assert "!noalias" in code, "a picked load has lost its mark"
        assert "!alias.scope" in code, "what is taken and put has lost its mark"
        assert '"terrain results"' in code


def highest(heights: np.ndarray, row: int) -> float:
    found = -np.inf
    for height in heights[row]:
        found = max(found, height)
    return found


def test_references_are_counted_unless_it_is_said_that_they_need_not_be() -> None:
    counting, plain = njit(cache=False)(highest), njit(cache=False, _nrt=False)(highest)
    heights = np.arange(12.0).reshape(3, 4)
    before = [sys.getrefcount(heights) for _ in range(2)]
    assert [kernel(heights, 1) for kernel in (counting, plain)] == [7.0, 7.0]
    assert [sys.getrefcount(heights) for _ in range(2)] == before
    if numba.config.DISABLE_JIT:
        return
    codes = [next(iter(kernel.inspect_llvm().values())) for kernel in (counting, plain)]
    assert ["NRT_decref" in code for code in codes] == [True, False], (
        "_nrt=False has lost its meaning"
    )
