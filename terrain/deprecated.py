"""How a public name or an argument goes: it works on for a version at least, and says so."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Callable
from typing import ParamSpec, TypeVar

Parameters = ParamSpec("Parameters")
Answer = TypeVar("Answer")


def warn_deprecated(what: str, *, removed_in: str, instead: str, above: int = 1) -> None:
    """Warn that something works on until a version.

    what: a name or an argument as a user writes it. removed_in: the version without it. instead:
    what to use. above: how many calls over the caller the line is that is told of.

    >>> with warnings.catch_warnings(record=True) as said:
    ...     warnings.simplefilter("always")
    ...     warn_deprecated("old_name", removed_in="2.0", instead="new_name")
    >>> str(said[0].message)
    'old_name is deprecated and goes in terrain 2.0: use new_name'
    """
    message = f"{what} is deprecated and goes in terrain {removed_in}: use {instead}"
    warnings.warn(message, DeprecationWarning, stacklevel=above + 2)


def deprecated(
    *, removed_in: str, instead: str
) -> Callable[[Callable[Parameters, Answer]], Callable[Parameters, Answer]]:
    """Mark a function that goes: each call warns at the line that makes it, and answers as ever."""

    def mark(function: Callable[Parameters, Answer]) -> Callable[Parameters, Answer]:
        @functools.wraps(function)
        def call(*args: Parameters.args, **named: Parameters.kwargs) -> Answer:
            warn_deprecated(function.__name__, removed_in=removed_in, instead=instead)
            return function(*args, **named)

        return call

    return mark
