"""The kernels run as plain Python, on arrays that refuse what compiled code would read unchecked.

A compiled kernel looks beyond the end of an array without a word, and plain indexing takes -1 for
the last. Within `plain_kernels` every kernel is the Python it is written in, and every array that
it is handed or makes is fenced: an index or a slice that leaves it raises IndexError.
"""

from __future__ import annotations

import operator
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numba.core.dispatcher import Dispatcher

from terrain.sight import _vector_kernels

INDEXING = {
    _vector_kernels.pick: operator.getitem,
    _vector_kernels.take: operator.getitem,
    _vector_kernels.put: operator.setitem,
}


class Fenced(np.ndarray):
    """An array without indices from the end and without slices beyond it."""

    def __getitem__(self, key: Any) -> Any:
        # numpy refuses by itself what lies beyond the last
        if type(key) is not int or key < 0:
            check(key, self.shape)
        return super().__getitem__(key)

    def __setitem__(self, key: Any, value: Any) -> None:
        check(key, self.shape)
        super().__setitem__(key, value)


WHOLE_NUMBERS = (int, np.integer)


def check(key: Any, shape: tuple[int, ...]) -> None:
    for part, size in zip(key if type(key) is tuple else (key,), shape, strict=False):
        if type(part) is int and part >= 0:
            continue
        if isinstance(part, slice):
            ends = [end for end in (part.start, part.stop) if end is not None]
            refused = any(not 0 <= end <= size for end in ends)
        else:
            refused = isinstance(part, WHOLE_NUMBERS) and part < 0
        if refused:
            raise IndexError(f"index {part} on an array of shape {shape}")


class FencedNumpy:
    """numpy as a kernel sees it: what it makes is fenced."""

    def __getattr__(self, name: str) -> Any:
        found = getattr(np, name)
        if name in ("empty", "zeros", "ones", "full", "arange"):
            found = made_fenced(found)
        setattr(self, name, found)  # asked for once
        return found


def made_fenced(make: Callable[..., np.ndarray]) -> Callable[..., Fenced]:
    return lambda *args, **options: make(*args, **options).view(Fenced)


AS_THEY_ARE = frozenset({float, int, bool, np.float64, np.float32, np.int64, Fenced})


def fence(value: Any) -> Any:
    """An array, or those in a named tuple that a kernel takes, fenced; all else as it is."""
    if type(value) in AS_THEY_ARE:
        return value
    if isinstance(value, np.ndarray):
        return value.view(Fenced)
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        parts = [fence(part) for part in value]
        return value if all(map(operator.is_, parts, value)) else type(value)(*parts)
    return value


def fenced(kernel: Dispatcher) -> Callable[..., Any]:
    plain = kernel.py_func

    @wraps(plain)
    def run(*args: Any, **named: Any) -> Any:
        fenced_names = {name: fence(value) for name, value in named.items()}
        return plain(*[fence(value) for value in args], **fenced_names)

    return run


def plain_names(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """What stands in a module for something compiled, and what is put in its place."""
    for name, value in list(vars(module).items()):
        if isinstance(value, Dispatcher):
            yield name, fenced(value)
        elif value is np and "_kernels" in module.__name__:
            yield name, FencedNumpy()
        elif callable(value) and any(value is known for known in INDEXING):
            yield name, INDEXING[value]


@contextmanager
def plain_kernels() -> Iterator[None]:
    """Every kernel of the package that has been imported is plain Python within the block."""
    with pytest.MonkeyPatch.context() as patch, np.errstate(all="ignore"):
        # what divides by zero is set aside on another thread
        patch.setattr("terrain.cores.cores", lambda: 1)
        for module_name, module in list(sys.modules.items()):
            if module_name.startswith("terrain."):
                for name, stand_in in plain_names(module):
                    patch.setattr(module, name, stand_in)
        yield
