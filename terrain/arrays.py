"""Arrays: what the kinds of them are called, and how every record keeps those it is given."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]
Labels = NDArray[np.int32]
Numbers = NDArray[np.int64]
Singles = NDArray[np.float32]
"""Of single precision: values for every cell of a raster."""

ZERO: Final = cast(int, np.int64(0))
ONE: Final = cast(int, np.int64(1))
"""For arguments of kernels: a number written down is a type of its own, for which numba compiles
once more."""

Array = TypeVar("Array", bound=NDArray[Any])
Record = TypeVar("Record")


def sealed(values: Array) -> Array:
    """The same array, which from now on cannot be written to."""
    values.flags.writeable = False
    return values


def frozen_arrays(*, copy: bool = True) -> Callable[[type[Record]], type[Record]]:
    """Seal the arrays of a dataclass when it is made, copied or pickled; stands below `dataclass`.

    copy: arrays that could still be written to are copied first. Without it they are shared with
    whoever made them, which is for large ones made for the record alone.

    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True, eq=False)
    ... @frozen_arrays()
    ... class Heights:
    ...     heights_m: NDArray[np.float64]
    >>> Heights(np.zeros(3)).heights_m.flags.writeable
    False
    """

    def decorate(record: type[Record]) -> type[Record]:
        check: Callable[[Any], None] = getattr(record, "__post_init__", lambda made: None)

        def post_init(made: Any) -> None:
            check(made)
            _seal_all(made, copy)

        def set_state(made: Any, state: dict[str, Any]) -> None:
            vars(made).update(state)
            _seal_all(made, copy=False)

        changed: Any = record
        changed.__post_init__, changed.__setstate__ = post_init, set_state
        return record

    return decorate


def _seal_all(made: Any, copy: bool) -> None:
    for name, values in vars(made).items():
        if isinstance(values, np.ndarray) and values.flags.writeable:
            own = values.copy(order="K") if copy else values.view()
            vars(made)[name] = sealed(own)
