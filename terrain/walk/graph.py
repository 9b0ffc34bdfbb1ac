"""Steps between the nodes of a net, as the graph in which the quickest way is sought."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from scipy.sparse import csr_array

from terrain.arrays import Floats, Numbers

Steps = tuple[Numbers, Numbers, Floats]
"""From, to, seconds."""

_BAND: Final = 8192
"""So many nodes' steps are sorted into the graph in the processor's cache (measured)."""


def quickest(steps: Sequence[Steps], count: int) -> Steps:
    """Each pair of nodes once, with the quickest of its steps."""
    first, second, seconds = (np.concatenate(parts) for parts in zip(*steps, strict=True))
    number = step_numbers(first, second, count)
    order = np.lexsort((seconds, number))
    kept = order[np.unique(number[order], return_index=True)[1]]
    return first[kept], second[kept], seconds[kept]


def graph_of(over: list[Steps], near: Steps, count: int) -> csr_array[np.float64]:
    """The steps as a graph; over: each from nodes in order, and all in the order of where to."""
    first, second, seconds = zip(*_in_bands(over, count), near, strict=True)
    pairs = (
        np.concatenate(ends, dtype=index_of(count), casting="same_kind") for ends in (first, second)
    )
    return csr_array((np.concatenate(seconds), tuple(pairs)), shape=(count, count))


def _in_bands(over: list[Steps], count: int) -> Iterator[Steps]:
    """The same steps, cut so that those from nodes near one another follow one another."""
    begins = np.arange(0, count, _BAND)
    cuts = [np.append(np.searchsorted(first, begins), first.size) for first, _, _ in over]
    for band in range(begins.size):
        for (first, second, seconds), cut in zip(over, cuts, strict=True):
            part = slice(cut[band], cut[band + 1])
            yield first[part], second[part], seconds[part]


def index_of(count: int) -> type[np.signedinteger]:
    """The smaller numbers by which so many nodes can be told apart: half the work of sorting."""
    return np.int32 if count < np.iinfo(np.int32).max else np.int64


def step_numbers(first: Numbers, second: Numbers, count: int) -> Numbers:
    """A number for each step from one of so many nodes to another."""
    return first * count + second
